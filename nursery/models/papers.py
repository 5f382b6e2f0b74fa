from django.conf import settings
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models

from nursery.models.files import KeptFile


class Paper(models.Model):
    """An issued document: its number and every printed word, frozen by the database the moment it is issued.

    `kind` names the template documents/<kind>.html; `words` is its whole context. The file is made afterwards by a job
    from these words alone, so that a print tomorrow says what a print today says.
    """

    kind = models.CharField(
        max_length=12,
        choices=[
            ("receipt", "Check-in receipt"),
            ("handback", "Handback report"),
            ("certificate", "Care certificate"),
            ("invoice", "Invoice"),
            ("deposit", "Deposit invoice"),
            ("credit", "Credit note"),
            ("cash_receipt", "Receipt for cash"),
            ("security", "Receipt for a security"),
            ("statement", "Statement of account"),
            ("estimate", "Estimate"),
            ("reminder", "Payment reminder"),
        ],
    )
    number = models.CharField(max_length=20, unique=True)
    title = models.CharField(max_length=120)
    issued_on = models.DateField()
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    words = models.JSONField(encoder=DjangoJSONEncoder)

    class Meta:
        ordering = ["-issued_at", "-pk"]

    def __str__(self) -> str:
        return self.number


class PaperFile(models.Model):
    """The file made from a paper: added once, never changed."""

    paper = models.OneToOneField(Paper, on_delete=models.PROTECT, related_name="made")
    file = models.ForeignKey(KeptFile, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"file of {self.paper}"
