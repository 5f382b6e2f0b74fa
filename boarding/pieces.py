"""What boarding puts into slots of the pages below it: the terms among the first steps."""

import datetime as dt

from boarding import querysets
from nursery import slots
from nursery.models import Person
from nursery.overviews import FIRST_STEPS, FirstStep


def terms_step(subject: None, day: dt.date, viewer: Person | None) -> slots.Piece:
    """Whether there are terms of keeping to sign at the gate."""
    terms = querysets.terms_on(day)
    state = "No terms of keeping yet; every customer signs them at the gate."
    if terms:
        state = f"{terms}, sample text: have it approved by a lawyer." if terms.is_sample else f"{terms}."
    step = FirstStep("Under which terms?", terms is not None, state, "terms", "Write the terms of keeping")
    return slots.Piece("nursery/pieces/first_step.html", step)


slots.fill(FIRST_STEPS, terms_step)
