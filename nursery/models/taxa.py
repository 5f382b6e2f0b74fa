from django.db import models

from nursery import names


class Taxon(models.Model):
    """A botanical name in its parts, so that it can be printed as the codes of nomenclature ask."""

    genus = models.CharField(max_length=60)
    species = models.CharField(max_length=60, blank=True)
    hybrid = models.BooleanField(default=False)
    rank = models.CharField(max_length=10, blank=True, help_text="subsp., var. or f.")
    infraspecific = models.CharField(max_length=60, blank=True)
    cultivar = models.CharField(max_length=60, blank=True)
    common_name = models.CharField(max_length=80, blank=True)

    class Meta:
        verbose_name_plural = "taxa"
        ordering = ["genus", "species", "infraspecific", "cultivar"]
        constraints = [
            models.UniqueConstraint(
                fields=["genus", "species", "hybrid", "rank", "infraspecific", "cultivar"],
                name="a_taxon_is_named_once",
            ),
        ]

    def __str__(self) -> str:
        return "".join(text for text, _ in self.runs())

    def runs(self) -> list[tuple[str, bool]]:
        """(text, italic) runs for pages and print."""
        return names.runs(
            names.BotanicalName(
                genus=self.genus,
                species=self.species,
                hybrid=self.hybrid,
                rank=self.rank,
                infraspecific=self.infraspecific,
                cultivar=self.cultivar,
            )
        )
