"""Enters or changes the laboratory."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

import pghistory
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django.utils import timezone

from particles.laboratory.rules import describe_laboratory
from particles.models import Laboratory, RegulatedArea
from particles.permits.rules import list_area
from particles.records.refusals import RuleRefusal


class Command(BaseCommand):
    """manage.py laboratory: what certificates print of the laboratory, and its rate of duplicates."""

    help = (
        "Says what certificates print of the laboratory and how many duplicates its batches hold, "
        "or lists an origin whose soil must not be opened."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--name")
        parser.add_argument("--address")
        parser.add_argument("--contact")
        parser.add_argument(
            "--samples-per-duplicate",
            type=int,
            metavar="N",
            help="one duplicate for each N samples of a batch, begun; 10 without it, 0 for no duplicates",
        )
        parser.add_argument(
            "--regulated", nargs=3, metavar=("COUNTRY", "REGION", "RULE"), help="REGION may be ''"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        facts = {
            name: options[name]
            for name in ("name", "address", "contact", "samples_per_duplicate")
            if options[name] is not None
        }
        try:
            with pghistory.context(command="manage.py laboratory"), transaction.atomic():
                if facts:
                    describe_laboratory(facts)
                if options["regulated"]:
                    country, region, rule = options["regulated"]
                    today = timezone.localdate()
                    list_area(country=country, region=region, rule=rule, listed_on=today, today=today)
        except RuleRefusal as refusal:
            raise CommandError(str(refusal)) from refusal
        laboratory = Laboratory.objects.first()
        for line in (laboratory or "No laboratory is entered yet.", *RegulatedArea.objects.all()):
            self.stdout.write(str(line))
