"""Ledgers at the desk and on the phone: figures near their words, every word with the room it needs."""

WORK, FIXED = "Labour prices", "Fixed rates and percentages"
FITS = "e => e.scrollWidth <= e.clientWidth"


def boxes(page):
    """The two short ledgers of the rate card."""
    groups = [page.get_by_role("group", name=name, exact=True) for name in (WORK, FIXED)]
    assert all(group.evaluate(FITS) for group in groups)
    return [group.locator("table").bounding_box() for group in groups]


def test_short_ledgers_stand_beside_each_other_at_the_desk(arrive, people):
    page = arrive("desk").sign_in(people["proprietor"]).go("/rates/")
    work, fixed = boxes(page)
    assert work["y"] == fixed["y"]
    assert work["x"] + work["width"] < fixed["x"]
    assert max(work["width"], fixed["width"]) < 640
    row = page.get_by_role("rowheader", name="Winter place begun after 31 December, per cent of the flat")
    assert row.bounding_box()["height"] < 50  # one line


def test_short_ledgers_stand_under_each_other_on_a_phone(arrive, people):
    page = arrive("phone").sign_in(people["proprietor"]).go("/rates/")
    work, fixed = boxes(page)
    assert work["y"] + work["height"] < fixed["y"]
    assert work["width"] <= 358


def test_the_three_sums_stand_near_their_words(arrive, people):
    page = arrive("desk").sign_in(people["proprietor"]).go("/money/")
    assert page.get_by_role("group", name="The three sums").locator("table").bounding_box()["width"] < 710
