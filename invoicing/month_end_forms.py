"""Forms of the month end."""

from typing import Any

from django import forms

from nursery.forms.fields import DayField, PlainForm


class ClosingForm(PlainForm):
    """Up to which day is billed?"""

    closing_on = DayField(label="Bill everything up to and including")


class IssueAllForm(PlainForm):
    """The day of the bills; which ones, stands beside them as ticks with what was seen."""

    issued_on = DayField(label="Date of the bills")
    use_credit = forms.BooleanField(
        label="Set what customers have with us against their bills", required=False, initial=True
    )

    def seen(self) -> dict[int, str]:
        """Ticked rows with the fingerprint that was shown."""
        told: dict[int, str] = {}
        data: Any = self.data
        for value in data.getlist("bill") if hasattr(data, "getlist") else ():
            key, _, fingerprint = value.partition(":")
            if key.isdecimal() and len(key) < 19:
                told[int(key)] = fingerprint
        return told
