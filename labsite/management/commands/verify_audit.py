"""Verifies the chain over the history."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from labsite.audit.chain import verify_chain
from labsite.audit.models import AuditLink
from particles.distribution.spoken import spoken_count

MOST_SHOWN = 20


class Command(BaseCommand):
    """manage.py verify_audit: says whether history and chain agree, and where they first do not."""

    help = "Checks the hash chain over the history: every row unchanged, none removed, none slipped in."

    def handle(self, *args: Any, **options: Any) -> None:
        count, breaks = verify_chain()
        for broken in breaks[:MOST_SHOWN]:
            self.stderr.write(broken.sentence)
        if breaks:
            raise CommandError(
                f"{spoken_count(len(breaks), 'break')} in {spoken_count(count, 'link')}. Keep this database as it is "
                f"and tell QA."
            )
        newest = AuditLink.objects.order_by("-pk").first()
        self.stdout.write(
            f"{count} links hold. The newest is {newest.chain_sha256 if newest else 'none yet'}."
        )
