from django.conf import settings
from django.db import models
from django.db.models import Q

from boarding.models import Stay
from nursery.models import Party


class Goodwill(models.Model):
    """A gift of the nursery on the bill of a stay, with its reason. Never rewritten; it may be taken back unbilled."""

    stay = models.ForeignKey(Stay, on_delete=models.PROTECT, related_name="goodwill")
    payer = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="+")
    amount_net = models.DecimalField(max_digits=10, decimal_places=2)
    reason = models.CharField(max_length=150)
    given_on = models.DateField()
    given_at = models.DateTimeField()
    given_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    taken_back_at = models.DateTimeField(null=True, blank=True)
    taken_back_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    again_of = models.OneToOneField(
        "self",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="again",
        help_text="The gift whose bill was taken back; this one stands on the bill that is drawn up anew.",
    )

    class Meta:
        verbose_name_plural = "goodwill"
        ordering = ["given_on", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(amount_net__gt=0), name="goodwill_is_more_than_nothing"),
            models.CheckConstraint(condition=~Q(reason=""), name="goodwill_says_why"),
        ]
        indexes = [
            models.Index(fields=["stay"], condition=Q(taken_back_at=None), name="goodwill_of_a_stay"),
        ]

    def __str__(self) -> str:
        return f"{self.amount_net}: {self.reason}"
