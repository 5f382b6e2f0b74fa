"""Fields of care: a tree by its tag, a time on the wall that may have happened twice, a kind of work."""

import datetime as dt
from typing import Any, cast

from django import forms

from care import querysets
from care.models import Activity
from nursery import clock, finding, periods, tag_codes
from nursery.forms.fields import TIME_INPUT, DayField, PlainForm
from nursery.models import Nursery, Tag, Tree

TURNS = [("0", "the first time"), ("1", "the second time")]


def tree_by_tag(text: str) -> Tree:
    """The tree that bears the tag typed or scanned; a sentence as ValidationError otherwise."""
    try:
        code = tag_codes.read(text, Nursery.here().tag_prefix)
    except tag_codes.TagUnreadable as unreadable:
        raise forms.ValidationError(unreadable.sentence) from unreadable
    tag = Tag.objects.filter(code=code).select_related("tree").first()
    if tag is None:
        raise forms.ValidationError(finding.unknown_tag(code))
    if tag.retired_at is not None:
        live = Tag.objects.filter(tree=tag.tree, retired_at=None).first()
        raise forms.ValidationError(finding.retired_tag(tag, live))
    return tag.tree


class TagField(forms.CharField):
    """A tag, typed or scanned; gives the tree."""

    default_error_messages = {"required": "Scan or type the tag, for example 0412."}  # noqa: RUF012  # as the framework has it

    def __init__(self, **kwargs: Any) -> None:
        attrs = {"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}
        kwargs.setdefault("widget", forms.TextInput(attrs=attrs))
        kwargs.setdefault("label", "Tag of the tree")
        super().__init__(**kwargs)

    def clean(self, value: Any) -> Any:
        """The tree, None for an empty field that may stay empty."""
        text = super().clean(value)
        return tree_by_tag(text) if text else None


class ActivityField(forms.ModelChoiceField):
    """A kind of work in use today."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("label", "What was done?")
        super().__init__(queryset=Activity.objects.none(), **kwargs)


def offer_activities(form: forms.Form, day: dt.date, *, treatments: bool = False) -> None:
    """Let the form's `activity` choose among what is in use on the day."""
    offered = querysets.activities_on(day)
    chosen = offered.filter(is_treatment=True) if treatments else offered
    cast(ActivityField, form.fields["activity"]).queryset = chosen


class TurnField(forms.ChoiceField):
    """Which of two equal times of an October night; asked only when it matters."""

    def __init__(self) -> None:
        super().__init__(label="First or second?", choices=TURNS, required=False, widget=forms.HiddenInput())

    def ask(self) -> None:
        """Show the hidden question."""
        self.widget = forms.RadioSelect(choices=TURNS)


class WallTimeField(forms.TimeField):
    """A time as the clock on the wall showed it."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.TimeInput(format="%H:%M", attrs=TIME_INPUT))
        super().__init__(**kwargs)


def instant_of(
    form: forms.Form, name: str, day: dt.date | None, shown: dt.datetime | None = None
) -> dt.datetime | None:
    """The instant of the form's wall time `name` on a day. A time that happened twice is asked back, at its field.

    The field shows minutes: left as it was `shown`, it means that instant to the second.
    """
    at, turn = form.cleaned_data.get(name), form.cleaned_data.get(f"{name}_turn")
    if day is None or at is None:
        return None
    try:
        meant = periods.instant_of(day, at, clock.zone(), fold=int(turn) if turn else None)
        return shown if shown and periods.utc(shown).replace(second=0, microsecond=0) == meant else meant
    except periods.Ambiguous as twice:
        cast(TurnField, form.fields[f"{name}_turn"]).ask()
        form.add_error(name, twice.sentence)
    except periods.NonExistent as never:
        form.add_error(name, never.sentence)
    return None


class SpanFields(PlainForm):
    """From when until when, on the wall; `shown` are the instants the fields show at first."""

    shown: tuple[dt.datetime | None, dt.datetime | None] = (None, None)

    on = DayField(label="Day")
    started = WallTimeField(label="From")
    started_turn = TurnField()
    stopped = WallTimeField(label="Until")
    stopped_turn = TurnField()
    stopped_on = DayField(label="Ended on another day", required=False)

    def clean(self) -> dict[str, Any]:
        """With `started_at` and `stopped_at`."""
        told = super().clean() or {}
        day = told.get("on")
        told["started_at"] = instant_of(self, "started", day, self.shown[0])
        told["stopped_at"] = instant_of(self, "stopped", told.get("stopped_on") or day, self.shown[1])
        return told
