from django.apps import AppConfig


class BoardingConfig(AppConfig):
    name = "boarding"
    verbose_name = "Boarding"
