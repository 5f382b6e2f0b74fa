import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from decimal import Decimal
from typing import Any

from django.db import models

_held: ContextVar["Nursery | None"] = ContextVar("held", default=None)


class Nursery(models.Model):
    """The one nursery this ledger belongs to; its details stand on every document, its settings rule the house."""

    name = models.CharField(max_length=120)
    street = models.CharField(max_length=120, blank=True)
    town = models.CharField(max_length=80, blank=True)
    county = models.CharField(max_length=80, blank=True)
    postcode = models.CharField(max_length=12, blank=True)
    country = models.CharField(max_length=2, default="IE", help_text="Two letters, ISO 3166-1.")
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    vat_number = models.CharField(max_length=20, blank=True)
    bank_account_name = models.CharField(max_length=70, blank=True)
    iban = models.CharField(max_length=34, blank=True)
    bic = models.CharField(max_length=11, blank=True)
    time_zone = models.CharField(max_length=40, default="Europe/Dublin")
    currency = models.CharField(max_length=3, default="EUR", help_text="Three letters, ISO 4217.")
    tag_prefix = models.CharField(max_length=3, default="DN", help_text="One to three capital letters.")

    closes_at = models.TimeField(default=dt.time(18, 0))
    doubtful_after_hours = models.PositiveSmallIntegerField(default=4)
    reminder_at = models.TimeField(default=dt.time(6, 0))
    quiet_from = models.TimeField(default=dt.time(20, 0))
    quiet_until = models.TimeField(default=dt.time(7, 0))
    escalate_after_days = models.PositiveSmallIntegerField(default=1)
    due_item_minutes = models.PositiveSmallIntegerField(
        default=10, help_text="Reckoned for something due whose minutes nothing else says."
    )
    quarantine_days = models.PositiveSmallIntegerField(default=14)
    clean_looks = models.PositiveSmallIntegerField(default=2)
    clean_days_apart = models.PositiveSmallIntegerField(default=7)
    recheck_days = models.PositiveSmallIntegerField(default=56)
    private_terms_days = models.PositiveSmallIntegerField(default=14)
    business_terms_days = models.PositiveSmallIntegerField(default=30)
    collection_term_days = models.PositiveSmallIntegerField(default=14)
    cash_step = models.DecimalField(
        max_digits=3,
        decimal_places=2,
        default=Decimal("0.05"),
        help_text="Cash is taken to the nearest of these; 0.01 is no rounding.",
    )

    deposit_as = models.CharField(
        max_length=10,
        choices=[
            ("on_account", "Payment on account: a deposit invoice with VAT"),
            ("security", "Security: money held, without VAT, until the stay is billed"),
        ],
        default="on_account",
        help_text="Which of the two your terms mean, your accountant knows; for each deposit it can be the other.",
    )
    deposit_vat_on = models.CharField(
        max_length=7,
        choices=[("receipt", "On the day its payment came"), ("invoice", "On the day of its invoice")],
        default="receipt",
        help_text="Law decides; ask your accountant.",
    )
    vat_period_months = models.PositiveSmallIntegerField(
        choices=[(1, "every month"), (2, "every two months"), (3, "every quarter"), (12, "every year")],
        default=2,
    )
    goodwill_limit_net = models.DecimalField(max_digits=10, decimal_places=2, default=50)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(pk=1), name="there_is_one_nursery"),
            models.CheckConstraint(condition=models.Q(cash_step__gt=0), name="cash_is_taken_in_some_step"),
        ]

    def __str__(self) -> str:
        return self.name

    def save(self, *args: Any, **kwargs: Any) -> None:
        self.pk = 1
        super().save(*args, **kwargs)

    @classmethod
    def here(cls) -> "Nursery":
        """The row, or an unsaved one with the defaults while nobody has filled it in."""
        return _held.get() or cls.objects.filter(pk=1).first() or cls(pk=1, name="")

    @classmethod
    @contextmanager
    def held(cls) -> Iterator["Nursery"]:
        """Read the row once for everything inside, which does not change it: a document asks for it ten times."""
        held = cls.here()
        token = _held.set(held)
        try:
            yield held
        finally:
            _held.reset(token)

    @property
    def is_set_up(self) -> bool:
        """True once what every document needs is there."""
        return bool(self.name and self.street and self.town)
