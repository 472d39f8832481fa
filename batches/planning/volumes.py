"""Cylinders of other volumes than the blank's: what a batch may mix, and what is said of it."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from batches.equipment.models import Cylinder
from batches.planning.models import Batch
from particles.records.refusals import NotPossible

MOST_APART = Decimal("0.2")
"""How far a cylinder's volume may lie from the blank's, as a share of it; one volume is *common practice*. [-]"""


def refuse_volumes_far_apart(cylinders: Sequence[Cylinder]) -> None:
    """Refuse cylinders of which one holds far more or less than the blank's, the first: a slip or another recipe."""
    if not cylinders:
        return
    blank = cylinders[0]
    for cylinder in cylinders[1:]:
        apart = abs(cylinder.volume_ml / blank.volume_ml - 1)
        if apart > MOST_APART:
            raise NotPossible(
                f"Cylinder {cylinder.serial} holds {float(cylinder.volume_ml):g} mL and "
                f"the blank's {float(blank.volume_ml):g} mL, {apart:.0%} apart; {MOST_APART:.0%} is the most. "
                "Choose cylinders of one volume, or put the volume right in the register."
            )


def mixed_volumes(batch: Batch) -> str:
    """A sentence for a batch whose cylinders hold other volumes than the blank's; '' when all are alike."""
    runs = list(batch.runs.in_plan().select_related("cylinder"))
    blank_ml = next((run.cylinder.volume_ml for run in runs if run.is_blank), None)
    others = [run.cylinder for run in runs if run.cylinder.volume_ml != blank_ml]
    if blank_ml is None or not others:
        return ""
    named = ", ".join(f"{each.serial} {float(each.volume_ml):g} mL" for each in others)
    said = f"Other volumes than the blank's {float(blank_ml):g} mL: {named}."
    if not batch.method.edition.blank_by_physics:
        return f"{said} This edition takes the blank off as it was read; choose cylinders of one volume."
    return f"{said} Fill each to its own mark; the blank is brought to the dispersant of each."
