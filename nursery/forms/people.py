"""Signing in, choosing a password, people at work."""

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm, SetPasswordForm
from django.http import HttpRequest

from nursery.forms.fields import DayField, PlainForm, RowForm, Worded
from nursery.models import Person

NO_MATCH = "This address and this password do not belong together. Look at both, or ask for a new password."
NOT_THE_SAME = "This is not the password above. Type the same one in both fields."


class SignInForm(Worded, AuthenticationForm):
    """E-mail address and password; the address in any case."""

    error_messages = {"invalid_login": NO_MATCH, "inactive": NO_MATCH}

    def __init__(self, request: HttpRequest | None = None, *args: Any, **kwargs: Any) -> None:
        super().__init__(request, *args, **kwargs)
        self.fields["username"].label = "E-mail address"
        self.fields["username"].widget = forms.EmailInput(
            attrs={"autocomplete": "username", "autofocus": True}
        )

    def clean_username(self) -> str:
        """As it is stored."""
        return str(self.cleaned_data["username"]).strip().lower()


class NewPasswordForm(Worded, SetPasswordForm):
    """A password twice."""

    def __init__(self, user: Person, *args: Any, **kwargs: Any) -> None:
        super().__init__(user, *args, **kwargs)
        self.error_messages = {**self.error_messages, "password_mismatch": NOT_THE_SAME}
        self.fields["new_password1"].label = "Password"
        self.fields[
            "new_password1"
        ].help_text = "At least ten characters; four words one after another are good."
        self.fields["new_password2"].label = "The same password again"
        self.fields["new_password2"].help_text = ""


class ChangePasswordForm(NewPasswordForm):
    """The old one first."""

    old = forms.CharField(label="Password until now", strip=False, widget=forms.PasswordInput)
    field_order = ("old", "new_password1", "new_password2")

    def clean_old(self) -> str:
        """Whoever finds a screen unlocked cannot take the account over."""
        old = str(self.cleaned_data["old"])
        if not self.user.check_password(old):
            raise forms.ValidationError("This is not your password until now.")
        return old


class ForgottenForm(PlainForm):
    """Where to send the link."""

    email = forms.EmailField(
        label="E-mail address", widget=forms.EmailInput(attrs={"autocomplete": "username"})
    )


class FirstProprietorForm(NewPasswordForm):
    """The first person of an empty ledger."""

    first_name = forms.CharField(label="First name", max_length=60)
    last_name = forms.CharField(label="Last name", max_length=60, required=False)
    email = forms.EmailField(label="E-mail address, with which you sign in")
    field_order = ("first_name", "last_name", "email", "new_password1", "new_password2")


class PersonForm(RowForm):
    """A person at work, as the proprietor sees them."""

    class Meta(RowForm.Meta):
        model = Person
        fields = (
            "first_name",
            "last_name",
            "email",
            "phone",
            "role",
            "may_see_prices",
            "spraying_certificate",
            "spraying_certificate_until",
        )
        labels = {
            "email": "E-mail address",
            "phone": "Telephone",
            "may_see_prices": "May see prices (office and proprietor always do)",
            "spraying_certificate": "Number of the spraying certificate",
            "spraying_certificate_until": "Certificate valid until",
        }
        help_texts = {
            "role": "Grower: gate, looks, clocks, moves. Office: also customers and money. Proprietor: everything.",
        }


class LetGoForm(PlainForm):
    """The last day of a person at work."""

    on = DayField(label="Last day")


class OwnSettingsForm(RowForm):
    """What everybody sets for themselves."""

    class Meta(RowForm.Meta):
        model = Person
        fields = ("phone", "wants_reminders", "slash_focuses_field")
        labels = {
            "phone": "Telephone",
            "wants_reminders": "Send me the morning's list by e-mail",
            "slash_focuses_field": "The key / jumps to the one field on every page",
        }
