from django.db import models
from django.db.models import Q

from invoicing.journal import Account


class JournalAccount(models.Model):
    """Number and name the accountant has for an account of the journal; without a row our own default holds."""

    key = models.CharField(max_length=12, unique=True, choices=[(one.value, one.value) for one in Account])
    number = models.CharField(max_length=12)
    name = models.CharField(max_length=60)

    class Meta:
        ordering = ["number", "key"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(number="") & ~Q(name=""), name="an_account_has_number_and_name"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.name}"
