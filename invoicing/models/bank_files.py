from django.conf import settings
from django.db import models
from django.db.models import Q

from invoicing.models.invoices import Invoice
from invoicing.models.payments import Payment
from nursery.models import Party


class BankLayout(models.Model):
    """Which column of a bank's list says what: chosen once by a person, remembered by the headings of the list."""

    class DayOrder(models.TextChoices):
        DAY_FIRST = "dmy", "Day first, 31.12.2026 or 31/12/2026"
        ISO = "iso", "Year first, 2026-12-31"

    class Mark(models.TextChoices):
        COMMA = ",", "Comma, 1.300,50"
        POINT = ".", "Point, 1,300.50"

    header_key = models.CharField(max_length=64, unique=True)
    day = models.PositiveSmallIntegerField()
    amount = models.PositiveSmallIntegerField()
    name = models.PositiveSmallIntegerField(null=True, blank=True)
    reference = models.PositiveSmallIntegerField(null=True, blank=True)
    day_order = models.CharField(max_length=3, choices=DayOrder.choices)
    mark = models.CharField(max_length=1, choices=Mark.choices)
    chosen_at = models.DateTimeField()
    chosen_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"columns {self.day}, {self.amount}"


class BankFile(models.Model):
    """A list of movements loaded from the bank. Its text goes once its rows are read; nothing is booked before a person
    has seen them."""

    name = models.CharField(max_length=120)
    text = models.TextField(blank=True)
    loaded_at = models.DateTimeField()
    loaded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    read_at = models.DateTimeField(null=True)
    booking_asked_at = models.DateTimeField(null=True)
    booking_asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    booked_at = models.DateTimeField(null=True, help_text="When nothing was left to book.")

    class Meta:
        ordering = ["-loaded_at", "-pk"]

    def __str__(self) -> str:
        return self.name

    @property
    def is_being_booked(self) -> bool:
        return bool(self.booking_asked_at and not self.booked_at)


class BankRow(models.Model):
    """One movement of a list: what the bank says, whose it seems to be, and what a person decided."""

    class Choice(models.TextChoices):
        BOOK = "book", "Book it"
        LEAVE = "leave", "Leave it out"
        DOUBLE = "double", "Booked before"

    file = models.ForeignKey(BankFile, on_delete=models.CASCADE, related_name="rows")
    line = models.PositiveIntegerField()
    day = models.DateField()
    amount_gross = models.DecimalField(max_digits=12, decimal_places=2)
    name = models.CharField(max_length=140, blank=True)
    reference = models.CharField(max_length=140, blank=True)
    fingerprint = models.CharField(max_length=64)
    party = models.ForeignKey(Party, null=True, on_delete=models.PROTECT, related_name="+")
    invoice = models.ForeignKey(Invoice, null=True, on_delete=models.PROTECT, related_name="+")
    choice = models.CharField(max_length=6, choices=Choice.choices)
    why = models.CharField(max_length=200, blank=True, help_text="Why it is proposed so.")
    problem = models.CharField(max_length=300, blank=True, help_text="Why it could not be booked.")
    payment = models.OneToOneField(Payment, null=True, on_delete=models.PROTECT, related_name="bank_row")

    class Meta:
        ordering = ["file", "line"]
        constraints = [
            models.UniqueConstraint(
                fields=["fingerprint"],
                condition=Q(payment__isnull=False),
                name="a_movement_is_booked_once",
            ),
            models.UniqueConstraint(fields=["file", "line"], name="one_movement_a_line"),
            models.CheckConstraint(
                condition=Q(payment=None) | Q(choice="book"), name="only_what_is_chosen_is_booked"
            ),
        ]
        indexes = [models.Index(fields=["fingerprint"], name="bank_rows_by_fingerprint")]

    def __str__(self) -> str:
        return f"{self.amount_gross}, {self.name or self.reference}"
