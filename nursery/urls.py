"""The whole map: each app keeps its own addresses."""

from django.contrib import admin
from django.contrib.auth.models import Group
from django.urls import include, path

if admin.site.is_registered(Group):
    admin.site.unregister(Group)  # roles are words of the trade here, not groups

urlpatterns = [
    path("", include("nursery.pages")),
    path("", include("boarding.urls")),
    path("", include("care.urls")),
    path("", include("invoicing.urls")),
    path("admin/", admin.site.urls),
]
