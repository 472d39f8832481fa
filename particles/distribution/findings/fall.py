"""Findings on how a run falls: rising, gelled, stuck, flocculated, below nothing."""

from __future__ import annotations

from itertools import groupby, pairwise
from math import inf, log, pi, sqrt

from particles.distribution.inputs.noise import blank_line, reading_sd_g_l, steady_nets_g_l
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import Correction, Finding, RunRecord, Severity, SizePoint

Points = tuple[SizePoint, ...]
GEL_FROM_S = 1800.0
LATE_FROM_S = 3600.0
CLEAR_SHARE = 0.1
MUCH_EARLY_PCT = 20.0
"""So much at the start and so little at the end is either a soil without clay or flocculation."""
STUCK_TOO_MANY = 7
STUCK_LEAST_G_L = 3.0
"""So many equal readings are odd by themselves, unless the water is clear."""
STUCK_ALL_DAY_S = 72_000.0
"""Equal from the first reading to the last, over so long: as odd, however few."""
STUCK_TREND_SHARE = 0.25
"""A curve that was falling goes on falling at no less than this share of its rate; common practice."""


def falling_findings(record: RunRecord, method: MethodEdition, points: Points) -> list[Finding]:
    """Rising, gelled, stuck, fallen too fast, clear too soon, below zero."""
    nets = steady_nets_g_l(record, points)
    own = reading_sd_g_l(record, method)
    found = _rising(method, points, nets, own) + _gel(method, points, nets, own)
    found += _stuck(record, method, points, nets, own) + _fast_fall(method, points)
    return found + _clear_late(record, method, points) + _negative(record, method, points, nets, own)


def _rising(method: MethodEdition, points: Points, nets: tuple[float, ...], own: float) -> list[Finding]:
    limits, noise = method.limits, sqrt(2.0) * own
    found: list[Finding] = []
    for (before, was), (after, now) in pairwise(zip(points, nets, strict=True)):
        # Rounded so that a rise of exactly one scale step is not pushed over by the last binary digit.
        rise = round(now - was, 6)
        if rise <= limits.rise_warn_g_l:
            continue
        severity, beside = Severity.NOTE, "; reading noise can do as much"
        if rise > limits.rise_warn_sd * noise:
            severity, beside = Severity.WARN, "; a settling suspension cannot"
        if rise > max(limits.rise_stop_g_l, limits.rise_stop_sd * noise):
            severity = Severity.STOP
        sentence = (
            f"The corrected reading rises from {was:.2f} g/L at {before.elapsed_s:g} s to {now:.2f} g/L at "
            f"{after.elapsed_s:g} s{beside}."
        )
        step = "Look for a typing slip, another cylinder, temperature, foam or flocculation."
        found.append(Finding("rising_reading", severity, sentence, step, rise, "g/L", after.reading_index))
    return found


def _gel(method: MethodEdition, points: Points, nets: tuple[float, ...], own: float) -> list[Finding]:
    """Late readings that stay above an earlier one, to the end and more than once."""
    limit = max(method.limits.rise_stop_g_l, method.limits.noise_stop_sd * sqrt(2.0) * own)
    for k in range(1, len(points) - 1):
        lowest_after = min(nets[k:])
        if points[k].elapsed_s >= GEL_FROM_S and lowest_after - min(nets[:k]) > limit:
            sentence = (
                f"From {points[k].elapsed_s:g} s on every reading stays at least "
                f"{lowest_after - min(nets[:k]):.1f} g/L above an earlier one."
            )
            step = (
                "Look for gel or salts, a hydrometer that hangs, or another cylinder; the run is void then."
            )
            number = lowest_after - min(nets[:k])
            return [
                Finding(
                    "gel_suspected", Severity.WARN, sentence, step, number, "g/L", points[k].reading_index
                )
            ]
    return []


def _stuck(
    record: RunRecord, method: MethodEdition, points: Points, nets: tuple[float, ...], own: float
) -> list[Finding]:
    """Equal values in a row where the curve before them was still falling."""
    found: list[Finding] = []
    for value, run in groupby(range(len(points)), key=lambda k: points[k].reading):
        same = list(run)
        first, last = same[0], same[-1]
        span_s = points[last].elapsed_s - points[first].elapsed_s
        if len(same) < method.limits.stuck_readings or span_s < method.limits.stuck_span_s:
            continue
        expected = _expected_fall_g_l(points, nets, first, last)
        # Without silt nothing falls from the first reading to the last; but then all of the portion is sand or clay.
        all_day = len(same) == len(points) and span_s >= STUCK_ALL_DAY_S
        too_many = (all_day or len(same) >= STUCK_TOO_MANY) and nets[first] > STUCK_LEAST_G_L
        if not too_many and expected <= method.limits.noise_warn_sd * sqrt(2.0) * own:
            continue
        sentence = f"{len(same)} readings in a row are {value:g}, over {span_s / 3600.0:.1f} h; "
        sentence += (
            f"a fall of about {expected:.1f} g/L was due."
            if expected > 0.0
            else "noise alone would have moved some."
        )
        step = "Check for a stuck hydrometer or copied values."
        index = points[last].reading_index
        found.append(Finding("stuck_reading", Severity.WARN, sentence, step, float(len(same)), "", index))
    return found


