"""Everybody with a log-in; a model of our own from the first migration, because swapping it later is painful."""

from __future__ import annotations

import pghistory
from django.contrib.auth.models import AbstractUser
from django.contrib.postgres.fields import ArrayField
from django.db import models

from labsite.people.roles import Role

RENEWED = "password set"
"""Label of the event that a log-in got a new password."""


@pghistory.track(
    pghistory.InsertEvent(),
    pghistory.UpdateEvent(),
    pghistory.ManualEvent(RENEWED),  # the password itself is in no history, that it was set is
    exclude=["password", "last_login"],
)
class User(AbstractUser):
    """One person with a log-in. Shared log-ins are a fault: every entry names its person."""

    roles = ArrayField(models.CharField(max_length=24, choices=Role.choices), default=list, blank=True)
    initials = models.CharField(max_length=4, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(is_superuser=False),
                name="nobody_stands_above_the_roles",
                violation_error_message="No log-in may pass over the role table.",
            )
        ]

    def __str__(self) -> str:
        return self.get_full_name() or self.username
