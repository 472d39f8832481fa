"""
Advice on how much to weigh: predicted from the texture by feel where it names a class.

Otherwise the rule of thumb, *common practice*: 20 to 30 g of clays, 40 to 50 g of loams, 75 to 100 g of sands.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.utils import timezone

from batches.equipment.models import HydrometerRecord
from batches.limits.models import spreads_in_force
from batches.planning.models import Run
from particles.distribution import (
    DistributionError,
    HydrometerScale,
    PortionAdvice,
    portion_advice,
)
from particles.models import MethodEditionRecord
from particles.preparation.field_texture import usda_class_by_feel

LIKELY_CLAY_PCT = 25.0
"""Content at which a spread that rises with content is taken before a soil is known. *Chosen*. [%]"""


@dataclass(frozen=True)
class WeighingAdvice:
    """Advice on the mass of a portion, and what it rests on."""

    texture: str
    """The texture by feel as it was noted, or ''."""
    predicted: PortionAdvice | None
    """None: only the rule of thumb is left."""
    hydrometer: HydrometerRecord | None
    why_not: str
    """Why nothing is predicted; '' when it is."""

    @property
    def places(self) -> int:
        """Decimals with which a reading on this stem is written."""
        fine = self.hydrometer is not None and self.hydrometer.scale == HydrometerScale.RELATIVE_DENSITY
        return 4 if fine else 1


def good_masses_g(advice: PortionAdvice) -> list[float]:
    """Masses of the table that keep every target, in rising order; else the mass advised. [g]"""
    return [c.mass_g for c in advice.candidates if c.within_targets] or [advice.recommended.mass_g]


def weighing_advice(
    texture: str, method: MethodEditionRecord, run: Run | None, density_g_cm3: float, at: datetime
) -> WeighingAdvice:
    """Advice on the portion's mass; `run` is where the portion stands already, else any stem good that day is taken."""
    on = timezone.localdate(at)
    stem = stem_for(run, on)
    named = usda_class_by_feel(texture)
    if named is None:
        return WeighingAdvice(texture, None, stem, "The texture by feel names no class.")
    if stem is None:
        return WeighingAdvice(texture, None, None, "No hydrometer is good today.")
    try:
        predicted = portion_advice(
            named,
            method.edition,
            stem.as_measured(),
            particle_density_g_cm3=density_g_cm3,
            between_run_sd_pct=_own_between_run_pct(method, run, at),
        )
    except DistributionError as error:
        return WeighingAdvice(texture, None, stem, str(error))
    return WeighingAdvice(texture, predicted, stem, "")


def _own_between_run_pct(method: MethodEditionRecord, run: Run | None, at: datetime) -> float | None:
    """Between-run figure of clay bound when the soak began, else the one in force now. [percentage points]"""
    if run is not None and run.batch.soak_started_at is not None:
        return run.batch.between_run_in_force("clay").at(LIKELY_CLAY_PCT)
    version = spreads_in_force(method, at).get("clay")
    return None if version is None else version.spread.at(LIKELY_CLAY_PCT)


def stem_for(run: Run | None, on: date) -> HydrometerRecord | None:
    """The hydrometer a portion is or would be read with: its batch's, else the first usable one of the register."""
    if run is not None:
        return run.batch.hydrometer
    return HydrometerRecord.objects.usable(on).order_by("serial").first()
