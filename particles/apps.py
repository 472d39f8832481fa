"""The Django app of the particles: it enters the shipped method editions after every migration."""

from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class ParticlesConfig(AppConfig):
    """The app of soil before the bench, and of the computing core."""

    name = "particles"
    verbose_name = "Samples and their preparation"

    def ready(self) -> None:
        post_migrate.connect(enter_shipped_editions, sender=self)


def enter_shipped_editions(**_: Any) -> None:
    """Enter the editions this program ships into the database; those entered before stay as they are."""
    from django.utils import timezone

    from particles.methods.models import MethodEditionRecord

    MethodEditionRecord.enter_shipped(at=timezone.now())
