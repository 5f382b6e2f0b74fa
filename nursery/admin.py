"""The framework's admin, for reference tables only: names, pests, VAT rates. Nothing with a history stands here."""

from typing import Any

from django.contrib import admin
from django.http import HttpRequest

from nursery.models import Organism, Taxon, VatRate

admin.site.site_header = "Reference tables"
admin.site.site_title = "Heelin"
admin.site.index_title = "Names, pests, VAT rates"


@admin.register(Taxon)
class TaxonAdmin(admin.ModelAdmin):
    list_display = ("__str__", "common_name")
    search_fields = ("genus", "species", "cultivar", "common_name")

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(Organism)
class OrganismAdmin(admin.ModelAdmin):
    list_display = ("common_name", "scientific_name", "group")
    list_filter = ("group",)
    search_fields = ("common_name", "scientific_name")

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(VatRate)
class VatRateAdmin(admin.ModelAdmin):
    """A rate is added from a day on and never rewritten: bills were issued by the old one."""

    list_display = ("key", "percent", "valid_from", "wording")

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False
