"""What the list of work may be narrowed by; kept in the address."""

import datetime as dt
from typing import Any, cast

from django import forms
from django.db.models import Q, QuerySet

from boarding.querysets import midnight
from care.models import TimeEntry
from nursery import querysets
from nursery.forms.fields import DayField, PlainForm
from nursery.models import Person
from nursery.permissions import DESK

STATES = [
    ("", "all"),
    ("to_confirm", "to be confirmed"),
    ("running", "running"),
    ("later", "written later"),
    ("struck_out", "struck out"),
]
QUESTIONS = {
    "to_confirm": Q(confirmed_at=None, struck_out_at=None)
    & (Q(stopped_at__isnull=False) | Q(doubtful_at__isnull=False)),
    "running": Q(stopped_at=None, struck_out_at=None),
    "later": Q(source=TimeEntry.Source.WRITTEN),
    "struck_out": Q(struck_out_at__isnull=False),
}


class EntryFilter(PlainForm):
    """Who, from when, until when, in what state."""

    person = forms.ModelChoiceField(queryset=Person.objects.none(), required=False, empty_label="everybody")
    since = DayField(label="From", required=False)
    until = DayField(label="Until", required=False)
    state = forms.ChoiceField(choices=STATES, required=False)

    def __init__(self, *args: Any, viewer: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        people = querysets.people_at_work()
        mine = people if viewer.role in DESK else people.filter(pk=viewer.pk)
        cast(forms.ModelChoiceField, self.fields["person"]).queryset = mine

    def narrowed(self, rows: QuerySet[TimeEntry]) -> QuerySet[TimeEntry]:
        """The rows asked for; what was typed wrongly narrows nothing and is said at its field."""
        self.is_valid()
        told = self.cleaned_data
        if told.get("person"):
            rows = rows.filter(person=told["person"])
        if told.get("since"):
            rows = rows.filter(started_at__gte=midnight(told["since"]))
        if told.get("until"):
            rows = rows.filter(started_at__lt=midnight(told["until"] + dt.timedelta(days=1)))
        return rows.filter(QUESTIONS.get(told.get("state") or "", Q()))
