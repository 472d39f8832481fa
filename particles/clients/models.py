"""Clients, and who may see their jobs."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import models

from particles.records.history import audited, never_deleted


class ClientQuerySet(models.QuerySet["Client"]):
    """Clients, and which of them a person may see."""

    def visible_to(self, user: Any) -> ClientQuerySet:
        """Clients whose jobs a person may see."""
        if user.has_perm("particles.see_all_jobs"):
            return self
        if user.has_perm("particles.see_own_jobs"):
            return self.filter(people__user=user).distinct()
        return self.none()


@audited
class Client(models.Model):
    """A client, who sends soil and owns its results."""

    name = models.CharField(max_length=200, unique=True)
    address = models.TextField()
    contact = models.CharField(max_length=200, blank=True)

    objects = ClientQuerySet.as_manager()

    class Meta:
        ordering = ["name"]
        triggers = [never_deleted()]

    def __str__(self) -> str:
        return self.name


@audited
class ClientPerson(models.Model):
    """A log-in that may see one client's jobs: the client's own people, or a consultant by written consent."""

    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="people")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="client_places")
    granted_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    granted_at = models.DateTimeField()
    consent = models.CharField(max_length=200, help_text="Where the client's written consent is kept.")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["client", "user"], name="one_place_per_person_and_client")
        ]

    def __str__(self) -> str:
        return f"{self.user} for {self.client}"
