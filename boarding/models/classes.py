from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q

from boarding.models.stays import Stay


class ClassChanges(models.QuerySet["ClassChange"]):
    """Changes by what they do to the price."""

    def charged(self) -> Self:
        """Those by which nights are charged, in the order in which they hold: what was written last for a night."""
        return self.filter(wish=ClassChange.Wish.OWNER).order_by("from_night", "pk")


class ClassChange(models.Model):
    """Another size class from a night on, with its reason. What the nursery wished for itself leaves the price as it
    was. Never rewritten: the row written last for a night holds."""

    class Wish(models.TextChoices):
        OWNER = "owner", "The owner: its nights are charged by the new class"
        NURSERY = "nursery", "The nursery: the class charged stays"

    stay = models.ForeignKey(Stay, on_delete=models.PROTECT, related_name="class_changes")
    from_night = models.DateField(help_text="The first night in the new class.")
    size_class = models.PositiveSmallIntegerField()
    wish = models.CharField(max_length=7, choices=Wish.choices)
    reason = models.CharField(max_length=200)
    agreed_night_net = models.DecimalField(
        max_digits=10, decimal_places=4, null=True, blank=True, help_text="Class 5 only: a night, as agreed."
    )
    noted_at = models.DateTimeField()
    noted_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    objects = ClassChanges.as_manager()

    class Meta:
        ordering = ["from_night", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(size_class__range=(1, 5)), name="changed_class_is_1_to_5"),
            models.CheckConstraint(condition=~Q(reason=""), name="a_class_changes_for_a_reason"),
            models.CheckConstraint(
                condition=Q(agreed_night_net=None) | Q(agreed_night_net__gt=0, size_class=5),
                name="a_night_is_agreed_for_class_5_only",
            ),
            models.CheckConstraint(
                condition=~Q(size_class=5, wish="owner") | Q(agreed_night_net__isnull=False),
                name="class_5_is_charged_as_agreed",
            ),
        ]

    def __str__(self) -> str:
        return f"class {self.size_class} from {self.from_night}"
