"""Addresses of the pages about looks, handbacks and certificates."""

from django.urls import URLPattern, URLResolver, path

from care.views import handback, looks

urlpatterns: list[URLPattern | URLResolver] = [
    path("trees/<int:pk>/look/", looks.look_add, name="look_add"),
    path("stays/<int:pk>/handback/", handback.handback, name="handback"),
    path("stays/<int:pk>/certificate/", handback.certificate_sign, name="certificate_sign"),
    path("certificates/", handback.certificates, name="certificates"),
    path("certificates/<str:number>/", handback.certificate, name="certificate"),
    path("certificates/<str:number>/withdraw/", handback.certificate_withdraw, name="certificate_withdraw"),
]
