"""Findings on the readings of one run: what a person must know before the figures are believed."""

from __future__ import annotations

from itertools import groupby, pairwise

from .hydrometer import above_zero, soil_per_scale_unit_g_l
from .methods import MethodEdition
from .portion import PortionMass
from .quantities import Finding, HydrometerScale, ReadingPoint, ReadingState, RunRecord, Severity, SizePoint

RISE_WARN_G_L = 0.5
RISE_STOP_G_L = 1.0
NEGATIVE_STOP_G_L = -0.5
PORTION_EXCESS = 1.02
ADJUSTMENT_WARN_PCT = 1.0
ADJUSTMENT_STOP_PCT = 3.0
TEMPERATURE_JUMP_C = 2.0
STUCK_READINGS = 4
STUCK_SPAN_S = 3600.0
REYNOLDS_LIMIT = 1.0
FAST_FALL_FINER_THAN_UM = 30.0
FAST_FALL_PCT_PER_HALVING = 50.0
"""Percent finer lost while the diameter halves; no dispersed soil falls so fast. Common practice."""


def slot_findings(record: RunRecord) -> list[Finding]:
    """reading_missed, above_scale, below_scale: slots that hold no usable number."""
    found: list[Finding] = []
    last = len(record.readings) - 1
    for index, point in enumerate(record.readings):
        if point.state is ReadingState.MISSED:
            severity = Severity.WARN if index in (0, 1, last) else Severity.NOTE
            sentence = f"The reading at {point.elapsed_s:g} s was missed; nothing stands in for it."
            step = "Check that the others still bracket the size limits."
            found.append(
                Finding("reading_missed", severity, sentence, step, point.elapsed_s, "s", reading_index=index)
            )
        else:
            found += _off_the_stem(record, index, point)
    return found


def _off_the_stem(record: RunRecord, index: int, point: ReadingPoint) -> list[Finding]:
    low, high = record.hydrometer.scale_minimum, record.hydrometer.scale_maximum
    value = point.reading
    if point.state is ReadingState.ABOVE_SCALE or (value is not None and value > high):
        shown = "beyond" if value is None else f"{value:g}, beyond"
        sentence = (
            f"The reading at {point.elapsed_s:g} s is {shown} the stem's end at {high:g}; it is no data."
        )
        step = "Run the sample again with less soil."
        return [Finding("above_scale", Severity.STOP, sentence, step, high, "", reading_index=index)]
    if value is not None and value < low:
        sentence = f"The reading at {point.elapsed_s:g} s is {value:g}, below the stem's start at {low:g}."
        step = "Check the entry and the instrument."
        return [Finding("below_scale", Severity.STOP, sentence, step, value, "", reading_index=index)]
    return []


def point_findings(record: RunRecord, points: tuple[SizePoint, ...], mass: PortionMass) -> list[Finding]:
    """more_than_portion, negative_reading, rising_reading, fell_too_fast, beyond_stokes."""
    found: list[Finding] = []
    most_g_l = PORTION_EXCESS * mass.mass_g / (record.volume_ml / 1000.0)
    for point in points:
        at, held, index = f"at {point.elapsed_s:g} s", point.concentration_g_l, point.reading_index
        if held > most_g_l:
            sentence = f"{held:.1f} g/L in suspension {at}; the portion can give {most_g_l:.1f} g/L at most."
            step = "Check mass, hydrometer scale and cylinder."
            found.append(Finding("more_than_portion", Severity.STOP, sentence, step, held, "g/L", index))
        if held < 0.0:
            severity = Severity.WARN if _net_g_l(record, point) > NEGATIVE_STOP_G_L else Severity.STOP
            sentence = f"The corrected reading {at} is below zero: {held:.2f} g/L; it is shown as it is."
            step = "Check the blank; a small negative means no clay."
            found.append(Finding("negative_reading", severity, sentence, step, held, "g/L", index))
    return found + _rising(record, points) + _fast_fall(points) + _beyond_stokes(points)


def _net_g_l(record: RunRecord, point: SizePoint) -> float:
    """Corrected reading as g/L of soil of 2.65, so that one limit serves both stems."""
    scale = record.hydrometer.scale
    net = above_zero(scale, point.reading) - point.correction_g_l
    per_unit = 1.0 if scale is HydrometerScale.GRAMS_PER_LITRE else soil_per_scale_unit_g_l(scale) / 1000.0
    return net * per_unit


