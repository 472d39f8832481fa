"""People. The model exists from the first migration, because swapping it later is painful."""

from __future__ import annotations

import pghistory
import pgtrigger
from django.contrib.auth.models import AbstractUser
from django.contrib.postgres.fields import ArrayField
from django.db import models

from labsite.roles import Role


@pghistory.track(exclude=["password", "last_login"])
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


class AuditLink(models.Model):
    """One link of the chain over the history; written by a trigger only (see `labsite.auditing`)."""

    history_table = models.CharField(max_length=63)
    history_id = models.BigIntegerField()
    row_sha256 = models.CharField(max_length=64)
    chain_sha256 = models.CharField(max_length=64)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["history_table", "history_id"], name="one_link_per_history_row")
        ]
        triggers = [
            pgtrigger.Protect(name="never_changed", operation=pgtrigger.Update | pgtrigger.Delete),
        ]

    def __str__(self) -> str:
        return f"link {self.pk}"
