"""What the QA officer put right in a batch, as values that took the place of others."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Any

from django.db.models import Q

from batches.corrections.models import MassCorrection, mass_in_words
from batches.exchanging.models import Exchange, LeftOut
from batches.planning.models import Batch, Run
from batches.templatetags.plain_figures import slot

Replaced = tuple[str, str, str, str, Any, datetime]
"""What, before, after, why, by whom, when."""
PUT_RIGHT = (MassCorrection, LeftOut, Exchange)
"""Kinds of act without which `put_right` has no row."""


def put_right(batch: Batch) -> Iterator[Replaced]:
    """Records exchanged, left out and put right by the QA officer, and what of it was taken back."""
    runs = [f"{which}__{of}" for which in ("first", "second") for of in ("cylinder", "portion__sample")]
    exchanges = Exchange.objects.filter(first__batch=batch).select_related("by", "undone__by", *runs)
    for made in exchanges:
        yield (f"Exchanged {made.in_words}", "own cylinder", "the other's", made.reason, made.by, made.at)
        yield from _taken_back(f"Exchanged {made.in_words}", "the other's", "own cylinder", made, "undone")
    out_of = ("by", "lifted__by", "run__cylinder")
    for out in LeftOut.objects.filter(run__batch=batch).select_related(*out_of):
        what = f"Cylinder {out.run.cylinder.serial}, {slot(out.slot_s)}"
        yield (what, "counted", "left out", out.reason, out.by, out.at)
        yield from _taken_back(what, "left out", "counts", out, "lifted")
    masses = MassCorrection.objects.filter(portion__run__batch=batch).select_related(
        "by", "weighing__portion__sample", "supersedes"
    )
    for mass in masses:
        earlier = mass_in_words(mass.weighing.mass_g) if mass.supersedes is None else mass.supersedes.in_words
        yield (f"{mass.weighing}", earlier, mass.in_words, mass.reason, mass.by, mass.at)


def _taken_back(what: str, before: str, after: str, act: Any, by: str) -> Iterator[Replaced]:
    end = getattr(act, by, None)
    if end is not None:
        yield (what, before, after, end.reason, end.by, end.at)


def put_right_at(run: Run) -> list[str]:
    """What was exchanged with the cylinder of a run or left out at it and stands, as sentences without names."""
    about = Exchange.objects.filter(Q(first=run) | Q(second=run), undone__isnull=True)
    exchanges = about.select_related("by", "first__cylinder", "second__cylinder").order_by("pk")
    left_out = LeftOut.objects.filter(run=run, lifted__isnull=True).select_related("by")
    return [
        *(
            _exchanged_with(made, made.second if made.first_id == run.pk else made.first)
            for made in exchanges
        ),
        *(
            f"The reading at {slot(out.slot_s)} does not count, says {out.by}: {out.reason}"
            for out in left_out
        ),
    ]


def _exchanged_with(made: Exchange, other: Run) -> str:
    what = f"{made.what[0].upper()}{made.what[1:]}"
    return f"{what}, exchanged with cylinder {other.cylinder.serial} by {made.by}: {made.reason}"
