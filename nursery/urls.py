"""The whole map: each app keeps its own addresses."""

from django.contrib import admin
from django.urls import include, path

urlpatterns = [
    path("", include("nursery.pages")),
    path("", include("boarding.urls")),
    path("", include("care.urls")),
    path("", include("invoicing.urls")),
    path("admin/", admin.site.urls),
]
