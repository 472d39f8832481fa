from __future__ import annotations

from typing import Any

from django.db import models

from particles.distribution import METHOD_EDITIONS, MethodEdition, edition_from_plain, edition_to_plain
from particles.models.history import audited, never_changed


@audited
class MethodEditionRecord(models.Model):
    """
    A method edition with its values frozen.

    A used edition never changes: the database refuses updates, so a result computed
    years ago still finds the limits that were in force.
    """

    code = models.CharField(max_length=60, unique=True)
    title = models.CharField(max_length=200)
    values = models.JSONField()
    entered_at = models.DateTimeField()

    class Meta:
        ordering = ["code"]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return self.title

    @property
    def edition(self) -> MethodEdition:
        return edition_from_plain(self.values)

    @classmethod
    def enter_shipped(cls, *, at: Any) -> None:
        """Write the editions that come with the program; those already there stay as they are."""
        for code, edition in METHOD_EDITIONS.items():
            cls.objects.get_or_create(
                code=code,
                defaults={"title": edition.title, "values": edition_to_plain(edition), "entered_at": at},
            )
