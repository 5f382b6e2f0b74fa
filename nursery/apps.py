from django.apps import AppConfig
from django.core.checks import Tags, register
from django.db.models.signals import post_migrate
from django.utils.module_loading import autodiscover_modules

from nursery import celery, checks, triggers


class NurseryConfig(AppConfig):
    name = "nursery"
    verbose_name = "Nursery floor"

    def ready(self) -> None:
        # The framework's own signal: guards are laid again after every migration, also when a table was rebuilt.
        post_migrate.connect(triggers.install_after_migrate, dispatch_uid="nursery.guards")
        register(checks.guards_are_laid, Tags.database)
        celery.app.set_default()  # every process can ring for a job, not only the worker
        autodiscover_modules("pieces")  # each app's pieces.py fills slots of the pages below it
