"""Every page, read by the proprietor on the phone by day and at the desk by night.

Axe (axe-core: WCAG 2.2 A and AA with target size, success criterion 2.5.8, and its best practices) finds nothing;
nothing is wider than a phone, and no word in the margin of a list is broken; what is touched at the bench is at least
64 px (our own rule, for wet gloves); scripts of a page stay within 40 kB compressed (our own rule).
"""

import zlib

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from invoicing.models import Invoice
from tests.small_house import DAY, small_house

AXE = Axe()
PHONE_WIDTH = 390
MOST_SCRIPT_BYTES = 40 * 1024
RULES = {"resultTypes": ["violations"], "rules": {"target-size": {"enabled": True}}}
BENCH_PX = 64
TOO_SMALL = """
least => [...document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary")]
  .map(one => [one, (one.closest("label") || one).getBoundingClientRect()])
  .filter(([one, box]) => one.checkVisibility() && box.width > 1 && box.height > 1 && box.bottom > 0 && box.right > 0)
  .filter(([one, box]) => Math.round(box.width) < least || Math.round(box.height) < least)
  .map(([one, box]) => `${one.outerHTML.slice(0, 90)} ${Math.round(box.width)} x ${Math.round(box.height)}`)
"""

BROKEN_WORDS = """
() => [...document.querySelectorAll(".daybook > li > :first-child")].flatMap(margin => {
  const broken = [], range = document.createRange(), texts = document.createTreeWalker(margin, NodeFilter.SHOW_TEXT);
  while (texts.nextNode()) for (const word of texts.currentNode.textContent.matchAll(/\\S+/g)) {
    range.setStart(texts.currentNode, word.index);
    range.setEnd(texts.currentNode, word.index + word[0].length);
    if (new Set([...range.getClientRects()].map(box => Math.round(box.top))).size > 1) broken.push(word[0]);
  }
  return broken;
})
"""


def named(patterns, before=""):
    for found in patterns:
        if isinstance(found, URLResolver):
            if found.app_name != "admin":
                yield from named(found.url_patterns, before + str(found.pattern))
        elif isinstance(found, URLPattern):
            yield found.name, (found, before + str(found.pattern))


ADDRESSES = dict(named(get_resolver().url_patterns))


def addresses_of(house):
    """Every address, and every tree and stay in each of its states."""
    for name, (pattern, route) in ADDRESSES.items():
        arguments = house.arguments(route, set(pattern.pattern.converters))
        yield reverse(name, kwargs=arguments) + house.questions.get(name, "")
    for issued in Invoice.objects.exclude(issued_at=None):
        yield reverse("invoice", args=[issued.pk])
        yield reverse("invoice_credit", args=[issued.pk])
    for stay in house.stays.values():
        yield reverse("stay", args=[stay.pk])
        yield reverse("tree", args=[stay.tree_id])
        yield reverse("handback", args=[stay.pk])


def is_page(visitor, address):
    """Not a file, a piece of a page, a way on to another page, or a verb, which is pressed and never read."""
    answer = visitor.context.request.get(visitor.address + address, max_redirects=0)
    assert answer.status in (200, 302, 405, 410), f"{address}: {answer.status}"
    readable = answer.status in (200, 410) and answer.headers["content-type"].startswith("text/html")
    return readable and answer.text().lstrip().lower().startswith("<!doctype html")


@pytest.fixture
def house(transactional_db, wall_clock):
    wall_clock.set(DAY.isoformat(), "11:00")
    return small_house()


def troubles_of(page, device):
    """What is wrong with the page in front of us."""
    found = [
        f"axe: {broken['id']} {node['target']} {node['html'][:140]}"
        for broken in AXE.run(page, options=RULES).response["violations"]
        for node in broken["nodes"]
    ]
    if device == "phone":
        wide = page.evaluate("document.documentElement.scrollWidth")
        found += [f"{wide} px wide"] if wide > PHONE_WIDTH else []
        found += [f"word broken in a margin: {word}" for word in page.evaluate(BROKEN_WORDS)]
        if page.evaluate("document.body.classList.contains('bench')"):
            found += [f"small: {one}" for one in page.evaluate(TOO_SMALL, BENCH_PX)]
    return found


@pytest.mark.parametrize("device", ["phone", "desk"])
def test_nothing_is_wrong_with_any_page(device, arrive, house):
    visitor = arrive(device).sign_in(house.people["proprietor"])
    visitor.expects(410)  # a link to choose a password that is too old
    troubles, read = [], 0
    for address in addresses_of(house):
        if is_page(visitor, address):
            read += 1
            visitor.go(address)
            troubles += [f"{address} {trouble}" for trouble in troubles_of(visitor.page, device)]
    assert not troubles, "\n".join(troubles)
    assert read > 80


def test_no_page_carries_more_script_than_its_share(arrive, house):
    visitor = arrive("phone").sign_in(house.people["proprietor"])
    sizes: dict[str, int] = {}
    heavy = []

    def weigh(answer):
        if answer.request.resource_type == "script":
            sizes[answer.url] = len(zlib.compress(answer.body(), 9))

    visitor.page.on("response", weigh)
    for address in ("/", "/clock/", "/gate/", "/trees/", "/benches/", "/money/"):
        sizes.clear()
        visitor.go(address)
        visitor.page.wait_for_load_state("networkidle")
        if sum(sizes.values()) > MOST_SCRIPT_BYTES:
            heavy.append(f"{address} {sizes}")
    assert heavy == []