def _expected_fall_g_l(points: Points, nets: tuple[float, ...], first: int, last: int) -> float:
    """What the trend before the equal values would still have given, no more than is left. [g/L]"""
    if first == 0:
        return 0.0
    # The lower of the rates over the last one and two steps: a narrow heap of silt ends as steeply as it fell.
    rate = min(
        (nets[start] - nets[first]) / log(points[first].elapsed_s / points[start].elapsed_s)
        for start in {first - 1, max(first - 2, 0)}
    )
    due = STUCK_TREND_SHARE * rate * log(points[last].elapsed_s / points[first].elapsed_s)
    return min(due, nets[first])


def _fast_fall(method: MethodEdition, points: Points) -> list[Finding]:
    limits = method.limits
    found: list[Finding] = []
    for before, after in pairwise(points):
        ratio = before.diameter_um / after.diameter_um
        fall = before.percent_finer - after.percent_finer
        most = limits.fast_fall_pct_per_halving * max(ratio - 1.0, 0.5)
        if before.diameter_um <= limits.fast_fall_finer_than_um and fall > most:
            sentence = (
                f"{fall:.0f} % of the soil left between {before.diameter_um:.1f} and "
                f"{after.diameter_um:.1f} µm, faster than dispersed soil settles."
            )
            step = "Look for clear water with a sharp front; then the soil flocculated: void the run."
            found.append(
                Finding("fell_too_fast", Severity.WARN, sentence, step, fall, "%", after.reading_index)
            )
    return found


def _clear_late(record: RunRecord, method: MethodEdition, points: Points) -> list[Finding]:
    """Nothing left at the end of a soil that felt clayey."""
    if not points or points[-1].elapsed_s < LATE_FROM_S or record.field_clayey is False:
        return []
    early, late = points[0], points[-1]
    number, index = late.percent_finer, late.reading_index
    if record.field_clayey is None:
        if late.percent_finer >= CLEAR_SHARE * early.percent_finer or early.percent_finer < MUCH_EARLY_PCT:
            return []
        sentence = (
            f"{early.percent_finer:.0f} % was in suspension at {early.elapsed_s:g} s and {number:.1f} % at "
            f"{late.elapsed_s:g} s; the feel of the sample was not noted."
        )
        step = "A soil without clay does that. If it feels clayey it flocculated: void the run, wash out the salts."
        return [Finding("clear_late", Severity.NOTE, sentence, step, number, "%", index)]
    if late.percent_finer >= method.limits.clear_late_pct:
        return []
    sentence = (
        f"The sample felt clayey, yet only {late.percent_finer:.1f} % is left in suspension at "
        f"{late.elapsed_s:g} s."
    )
    step = "Look for clear water over a fluffy bottom: flocculated; wash out the salts and repeat the run."
    return [Finding("flocculation_suspected", Severity.WARN, sentence, step, number, "%", index)]


def _negative(
    record: RunRecord, method: MethodEdition, points: Points, nets: tuple[float, ...], own: float
) -> list[Finding]:
    """Every reading below its blank, and whether the last ones together are more than noise."""
    found: list[Finding] = []
    worst = _below_zero_sds(record, method, nets, own)
    severity = Severity.NOTE
    if worst > method.limits.noise_warn_sd:
        far = worst > method.limits.noise_stop_sd and min(nets) < method.limits.negative_stop_g_l
        severity = Severity.STOP if far else Severity.WARN
    lowest = min((point.concentration_g_l for point in points), default=0.0)
    for point in points:
        held = point.concentration_g_l
        if held >= 0.0:
            continue
        grade = Severity.WARN if severity is Severity.STOP and held > lowest else severity
        at = f"at {point.elapsed_s:g} s"
        sentence = f"The corrected reading {at} is below zero: {held:.2f} g/L; it is shown as it is."
        step = "Check the blank; a small negative means no clay."
        found.append(Finding("negative_reading", grade, sentence, step, held, "g/L", point.reading_index))
    return found


def _below_zero_sds(record: RunRecord, method: MethodEdition, nets: tuple[float, ...], own: float) -> float:
    """How far the mean of the last readings, however many, lies below zero, in its standard deviations."""
    shared = method.uncertainties.blank_g_l if record.correction is Correction.MEASURED_BLANK else 0.0
    line = blank_line(record)
    blanks = len(line.apart_g_l) * 2.0 / pi if line else 1.0
    worst = 0.0
    for count in range(1, len(nets) + 1):
        single = own**2 / count + (own**2 / blanks if line else own**2 / count) + shared**2
        below = -sum(nets[-count:]) / count
        if below > 0.0:
            worst = max(worst, below / sqrt(single) if single else inf)
    return worst
