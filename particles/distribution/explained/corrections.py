"""
Size of each correction of one run: per reading from the stem to the percentage, and per step on the figures.

The size of a step is found by leaving it out: the figures as reported less those without it, everything else
unchanged. Steps act on each other, so their sizes do not add up.
"""

from __future__ import annotations

from dataclasses import dataclass

from particles.distribution.answer import SizePoint
from particles.distribution.curve.fractions import take_fractions
from particles.distribution.curve.points import size_points, smoothed
from particles.distribution.errors import DepthOutsideTableError, ScaleCorrectionError
from particles.distribution.explained.left_out import SAND_AT_LIMIT, SMOOTHING, STEPS
from particles.distribution.inputs.blank_filling import with_blanks_served
from particles.distribution.inputs.impossible import refuse_impossible
from particles.distribution.inputs.portion import portion_mass
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import Correction, RunRecord
from particles.distribution.settling.hydrometer import (
    above_zero,
    blank_liquid_correction,
    concentration_factor,
    rule_correction,
    temperature_difference_correction,
)
from particles.distribution.settling.stem_scale import scale_correction
from particles.distribution.triple import SandSiltClay

CHANGE_SHOWN_PCT = 0.005
"""Change of a figure below which a step changes nothing in its sentence. [percentage points]"""


@dataclass(frozen=True, slots=True)
class ExplainedReading:
    """One reading on its way to one percentage; corrections in graduations, g/L on a 152H, thousandths on a 151H."""

    reading_index: int
    elapsed_s: float
    raw: float
    """As read, in scale units."""
    scale_correction: float
    """Added, from the instrument's calibration, in scale units."""
    blank_reading: float | None
    """As read, or as its level shows it at that temperature, in scale units; None unless the rule is a measured
    blank."""
    blank_scale_correction: float
    """Added to the blank, in scale units."""
    blank_temperature_correction: float
    """Taken off the blank because the suspension is warmer than it; negative when it is colder."""
    other_correction: float
    """Taken off by a rule other than a measured blank; beside one, what its liquid differs in dispersant."""
    net: float
    """Reading above clear water less everything taken from it."""
    factor: float
    """Soil per unit of net: `a` on a 152H, Gs/(Gs - 1) on a 151H. [-]"""
    concentration_g_l: float
    effective_depth_cm: float
    diameter_um: float
    percent_finer: float
    percent_finer_curve: float
    """Percent finer after smoothing. [%]"""


@dataclass(frozen=True, slots=True)
class StepEffect:
    """Change that one step makes in the figures, in percentage points; None where one of the two has none."""

    step: str
    clay_pct: float | None
    silt_pct: float | None
    sand_pct: float | None
    sentence: str


@dataclass(frozen=True, slots=True)
class Explanation:
    """Every correction of one run with its size."""

    label: str
    method_code: str
    readings: tuple[ExplainedReading, ...]
    """In order of elapsed time; readings that are no data are left out."""
    effects: tuple[StepEffect, ...]
    """In the order of the computation; steps that this run does not take are left out."""
    clay_pct: float | None
    silt_pct: float | None
    sand_pct: float | None


def explain(record: RunRecord, method: MethodEdition) -> Explanation:
    """
    Every correction of one run, as data.

    Raises
    ------
    DistributionError when the record cannot be computed at all.
    """
    refuse_impossible(record)
    record = with_blanks_served(record, method)
    mass = portion_mass(record)
    points = () if mass is None else smoothed(size_points(record, method, mass.mass_g))
    reported = _parts(record, method)
    effects: list[StepEffect] = []
    for step, sentence, without in STEPS:
        changed = without(record, method)
        if changed is not None:
            effects.append(_effect(step, sentence, reported, _parts_without(changed, method)))
    if any(point.percent_finer != point.percent_finer_curve for point in points):
        effects.append(_effect(*SMOOTHING, reported, _parts(record, method, smooth=False)))
    if (as_weighed := SAND_AT_LIMIT[2](record, method)) is not None:
        effects.append(_effect(*SAND_AT_LIMIT[:2], reported, _parts(record, as_weighed)))
    return Explanation(
        label=record.label,
        method_code=method.code,
        readings=tuple(_reading(record, point) for point in points),
        effects=tuple(effects),
        clay_pct=reported and reported.clay,
        silt_pct=reported and reported.silt,
        sand_pct=reported and reported.sand,
    )


def _parts(record: RunRecord, method: MethodEdition, *, smooth: bool = True) -> SandSiltClay[float] | None:
    """Sand, silt and clay; None when a limit is not reached. [%]"""
    mass = portion_mass(record)
    if mass is None:
        return None
    points = size_points(record, method, mass.mass_g)
    fractions = take_fractions(record, method, smoothed(points) if smooth else points, mass.mass_g).fractions
    return None if fractions is None else fractions.percents


def _parts_without(record: RunRecord, method: MethodEdition) -> SandSiltClay[float] | None:
    """Sand, silt and clay of a run that lacks a step; None when the calibration does not reach without it."""
    try:
        return _parts(record, method)
    except (DepthOutsideTableError, ScaleCorrectionError):
        return None


def _effect(
    step: str, sentence: str, reported: SandSiltClay[float] | None, without: SandSiltClay[float] | None
) -> StepEffect:
    if reported is None or without is None:
        missing = "The run has no figures" if reported is None else "Without it there would be no figures"
        return StepEffect(step, None, None, None, f"{sentence} {missing}.")
    sand, silt, clay = (a - b for a, b in zip(reported, without, strict=True))
    if max(abs(clay), abs(silt), abs(sand)) < CHANGE_SHOWN_PCT:
        return StepEffect(step, clay, silt, sand, f"{sentence} It changes no figure of this run.")
    changes = f"clay {clay:+.2f}, silt {silt:+.2f}, sand {sand:+.2f} percentage points"
    return StepEffect(step, clay, silt, sand, f"{sentence} It changes {changes}.")


def _reading(record: RunRecord, point: SizePoint) -> ExplainedReading:
    stem, taken_from = record.hydrometer, record.readings[point.reading_index]
    blank, by_scale, by_temperature = None, 0.0, 0.0
    other = rule_correction(record, taken_from) or 0.0
    if record.correction is Correction.MEASURED_BLANK and taken_from.blank_reading is not None:
        blank, other = taken_from.blank_reading, blank_liquid_correction(record)
        by_scale = scale_correction(stem, blank)
        blank_c = taken_from.blank_temperature_c
        by_temperature = temperature_difference_correction(
            stem.scale, taken_from.at_c, taken_from.at_c if blank_c is None else blank_c
        )
    return ExplainedReading(
        reading_index=point.reading_index,
        elapsed_s=point.elapsed_s,
        raw=point.reading,
        scale_correction=scale_correction(stem, point.reading),
        blank_reading=blank,
        blank_scale_correction=by_scale,
        blank_temperature_correction=by_temperature,
        other_correction=other,
        net=above_zero(stem.scale, point.reading) - point.correction_graduations,
        factor=concentration_factor(stem.scale, record.particle_density_g_cm3),
        concentration_g_l=point.concentration_g_l,
        effective_depth_cm=point.effective_depth_cm,
        diameter_um=point.diameter_um,
        percent_finer=point.percent_finer,
        percent_finer_curve=point.percent_finer_curve,
    )
