from django.db import models


class NumberSeries(models.Model):
    """The counter of one kind of document in one year, raised in the issuing transaction: no gap, no double."""

    kind = models.CharField(max_length=12)
    year = models.PositiveSmallIntegerField()
    last = models.PositiveIntegerField(default=0)
    last_on = models.DateField(null=True)

    class Meta:
        verbose_name_plural = "number series"
        constraints = [models.UniqueConstraint(fields=["kind", "year"], name="one_counter_per_kind_and_year")]

    def __str__(self) -> str:
        return f"{self.kind}-{self.year}: {self.last}"
