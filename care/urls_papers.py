"""Addresses of the pages about looks, leaving, handbacks and certificates."""

from django.urls import URLPattern, URLResolver, path

from care.views import handback, leaving, looks

urlpatterns: list[URLPattern | URLResolver] = [
    path("trees/<int:pk>/look/", looks.look_add, name="look_add"),
    path("stays/<int:pk>/ready/", leaving.stay_ready, name="stay_ready"),
    path("stays/<int:pk>/send-away/", leaving.stay_send_away, name="stay_send_away"),
    path("stays/<int:pk>/dispose/", leaving.stay_dispose, name="stay_dispose"),
    path("stays/<int:pk>/handback/", handback.handback, name="handback"),
    path("stays/<int:pk>/certificate/", handback.certificate_sign, name="certificate_sign"),
    path("certificates/", handback.certificates, name="certificates"),
    path("certificates/<str:number>/", handback.certificate, name="certificate"),
    path("certificates/<str:number>/withdraw/", handback.certificate_withdraw, name="certificate_withdraw"),
]
