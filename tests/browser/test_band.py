"""The band of page words on a phone: every word in sight and within reach of a thumb, none to be scrolled to."""

LEAST_TARGET_PX = 44


def test_every_word_of_the_band_is_in_sight_on_a_phone(arrive, people):
    page = arrive("phone").sign_in(people["proprietor"]).go("/")
    words = page.locator(".band-words a")
    assert words.all_inner_texts() == [
        *("Today", "Gate", "Benches", "Trees", "Weather", "People", "Money", "Rates", "Audit trail")
    ]
    boxes = [word.bounding_box() for word in words.all()]
    assert all(box["x"] >= 0 and box["x"] + box["width"] <= 390 for box in boxes)
    assert min(box["height"] for box in boxes) >= LEAST_TARGET_PX
    assert len({box["y"] for box in boxes}) == 2
    wide = "e => e.scrollWidth > e.clientWidth"
    assert not page.locator(".band-words ul").evaluate(wide)
    assert not page.locator("html").evaluate(wide)
