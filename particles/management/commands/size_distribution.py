"""
Computes one bench sheet and prints the figures, without a database.

Exit status: 0 with figures (certified or not is said in the output), 2 when the sheet cannot be computed.
"""

from __future__ import annotations

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from particles.bench_sheet.checked import BenchSheetError
from particles.bench_sheet.figures import figures_of
from particles.bench_sheet.file import load_sheet
from particles.bench_sheet.table import as_table
from particles.distribution import METHOD_EDITIONS, DistributionError


class Command(BaseCommand):
    """Computes the bench sheet of a JSON file: manage.py size_distribution SHEET.json"""

    help = "Computes one bench sheet (JSON) and prints points, fractions, class and findings."
    requires_system_checks = []
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("sheet", type=Path, help="bench sheet, see particles/bench_sheet/schema.json")
        parser.add_argument("--json", action="store_true", help="print JSON instead of a table")
        parser.add_argument(
            "--method", choices=sorted(METHOD_EDITIONS), help="edition instead of the sheet's"
        )
        parser.add_argument("--explain", action="store_true", help="also print what each correction does")
        parser.add_argument("--draws", type=int, help="Monte Carlo draws; 0 for none")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            figures = figures_of(
                load_sheet(options["sheet"]),
                method_code=options["method"],
                draws=options["draws"],
                explained=options["explain"],
            )
        except BenchSheetError as error:
            raise CommandError("\n".join(str(fault) for fault in error.faults), returncode=2) from error
        except DistributionError as error:
            raise CommandError(str(error), returncode=2) from error
        if options["json"]:
            self.stdout.write(json.dumps(figures, ensure_ascii=False, indent=2, allow_nan=False))
        else:
            self.stdout.write(as_table(figures))
