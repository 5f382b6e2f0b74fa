"""What is written down about a suspicion."""

from django import forms

from boarding.forms.typed import lines
from nursery.forms.fields import PlainForm


class SuspicionForm(PlainForm):
    reason = forms.CharField(
        label="What was seen, and which organism is suspected?",
        max_length=260,
        widget=lines(2),
        help_text="For example: round exit holes at the base of the trunk, fresh frass.",
    )


class AuthorityForm(PlainForm):
    reason = forms.CharField(
        label="The authority’s words, with day and reference",
        max_length=300,
        widget=lines(3),
        help_text="For example: letter of 20 June, ref. 114: laboratory found nothing, trees released.",
    )


class ContactForm(PlainForm):
    reason = forms.CharField(
        label="With which tree, where and when?",
        max_length=300,
        widget=lines(2),
        help_text="For example: stood beside an infested tree until 18 June. It is printed on its owner’s papers: "
        "name no other tree and no customer.",
    )
