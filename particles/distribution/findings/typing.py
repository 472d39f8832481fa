"""One reading that does not belong to its curve, and the slips of the hand that would explain it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

from particles.distribution.answer import Finding, SizePoint
from particles.distribution.findings.catalogue import finding
from particles.distribution.inputs.late_rise import LATE_RISE_FROM_S, rises_off_the_stem
from particles.distribution.inputs.noise import reading_sd_g_l, steady_nets_g_l
from particles.distribution.method.edition import MethodEdition
from particles.distribution.possible import STEM_POSSIBLE
from particles.distribution.record import ReadingState, RunRecord

LEAST_POINTS = 3
"""Of two readings that contradict each other neither can be blamed."""


def slips(typed: float) -> dict[float, str]:
    """
    Values that could have been meant, with the slip that leads from each to what was typed.

    >>> slips(63.0)[36.0]
    'two digits exchanged'
    """
    text = f"{typed:g}"
    meant = {typed - 10.0: "10 too many", typed + 10.0: "10 too few"}
    meant[typed / 10.0] = "a decimal point missing"
    digits = [k for k, sign in enumerate(text) if sign.isdigit()]
    for a, b in pairwise(digits):
        swapped = list(text)
        swapped[a], swapped[b] = swapped[b], swapped[a]
        if swapped[a] != swapped[b]:
            meant[float("".join(swapped))] = "two digits exchanged"
    return {round(value, 6): slip for value, slip in meant.items() if value >= 0.0}


def typing_findings(record: RunRecord, method: MethodEdition, points: tuple[SizePoint, ...]) -> list[Finding]:
    """typo_suspected: a reading outside the band its neighbours leave, where leaving it out heals the curve."""
    nets = steady_nets_g_l(record, points)
    if len(nets) < LEAST_POINTS:
        return []
    slack = _slack_g_l(record, method)
    found = _off_stem(record, points, nets, slack)
    rises = {k for k in range(1, len(nets)) if nets[k] - nets[k - 1] > slack}
    # Two late rises in a row are salts or gel, which no slip of the pen writes.
    steady = {k for k in rises if points[k].elapsed_s >= LATE_RISE_FROM_S and rises & {k - 1, k + 1}}
    blamed = {_culprit(nets, k, slack) for k in rises - steady} - {None}
    return found + [
        _finding(record, points, nets, k, slack) for k in sorted(k for k in blamed if k is not None)
    ]


def _slack_g_l(record: RunRecord, method: MethodEdition) -> float:
    noise = method.limits.rise_warn_sd * 2.0**0.5 * reading_sd_g_l(record, method)
    return float(max(method.limits.rise_warn_g_l, noise))


def _culprit(nets: Sequence[float], k: int, slack: float) -> int | None:
    """Which of the two readings of a rise stands alone; None when leaving out either one does not heal it."""
    early, late = k - 1, k
    without_late = late + 1 >= len(nets) or nets[late + 1] - nets[early] <= slack
    without_early = early == 0 or nets[late] - nets[early - 1] <= slack
    if without_late == without_early:
        return _further_off(nets, early, late) if without_late else None
    return late if without_late else early


def _further_off(nets: Sequence[float], early: int, late: int) -> int:
    """The one further outside what its other neighbours span, where leaving out either would heal the rise."""
    above = nets[late] - (nets[early - 1] if early else nets[late])
    below = (nets[late + 1] if late + 1 < len(nets) else nets[early]) - nets[early]
    return late if above >= below else early


def _band(nets: Sequence[float], k: int) -> tuple[float, float]:
    """Lowest and highest a reading may be between the reading after it and the one before it. [g/L]"""
    return (nets[k + 1] if k + 1 < len(nets) else 0.0), (nets[k - 1] if k else nets[k + 1] + 1e9)


def _finding(
    record: RunRecord, points: tuple[SizePoint, ...], nets: Sequence[float], k: int, slack: float
) -> Finding:
    low, high = _band(nets, k)
    off = nets[k] - high if nets[k] > high else nets[k] - low
    point = points[k]
    fitting = _fitting(point.reading, low - nets[k] - slack, high - nets[k] + slack)
    return finding(
        "typo_suspected",
        variant="slip" if fitting else "unexplained",
        number=off,
        reading_index=point.reading_index,
        reading=point.reading,
        elapsed_s=point.elapsed_s,
        **fitting,
    )


def _fitting(typed: float, from_change: float, to_change: float) -> dict[str, Any]:
    """The first value that a slip of the hand turns into what was typed, with the slip; empty when none fits."""
    for value, slip in slips(typed).items():
        if from_change <= value - typed <= to_change:
            return {"fitting": value, "slip": slip}
    return {}


def _off_stem(
    record: RunRecord, points: tuple[SizePoint, ...], nets: Sequence[float], slack: float
) -> list[Finding]:
    """A value beyond the stem that a slip of the hand explains."""
    found = []
    readings = {point.reading_index: (point.reading, net) for point, net in zip(points, nets, strict=True)}
    for index, point in enumerate(record.readings):
        off = point.reading is not None and point.reading > record.hydrometer.scale_maximum
        if point.state is not ReadingState.READ or point.reading is None or not off:
            continue
        before = [value for k, (value, _) in readings.items() if k < index]
        after = [value for k, (value, _) in readings.items() if k > index]
        possible = point.reading <= STEM_POSSIBLE[record.hydrometer.scale].high
        if possible and not after and rises_off_the_stem(record, index):
            # A mark that some stem has, and nothing after it that falls back: salts or gel, not a slip of the pen.
            continue
        high = before[-1] + slack if before else record.hydrometer.scale_maximum
        low = after[0] - slack if after else record.hydrometer.scale_minimum
        fitting = _fitting(point.reading, low - point.reading, high - point.reading)
        if fitting:
            found.append(
                finding(
                    "typo_suspected",
                    variant="off_stem",
                    number=point.reading,
                    reading_index=index,
                    elapsed_s=point.elapsed_s,
                    **fitting,
                )
            )
    return found
