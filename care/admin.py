"""Reference tables of care for the proprietor: kinds of work, and materials."""

from django.contrib import admin

from care.models import Activity, Material


@admin.register(Activity)
class ActivityAdmin(admin.ModelAdmin):
    """Kinds of work are retired, never removed."""

    list_display = ("name", "code", "rate_group", "chargeable", "is_treatment", "order", "retired_on")
    ordering = ("order",)

    def has_delete_permission(self, request: object, obj: Activity | None = None) -> bool:
        return False


@admin.register(Material)
class MaterialAdmin(admin.ModelAdmin):
    """Materials are retired, never removed; their costs are changed on their own page, which keeps the trail."""

    list_display = ("name", "unit", "cost_net", "base_quantity", "uplift_percent", "retired_on")
    readonly_fields = ("cost_net", "base_quantity", "uplift_percent", "unit", "name", "vat_key", "retired_on")

    def has_add_permission(self, request: object) -> bool:
        return False

    def has_delete_permission(self, request: object, obj: Material | None = None) -> bool:
        return False
