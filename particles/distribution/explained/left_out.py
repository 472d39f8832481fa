"""One run without one of its steps, for each step that can be left out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import Correction, ReadingPoint, RunRecord
from particles.distribution.sieves.stack import sand_sieve

STANDARD_DENSITY_G_CM3 = 2.65
"""Particle density assumed for soil that was not measured; *common practice*. [g/cm³]"""

Without = Callable[[RunRecord, MethodEdition], RunRecord | None]


def _each(record: RunRecord, change: Callable[[ReadingPoint], ReadingPoint]) -> RunRecord:
    return replace(record, readings=tuple(change(point) for point in record.readings))


def _without_scale(record: RunRecord, _: MethodEdition) -> RunRecord | None:
    if not record.hydrometer.scale_corrections:
        return None
    return replace(record, hydrometer=replace(record.hydrometer, scale_corrections=()))


def _without_blank(record: RunRecord, _: MethodEdition) -> RunRecord | None:
    if record.correction is Correction.NONE:
        return None
    bare = _each(record, lambda point: replace(point, composite_correction_graduations=None))
    return replace(
        bare, correction=Correction.NONE, zero_correction_graduations=0.0, temperature_correction=None
    )


def _without_blank_temperature(record: RunRecord, _: MethodEdition) -> RunRecord | None:
    if record.correction is not Correction.MEASURED_BLANK:
        return None
    return _each(record, lambda point: replace(point, blank_temperature_c=point.temperature_c))


def _without_density(record: RunRecord, _: MethodEdition) -> RunRecord | None:
    return replace(record, particle_density_g_cm3=STANDARD_DENSITY_G_CM3)


def _without_moisture(record: RunRecord, _: MethodEdition) -> RunRecord | None:
    if record.oven_dry_mass_g is not None or not record.moisture_pct:
        return None
    return replace(record, moisture_pct=0.0)


def _without_dispersant(record: RunRecord, _: MethodEdition) -> RunRecord | None:
    return replace(record, dispersant_g_l=0.0) if record.dispersant_g_l else None


def _without_meniscus(record: RunRecord, _: MethodEdition) -> RunRecord | None:
    if not record.hydrometer.meniscus_correction:
        return None
    return replace(record, hydrometer=replace(record.hydrometer, meniscus_correction=0.0))


def _without_true_times(record: RunRecord, method: MethodEdition) -> RunRecord | None:
    """Every reading at the nearest time of the schedule, by ratio; None when two would share one."""
    nearest = [
        min(method.schedule_s, key=lambda nominal: abs(nominal / p.elapsed_s - p.elapsed_s / nominal))
        for p in record.readings
    ]
    if len(set(nearest)) < len(nearest):
        return None
    moved = zip(record.readings, nearest, strict=True)
    return replace(record, readings=tuple(replace(p, elapsed_s=nominal) for p, nominal in moved))


def _without_own_sieved_mass(record: RunRecord, _: MethodEdition) -> RunRecord | None:
    if record.sieving is None or record.sieving.portion_oven_dry_mass_g is None:
        return None
    return replace(record, sieving=replace(record.sieving, portion_oven_dry_mass_g=None))


def _sand_as_weighed(record: RunRecord, method: MethodEdition) -> MethodEdition | None:
    sieve = sand_sieve(record.sieving, method.sand_sieve_openings_um)
    if sieve is None or not method.sand_at_limit or sieve.opening_um == method.sand_limit_um:
        return None
    return replace(method, sand_at_limit=False)


STEPS: tuple[tuple[str, str, Without], ...] = (
    (
        "scale correction",
        "The hydrometer's own scale corrections are added to reading and blank.",
        _without_scale,
    ),
    ("blank", "What the stem shows without soil is taken off every reading.", _without_blank),
    (
        "blank temperature",
        "The blank is brought to the temperature of the suspension.",
        _without_blank_temperature,
    ),
    (
        "particle density",
        f"The soil's particle density is used in place of {STANDARD_DENSITY_G_CM3:g} g/cm³.",
        _without_density,
    ),
    ("moisture", "The air-dry portion is brought to oven-dry mass.", _without_moisture),
    (
        "dispersant in the liquid",
        "The dispersant makes the liquid denser and more viscous than water.",
        _without_dispersant,
    ),
    (
        "meniscus in the depth",
        "The depth is taken at the true liquid level, below the meniscus.",
        _without_meniscus,
    ),
    ("true times", "Sizes come from the true times of reading, not the nominal ones.", _without_true_times),
    (
        "mass of the sieved portion",
        "The sand is a percentage of the portion it was sieved from.",
        _without_own_sieved_mass,
    ),
)
"""Step, what it does, and the record without it; None when the run does not take the step."""
SMOOTHING = ("smoothing", "The curve is kept from rising towards finer sizes.")
SAND_AT_LIMIT = (
    "sand limit",
    "What lies between the sand sieve and the sand limit is brought over, along the curve.",
    _sand_as_weighed,
)
"""The step that leaves out nothing of the record but a rule of the edition."""
