"""The chain of hashes over the history."""

from __future__ import annotations

import pgtrigger
from django.db import models


class AuditLink(models.Model):
    """One link of the chain over the history; written by a trigger only (see `labsite.audit.chain`)."""

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
