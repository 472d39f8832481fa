"""Prints a method edition, or enters a laboratory's own."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from particles.distribution import edition_to_plain
from particles.methods.models import MethodEditionRecord
from particles.records.refusals import RuleRefusal


class Command(BaseCommand):
    """Prints an edition as JSON, or enters one from a file."""

    help = (
        "Prints a method edition as JSON, to start from, or enters a laboratory's own. "
        "An entered edition never changes: the next one gets a code of its own."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        what = parser.add_mutually_exclusive_group(required=True)
        what.add_argument(
            "--print", dest="shown", metavar="CODE", help="an edition of this database, as JSON"
        )
        what.add_argument("--enter", type=Path, metavar="FILE", help="a JSON file in the form --print gives")
        what.add_argument("--list", action="store_true", help="codes and titles of all editions")

    def handle(self, *args: Any, shown: str | None, enter: Path | None, **options: Any) -> None:
        if options["list"]:
            for record in MethodEditionRecord.objects.all():
                self.stdout.write(f"{record.code}  {record.title}")
        elif shown is not None:
            self._print(shown)
        elif enter is not None:
            self._enter(enter)

    def _print(self, code: str) -> None:
        record = MethodEditionRecord.objects.filter(code=code).first()
        if record is None:
            raise CommandError(f"No edition has the code {code}; --list shows those there are.")
        plain = edition_to_plain(record.edition)
        self.stdout.write(json.dumps(plain, indent=1, ensure_ascii=False))

    def _enter(self, path: Path) -> None:
        try:
            plain = json.loads(path.read_text(encoding="utf-8"))
            record = MethodEditionRecord.enter_own(plain, at=timezone.now())
        except (OSError, ValueError, RuleRefusal) as error:
            raise CommandError(f"{path}: {error}") from error
        self.stdout.write(f"Entered {record.code}: {record.title}. It can be chosen for new jobs.")
