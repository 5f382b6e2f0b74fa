"""Work written down later, set right, confirmed, cut, given to another tree, not charged, struck out."""

import datetime as dt
import uuid
from typing import Any, cast

from django import forms

from care.forms.fields import (
    ActivityField,
    SpanFields,
    TagField,
    TurnField,
    WallTimeField,
    instant_of,
    offer_activities,
)
from care.models import TimeEntry
from nursery import clock, querysets
from nursery.forms.fields import DayField, PlainForm, TypedNumberField
from nursery.models import Person
from nursery.permissions import DESK


class WhyForm(PlainForm):
    """A reason, as every correction needs one."""

    why = forms.CharField(label="Why?", max_length=200)


class WriteLaterForm(SpanFields, WhyForm):
    """Work from memory."""

    person = forms.ModelChoiceField(queryset=Person.objects.none(), label="Who did it?")
    tag = TagField()
    activity = ActivityField()
    note = forms.CharField(label="Note", max_length=200, required=False)
    client_id = forms.UUIDField(widget=forms.HiddenInput())
    field_order = (
        "person",
        "tag",
        "activity",
        "on",
        "started",
        "started_turn",
        "stopped",
        "stopped_turn",
        "stopped_on",
        "why",
    )

    def __init__(self, *args: Any, viewer: Person, day: dt.date, **kwargs: Any) -> None:
        start = {"person": viewer.pk, "on": day, "client_id": uuid.uuid4()}
        kwargs["initial"] = start | (kwargs.get("initial") or {})
        super().__init__(*args, **kwargs)
        people = querysets.people_at_work()
        mine = people if viewer.role in DESK else people.filter(pk=viewer.pk)
        cast("forms.ModelChoiceField[Person]", self.fields["person"]).queryset = mine
        self.fields["why"].label = "Why was it not measured?"
        offer_activities(self, day)


class CorrectForm(SpanFields, WhyForm):
    """The right times and kind of work of an entry."""

    activity = ActivityField()

    def __init__(self, *args: Any, entry: TimeEntry, **kwargs: Any) -> None:
        kwargs["initial"] = _as_it_is(entry) | (kwargs.get("initial") or {})
        super().__init__(*args, **kwargs)
        self.shown = (entry.started_at, entry.stopped_at)
        offer_activities(self, clock.day_of(entry.started_at))


class ConfirmForm(PlainForm):
    """The end of a doubtful clock in a person's words; for other work nothing but the press."""

    on = DayField(label="Ended on")
    stopped = WallTimeField(label="Ended at")
    stopped_turn = TurnField()

    def __init__(self, *args: Any, proposed: dt.datetime, **kwargs: Any) -> None:
        local = clock.local(proposed)
        kwargs["initial"] = {"on": local.date(), "stopped": local.time()} | (kwargs.get("initial") or {})
        super().__init__(*args, **kwargs)
        self.proposed = proposed

    def clean(self) -> dict[str, Any]:
        """With `stopped_at`."""
        told = super().clean() or {}
        told["stopped_at"] = instant_of(self, "stopped", told.get("on"), self.proposed)
        return told


class CutForm(WhyForm):
    """Where the work is cut, and whose the second part is."""

    cut = WallTimeField(label="Cut at")
    cut_turn = TurnField()
    tag = TagField(label="Tag of the tree the second part was done on", required=False)
    activity = ActivityField(label="Kind of work of the second part", required=False)
    field_order = ("cut", "cut_turn", "tag", "activity", "why")

    def __init__(self, *args: Any, entry: TimeEntry, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.entry = entry
        offer_activities(self, clock.day_of(entry.started_at))

    def clean(self) -> dict[str, Any]:
        """With `cut_at`, on the day of the start, or the day after when the work went past midnight."""
        told = super().clean() or {}
        start = clock.local(self.entry.started_at)
        at = told.get("cut")
        later = at is not None and at < start.time()
        told["cut_at"] = instant_of(self, "cut", start.date() + dt.timedelta(days=1 if later else 0))
        return told


class ReassignForm(WhyForm):
    """The tree it was really done on."""

    tag = TagField(label="Tag of the right tree")
    field_order = ("tag", "why")


class NotChargeForm(WhyForm):
    """How many minutes are not charged."""

    minutes = TypedNumberField(label="Minutes not charged", places=0, least=0)
    field_order = ("minutes", "why")


def _as_it_is(entry: TimeEntry) -> dict[str, Any]:
    start, stop = clock.local(entry.started_at), clock.local(entry.stopped_at or entry.started_at)
    return {
        "on": start.date(),
        "started": start.time(),
        "started_turn": str(start.fold) if start.fold else "",
        "stopped": stop.time(),
        "stopped_turn": str(stop.fold) if stop.fold else "",
        "stopped_on": stop.date() if stop.date() != start.date() else None,
        "activity": entry.activity_id,
    }
