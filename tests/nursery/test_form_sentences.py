"""What a form says at an empty or unreadable field is the house's own sentence, in every app."""

import datetime as dt
import pkgutil
from importlib import import_module

import pytest
from django import forms
from django.utils.translation import override

from boarding.forms.gate import AgreedPriceForm
from boarding.forms.visit import CheckInLookForm
from nursery.forms.fields import DayField, PlainForm, Worded, sentences_for
from nursery.forms.people import PersonForm
from nursery.forms.place import BenchForm, NurseryForm
from nursery.forms.trees import TreeForm

APPS = ("nursery", "boarding", "care", "invoicing")
STOCK = "This field is required."
NO_YEAR = "Write the year with its four digits, from 1900 to 2199."


def form_modules():
    for app in APPS:
        package = import_module(f"{app}.forms")
        yield package
        for found in pkgutil.iter_modules(getattr(package, "__path__", [])):
            yield import_module(f"{app}.forms.{found.name}")


FORMS = sorted(
    {
        kind
        for module in form_modules()
        for kind in vars(module).values()
        if isinstance(kind, type)
        and issubclass(kind, forms.BaseForm)
        and kind.__module__.split(".")[0] in APPS
    },
    key=lambda kind: f"{kind.__module__}.{kind.__name__}",
)


def test_there_are_forms_to_look_at():
    assert len(FORMS) > 60


@pytest.mark.parametrize("kind", FORMS, ids=lambda kind: f"{kind.__module__}.{kind.__name__}")
def test_every_form_speaks_in_our_own_words(kind):
    assert issubclass(kind, Worded)


class Trial(PlainForm):
    why = forms.CharField()
    name = forms.CharField(error_messages={"required": "Write the name of the dog."})
    on = DayField()
    at = forms.TimeField()
    kind = forms.ChoiceField(choices=[("a", "A")])
    sure = forms.BooleanField()


def said(**typed):
    return {name: list(errors) for name, errors in Trial(typed).errors.items()}


def test_an_empty_field_says_what_to_write_and_keeps_a_sentence_of_its_own():
    assert said() == {
        "why": ["Write the reason in a few words."],
        "name": ["Write the name of the dog."],
        "on": ["Write the day."],
        "at": ["Write the time."],
        "kind": ["Choose one; it is needed."],
        "sure": ["Tick this to go on."],
    }


def test_what_cannot_be_read_is_said_with_an_example():
    told = said(why="x", name="x", on="31 June", at="25:10", kind="b", sure="on")
    assert told == {
        "on": ["This is no day: write it like 2026-06-03."],
        "at": ["This is no time: write it like 14:05."],
        "kind": ["This is not among what can be chosen now: choose again."],
    }
    filled = Trial({"why": "x", "name": "x", "on": "2026-06-03", "at": "14:05", "kind": "a", "sure": "on"})
    assert filled.is_valid()
    assert filled.cleaned_data["on"] == dt.date(2026, 6, 3)


def test_a_field_added_after_the_form_was_made_is_worded_too():
    form = Trial({})
    form.fields["later"] = forms.CharField()
    assert form.errors["later"] == ["Write something here; it is needed."]


def test_one_form_does_not_change_the_fields_of_another():
    assert Trial({}).errors
    with override("en"):
        assert forms.CharField().error_messages["required"] == STOCK
    assert sentences_for("x", forms.CharField()) == {"required": "Write something here; it is needed."}


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("1899-12-31", [NO_YEAR]),
        ("1900-01-01", []),
        ("2199-12-31", []),
        ("2200-01-01", [NO_YEAR]),
        ("0026-06-03", [NO_YEAR]),
        ("9999-12-31", [NO_YEAR]),
    ],
)
def test_a_day_lies_in_a_year_people_work_in(typed, told):
    assert said(on=typed).get("on", []) == told


def test_so_does_the_day_of_a_row():
    form = PersonForm({"spraying_certificate_until": "9999-12-31"})
    assert form.errors["spraying_certificate_until"] == [NO_YEAR]


@pytest.mark.parametrize(
    ("form", "field", "typed", "told"),
    [
        (TreeForm, "height_cm", "32767", []),
        (TreeForm, "height_cm", "32768", ["Write 32767 or less."]),
        (TreeForm, "height_cm", "60,5", ["Write a whole number, without decimals."]),
        (TreeForm, "area_m2", "99,99", []),
        (TreeForm, "area_m2", "100", ["Write 99.99 or less."]),
        (BenchForm, "area_m2", "10000", ["Write 9999.99 or less."]),
        (BenchForm, "walk_order", "40000", ["Write 32767 or less."]),
        (NurseryForm, "clean_looks", "0", ["Write 1 or more."]),
        (NurseryForm, "clean_looks", "2", []),
        (AgreedPriceForm, "night_net", "1000000", ["Write 999999.9999 or less."]),
        (CheckInLookForm, "live_adult", "999999", []),
        (CheckInLookForm, "live_adult", "1000000", ["Write 999999 or less."]),
    ],
)
def test_a_number_that_no_column_holds_is_said_at_its_field(form, field, typed, told):
    """Before the database says it, with an error page: the columns of PostgreSQL end there, those of SQLite do not."""
    assert form({field: typed}).errors.get(field, []) == told
