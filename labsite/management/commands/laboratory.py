from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from particles.distribution.possible import MOST_PORTIONS
from particles.models import Laboratory, RegulatedArea


class Command(BaseCommand):
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
        rate = options["samples_per_duplicate"]
        if rate is not None and not 0 <= rate <= MOST_PORTIONS:
            raise CommandError(f"--samples-per-duplicate {rate} lies outside 0 to {MOST_PORTIONS}.")
        words = {name: options[name] for name in ("name", "address", "contact") if options[name] is not None}
        house = Laboratory.objects.first()
        if house is None and words:
            if len(words) < 3:
                raise CommandError("A new laboratory needs --name, --address and --contact.")
            house = Laboratory(pk=1)
        if house is not None and words:
            for name, value in words.items():
                setattr(house, name, value)
            house.save()
        if rate is not None:
            if house is None:
                raise CommandError("Enter the laboratory first: --name, --address and --contact.")
            house.samples_per_duplicate = rate
            house.save()
        if options["regulated"]:
            country, region, rule = options["regulated"]
            RegulatedArea.objects.create(
                country=country, region=region, rule=rule, listed_on=timezone.localdate()
            )
        for line in (house or "No laboratory is entered yet.", *RegulatedArea.objects.all()):
            self.stdout.write(str(line))
