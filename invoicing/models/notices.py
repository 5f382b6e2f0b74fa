from django.conf import settings
from django.db import models
from django.db.models import F, Q

from boarding.models import Stay
from nursery.models import Consent, RateCard


class TariffNotice(models.Model):
    """The customer was told that another rate card holds for a stay from a night on: when, by which way, in which
    words. Never rewritten: the row written last for a night holds."""

    stay = models.ForeignKey(Stay, on_delete=models.PROTECT, related_name="tariff_notices")
    rate_card = models.ForeignKey(RateCard, on_delete=models.PROTECT, related_name="+")
    from_night = models.DateField(help_text="The first night and day of work by the new card.")
    told_on = models.DateField()
    way = models.CharField(max_length=6, choices=Consent.Way.choices)
    wording = models.TextField(help_text="What the customer was told, word for word.")
    chosen = models.BooleanField(help_text="The proprietor chose the night; else it follows from the rule.")
    noted_at = models.DateTimeField()
    noted_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["from_night", "pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(wording=""), name="a_tariff_notice_has_its_wording"),
            models.CheckConstraint(
                condition=Q(from_night__gt=F("told_on")), name="a_new_tariff_is_told_before_it_holds"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.rate_card} from {self.from_night}"
