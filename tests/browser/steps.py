"""What people do on the pages, by the words they read there. One function a step of the trade."""

import io
import re
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager

from PIL import Image, ImageDraw
from playwright.sync_api import Locator, Page, expect

PARTS = ("roots", "trunk", "branches", "twigs", "foliage", "soil", "drainage", "pot", "stand")
MEANS = ("brush", "jet", "soap", "oil", "contact", "systemic", "pruning", "beneficials")
ANGLES = ("front", "right", "back", "left", "top", "trunk", "pot", "worst")


def photo(words: str = "front", size: tuple[int, int] = (1200, 900)) -> dict[str, object]:
    """A drawn JPEG for a file input, different for different words."""
    picture = Image.new("RGB", size, "#8fa98a")
    ImageDraw.Draw(picture).text((40, 40), words, fill="#22302B")
    out = io.BytesIO()
    picture.save(out, "JPEG")
    return {"name": f"{words}.jpg", "mimeType": "image/jpeg", "buffer": out.getvalue()}


_manner = "once"


@contextmanager
def _in_manner(manner: str) -> Iterator[None]:
    global _manner
    before, _manner = _manner, manner
    try:
        yield
    finally:
        _manner = before


def twice() -> AbstractContextManager[None]:
    """Within: every button is double-clicked."""
    return _in_manner("twice")


def going_back() -> AbstractContextManager[None]:
    """Within: after every button one goes back and presses it again."""
    return _in_manner("going back")


def press(page: Page, words: str) -> None:
    """Press the button with these words (their beginning)."""
    pressed(page, page.get_by_role("button", name=re.compile(f"^{re.escape(words)}")).first)


def send_form(page: Page) -> None:
    """Press the first button of the page's form."""
    pressed(page, page.locator("main form button[type=submit]").first)


def back(page: Page) -> None:
    """The back button. A page kept in memory loads nothing anew, so only its address is waited for."""
    page.wait_for_load_state()
    page.go_back(wait_until="commit")


def pressed(page: Page, button: Locator) -> None:
    if _manner == "twice":
        button.dblclick(no_wait_after=True)
        return
    came_from = page.url
    button.click()
    if _manner == "going back":
        page.wait_for_url(lambda url: url != came_from)
        back(page)
        button.click()
        page.wait_for_url(lambda url: url != came_from)


def choose(page: Page, name: str, value: str) -> None:
    """Choose one of several answers."""
    page.locator(f"input[name={name}][value='{value}']").check()


def heading(page: Page, words: str) -> None:
    """Wait for the page that asks this."""
    expect(page.get_by_role("heading", level=1)).to_contain_text(words)


def receive(page: Page) -> None:
    """Somebody stands at the gate."""
    page.goto("/gate/")
    press(page, "Receive a tree")
    heading(page, "Who brings it?")


def new_customer(page: Page, name: str) -> None:
    page.get_by_role("link", name="Write down a new customer").click()
    choose(page, "kind", "private")
    page.locator("[name=name]").fill(name)
    page.get_by_text("Address and e-mail, for the bill").click()
    page.locator("[name=street]").fill("Harbour Road 12")
    page.locator("[name=town]").fill("Rathcoran")
    send_form(page)
    heading(page, "Which trees?")


def new_tree(page: Page, words: str, size_class: int) -> None:
    page.get_by_role("link", name="Write down a new tree").click()
    page.locator("[name=described_as]").fill(words)
    choose(page, "size_class", str(size_class))
    send_form(page)
    page.get_by_role("link", name=re.compile("^Go on with")).click()


def agree(page: Page, collector: str = "", out_on: str = "") -> None:
    heading(page, "What is agreed?")
    page.locator("[name=collector_name]").fill(collector)
    if out_on:
        page.locator("[name=expected_out_on]").fill(out_on)
    choose(page, "other_plants", "inspected")
    press(page, "Keep and go on")


def allow_all_means(page: Page) -> None:
    heading(page, "What may be done to it?")
    for means in MEANS:
        choose(page, means, "yes")
    press(page, "Keep and go on")


def grade_all(page: Page, button: str, grade: str = "0") -> None:
    for part in PARTS:
        choose(page, f"grade_{part}", grade)
    press(page, button)


def count(page: Page, twigs: int, live: int = 0, dead: int = 0) -> None:
    """Write down a look: of so many twigs, what was alive and dead."""
    page.locator("[name=twigs]").fill(str(twigs))
    if live:
        page.locator("[name=live_adult]").fill(str(live))
    if dead:
        page.locator("[name=dead_adult]").fill(str(dead))
    press(page, "Write down this look")


def take_photos(page: Page, angles: tuple[str, ...]) -> None:
    """One after the other through the file input, as the camera gives them."""
    for angle in angles:
        page.goto(f"{page.url.partition('?')[0]}?angle={angle}")
        page.locator("input[type=file]").set_input_files(photo(angle))
        press(page, "Keep this photo")
        page.wait_for_url(re.compile(f"angle=(?!{angle})|/photos/\\d+/$"))


def draw_signature(page: Page) -> None:
    canvas = page.locator(".signature canvas")
    canvas.scroll_into_view_if_needed()
    box = canvas.bounding_box()
    assert box
    page.mouse.move(box["x"] + 40, box["y"] + 80)
    page.mouse.down()
    for step in range(1, 8):
        page.mouse.move(box["x"] + 40 + 25 * step, box["y"] + 80 - 30 * (step % 2))
    page.mouse.up()
    expect(page.locator(".signature input[type=hidden]")).to_have_value(re.compile("^data:image/png"))


def check_in(
    page: Page, customer: str, tree: str, size_class: int = 2, angles: tuple[str, ...] = ANGLES
) -> None:
    """The whole check-in of an infested tree into isolation, to the receipt."""
    receive(page)
    new_customer(page, customer)
    new_tree(page, tree, size_class)
    agree(page, collector="Aidan Brackenridge", out_on="2026-06-29")
    allow_all_means(page)
    heading(page, "In what state is it?")
    grade_all(page, "Keep and go on")
    heading(page, "What lives on it?")
    count(page, twigs=60, live=14)
    heading(page, "How does it look?")
    take_photos(page, angles)
    page.get_by_role("link", name=re.compile("^Go on")).first.click()
    heading(page, "Where does it stand?")
    choose(page, "isolation", "yes")
    press(page, "Put it there")
    heading(page, "Read and sign")
    draw_signature(page)
    press(page, "Sign, and take")
    heading(page, "What goes home with the customer?")


def start_clock(page: Page, tag: str, activity: str) -> None:
    page.goto("/clock/")
    page.locator("[name=scan]").fill(tag)
    press(page, "Go")
    heading(page, "What will you do?")
    press(page, activity)
    heading(page, activity)


def change_to(page: Page, activity: str) -> None:
    press(page, activity)
    heading(page, activity)


def hold_to_stop(page: Page) -> None:
    """Water drops press buttons; only a finger that stays does."""
    button = page.locator("[data-hold]")
    button.scroll_into_view_if_needed()
    box = button.bounding_box()
    assert box
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.down()
    expect(page.get_by_text("Stopped.")).to_be_visible()
    page.mouse.up()


def move(page: Page, tree: int, bench: str) -> None:
    page.goto(f"/trees/{tree}/move/")
    if not (choice := page.get_by_role("radio", name=re.compile(bench))).is_visible():
        page.locator("details summary").first.click()
    choice.check()
    send_form(page)
