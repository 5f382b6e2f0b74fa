from django.conf import settings
from django.db import models
from django.db.models import Q

from boarding.models import Look, Stay
from nursery.models import Organism, Paper, Tree


class HandbackReport(models.Model):
    """The report that goes home with a tree; its words are frozen in the paper."""

    stay = models.OneToOneField(Stay, on_delete=models.PROTECT, related_name="handback_report")
    paper = models.OneToOneField(Paper, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return str(self.paper)


class Certificate(models.Model):
    """A care certificate: what was looked at and not seen alive, never a promise. Signed by the proprietor."""

    stay = models.ForeignKey(Stay, on_delete=models.PROTECT, related_name="certificates")
    tree = models.ForeignKey(Tree, on_delete=models.PROTECT, related_name="certificates")
    organism = models.ForeignKey(Organism, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    organism_words = models.CharField(max_length=120)
    first_look = models.ForeignKey(Look, on_delete=models.PROTECT, related_name="+")
    last_look = models.ForeignKey(Look, on_delete=models.PROTECT, related_name="+")
    signed_at = models.DateTimeField()
    signed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    paper = models.OneToOneField(Paper, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-signed_at"]

    def __str__(self) -> str:
        return str(self.paper)


class CertificateWithdrawal(models.Model):
    """A withdrawn certificate stays visible, with the reason."""

    certificate = models.OneToOneField(Certificate, on_delete=models.PROTECT, related_name="withdrawal")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=300)

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(reason=""), name="a_withdrawal_says_why")]

    def __str__(self) -> str:
        return f"{self.certificate} withdrawn"
