from django.conf import settings
from django.db import models
from django.db.models import Q

from invoicing.models.invoices import Invoice


class EInvoiceNote(models.Model):
    """That the recipient's system refused an e-invoice, or that the same file went out again another way.

    Number and content stay as they are: only where it is sent is put right.
    """

    class What(models.TextChoices):
        REFUSED = "refused", "Their system refused it"
        SENT_AGAIN = "sent_again", "Sent again, unchanged"

    invoice = models.ForeignKey(Invoice, on_delete=models.PROTECT, related_name="e_invoice_notes")
    what = models.CharField(max_length=10, choices=What.choices)
    on = models.DateField()
    told = models.CharField(max_length=200)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["on", "pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(told=""), name="an_e_invoice_note_says_what_happened")
        ]

    def __str__(self) -> str:
        return f"{self.invoice}: {self.get_what_display()}"
