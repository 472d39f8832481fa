"""
How much to weigh: predicted from the texture by feel where it names a class.

Otherwise the rule of thumb, *common practice*: 20 to 30 g of clays, 40 to 50 g of loams, 75 to 100 g of sands.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from batches.models import HydrometerRecord, Run
from particles.distribution import (
    DistributionError,
    HydrometerScale,
    MethodEdition,
    PortionAdvice,
    portion_advice,
)
from particles.field_texture import usda_class_by_feel


@dataclass(frozen=True)
class WeighingAdvice:
    texture: str
    """As it was told by feel, or ''."""
    predicted: PortionAdvice | None
    """None: only the rule of thumb is left."""
    hydrometer: HydrometerRecord | None
    why_not: str
    """Why nothing is predicted; '' when it is."""

    @property
    def places(self) -> int:
        """Decimals of a reading on this stem."""
        fine = self.hydrometer is not None and self.hydrometer.scale == HydrometerScale.RELATIVE_DENSITY
        return 4 if fine else 1


def good_masses_g(advice: PortionAdvice) -> list[float]:
    """Masses of the table that keep every target, in rising order; else the one advised. [g]"""
    return [c.mass_g for c in advice.candidates if c.within_targets] or [advice.recommended.mass_g]


def weighing_advice(
    texture: str, method: MethodEdition, run: Run | None, density_g_cm3: float, on: date
) -> WeighingAdvice:
    """`run` is where the portion stands already, if anywhere; else the first stem good that day is taken."""
    stem = stem_for(run, on)
    named = usda_class_by_feel(texture)
    if named is None:
        return WeighingAdvice(texture, None, stem, "The texture by feel names no class.")
    if stem is None:
        return WeighingAdvice(texture, None, None, "No hydrometer is good today.")
    try:
        predicted = portion_advice(named, method, stem.as_measured(), particle_density_g_cm3=density_g_cm3)
    except DistributionError as error:
        return WeighingAdvice(texture, None, stem, str(error))
    return WeighingAdvice(texture, predicted, stem, "")


def stem_for(run: Run | None, on: date) -> HydrometerRecord | None:
    if run is not None:
        return run.batch.hydrometer
    return HydrometerRecord.objects.usable(on).order_by("serial").first()