def _rising(record: RunRecord, points: tuple[SizePoint, ...]) -> list[Finding]:
    found: list[Finding] = []
    for before, after in pairwise(points):
        was, now = _net_g_l(record, before), _net_g_l(record, after)
        # Rounded so that a rise of exactly one scale step is not pushed over by the last binary digit.
        rise = round(now - was, 6)
        if rise > RISE_WARN_G_L:
            found.append(
                Finding(
                    "rising_reading",
                    Severity.STOP if rise > RISE_STOP_G_L else Severity.WARN,
                    f"The corrected reading rises from {was:.2f} g/L at {before.elapsed_s:g} s to "
                    f"{now:.2f} g/L at {after.elapsed_s:g} s; a settling suspension cannot.",
                    "Look for a typing slip, another cylinder, temperature, foam or flocculation.",
                    rise,
                    "g/L",
                    after.reading_index,
                )
            )
    return found


def _fast_fall(points: tuple[SizePoint, ...]) -> list[Finding]:
    found: list[Finding] = []
    for before, after in pairwise(points):
        ratio = before.diameter_um / after.diameter_um
        fall = before.percent_finer - after.percent_finer
        if before.diameter_um <= FAST_FALL_FINER_THAN_UM and fall > FAST_FALL_PCT_PER_HALVING * max(
            ratio - 1.0, 0.5
        ):
            found.append(
                Finding(
                    "fell_too_fast",
                    Severity.WARN,
                    f"{fall:.0f} % of the soil left between {before.diameter_um:.1f} and "
                    f"{after.diameter_um:.1f} µm, faster than dispersed soil settles.",
                    "Look for clear water with a sharp front; then the soil flocculated: void the run.",
                    fall,
                    "%",
                    after.reading_index,
                )
            )
    return found


def _beyond_stokes(points: tuple[SizePoint, ...]) -> list[Finding]:
    found: list[Finding] = []
    for point in points:
        if point.reynolds > REYNOLDS_LIMIT:
            sentence = f"{point.diameter_um:.0f} µm settles at a Reynolds number of {point.reynolds:.2f}."
            step = "Take sizes this coarse from sieves; Stokes does not hold there."
            found.append(
                Finding(
                    "beyond_stokes", Severity.WARN, sentence, step, point.reynolds, "", point.reading_index
                )
            )
    return found


def smoothing_findings(largest_pct: float) -> list[Finding]:
    """curve_adjusted: how much the smoothing had to move."""
    if largest_pct <= ADJUSTMENT_WARN_PCT:
        return []
    severity = Severity.STOP if largest_pct > ADJUSTMENT_STOP_PCT else Severity.WARN
    sentence = f"Keeping the curve from rising moved a point by {largest_pct:.2f} percentage points."
    step = "Look at the rising readings; repeat the run if they stand."
    return [Finding("curve_adjusted", severity, sentence, step, largest_pct, "%")]


def steadiness_findings(record: RunRecord) -> list[Finding]:
    """temperature_jump, stuck_reading."""
    found: list[Finding] = []
    logged = [(k, point) for k, point in enumerate(record.readings) if point.temperature_c is not None]
    for (_, before), (index, after) in pairwise(logged):
        jump = after.at_c - before.at_c
        if abs(jump) > TEMPERATURE_JUMP_C:
            sentence = f"The suspension's temperature moved by {jump:+.1f} °C before {after.elapsed_s:g} s."
            step = "Check the thermometer; keep the bench within 2 °C."
            found.append(Finding("temperature_jump", Severity.WARN, sentence, step, jump, "°C", index))
    read = [(k, point) for k, point in enumerate(record.readings) if point.reading is not None]
    for value, run in groupby(read, key=lambda pair: pair[1].reading):
        same = list(run)
        span_s = same[-1][1].elapsed_s - same[0][1].elapsed_s
        if len(same) >= STUCK_READINGS and span_s >= STUCK_SPAN_S:
            sentence = f"{len(same)} readings in a row are {value:g}, over {span_s / 3600.0:.1f} h."
            step = "Check for a stuck hydrometer or copied values."
            found.append(
                Finding("stuck_reading", Severity.WARN, sentence, step, float(len(same)), "", same[-1][0])
            )
    return found


def method_findings(method: MethodEdition) -> list[Finding]:
    """by_time_only: the edition's results carry names of time, not of size."""
    if method.certifiable:
        return []
    sentence = f"{method.title}: results carry their own names and are no fractions at size limits."
    step = "Do not print them as sand, silt and clay; use an edition that reaches 2 µm."
    return [Finding("by_time_only", Severity.STOP, sentence, step)]
