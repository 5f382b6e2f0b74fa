"""What is written down about a tree that nobody fetches."""

import datetime as dt
from typing import Any

from django import forms

from boarding.forms.typed import lines
from boarding.models import CollectionNotice
from boarding.uncollected import Step, least_last_day
from nursery.forms.fields import DayField, PlainForm


class NoticeForm(PlainForm):
    """The next notice; the registered one offers no other way, the final one asks for its last day."""

    sent_on = DayField(label="Sent on")
    way = forms.ChoiceField(label="How", choices=CollectionNotice.Way.choices, widget=forms.RadioSelect)
    last_on = DayField(label="Last day to collect", help_text="It is printed at the end of the notice.")
    wording = forms.CharField(label="What it says", widget=lines(10))

    def __init__(self, *args: Any, step: Step, today: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["sent_on"].initial = today
        way = self.fields["way"]
        assert isinstance(way, forms.ChoiceField)
        way.initial = CollectionNotice.Way.EMAIL.value
        if step.registered:
            way.choices, way.initial = [_REGISTERED], _REGISTERED[0]
        if step.final:
            self.fields["last_on"].initial = least_last_day(today)
        else:
            del self.fields["last_on"]


_REGISTERED = (CollectionNotice.Way.REGISTERED.value, CollectionNotice.Way.REGISTERED.label)


class DisposeUnderNoticeForm(PlainForm):
    reason = forms.CharField(label="Why, and what becomes of the tree?", max_length=300, widget=lines(2))
    advised = forms.BooleanField(
        label="The signed terms allow it, the law of the place was followed, and a lawyer was asked first",
        required=False,
    )
