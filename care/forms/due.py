"""What is due: written by hand, put off, fallen away; and the rule of re-treatment."""

import datetime as dt
from typing import Any

from django import forms

from care.forms.fields import ActivityField, TagField, offer_activities
from nursery.forms.fields import DayField, PlainForm, TypedNumberField


class DueForm(PlainForm):
    """Something to be done for a tree by a day."""

    tag = TagField()
    what = forms.CharField(label="What is to be done?", max_length=120)
    due_on = DayField(label="By when?")
    why = forms.CharField(label="Why?", max_length=200, required=False)


class PutOffForm(PlainForm):
    """A later day, and the reason."""

    to = DayField(label="Put off to")
    why = forms.CharField(label="Why?", max_length=200)


class FallAwayForm(PlainForm):
    """Why it is no longer to be done."""

    why = forms.CharField(label="Why is it no longer to be done?", max_length=200)


class RetreatmentForm(PlainForm):
    """Treat again so many days after each treatment."""

    activity = ActivityField(label="Which treatment?")
    days = TypedNumberField(
        label="Again after how many days?",
        places=0,
        help_text="The label and the time of the hatch come first; this only reminds.",
    )

    def __init__(self, *args: Any, day: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer_activities(self, day, treatments=True)
