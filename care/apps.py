from django.apps import AppConfig


class CareConfig(AppConfig):
    name = "care"
    verbose_name = "Care"
