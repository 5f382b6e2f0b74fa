"""How the audit trail is narrowed."""

from django import forms
from django.apps import apps

from nursery.forms.fields import DayField, PlainForm
from nursery.models import Person

OURS = ("nursery", "boarding", "care", "invoicing")


def kinds() -> list[tuple[str, str]]:
    """Everything that can be a subject, by its plural."""
    models = (model for model in apps.get_models() if model._meta.app_label in OURS)
    named = [(model._meta.label_lower, str(model._meta.verbose_name_plural)) for model in models]
    return [("", "all"), *sorted(named, key=lambda one: one[1])]


class TrailForm(PlainForm):
    """By person, kind of thing, its words, and days."""

    person = forms.ModelChoiceField(
        Person.objects.order_by("first_name"), label="Who", required=False, empty_label="all"
    )
    kind = forms.ChoiceField(label="To what", required=False, choices=kinds)
    words = forms.CharField(label="Called", required=False)
    from_on = DayField(label="From", required=False)
    until_on = DayField(label="Until", required=False)

    use_required_attribute = False
