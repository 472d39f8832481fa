"""A wrong start of the timer, as far as sieve and hydrometer together can tell."""

from __future__ import annotations

from math import log

from particles.distribution.answer import Finding, SizePoint
from particles.distribution.curve.interpolation import segment_of
from particles.distribution.curve.points import by_size, read_at
from particles.distribution.findings.catalogue import finding
from particles.distribution.findings.join import join_finding
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import RunRecord
from particles.distribution.sieves.stack import percent_passing, sieved_portion_g

BELIEVABLE_S = (5.0, 60.0)
"""How far off, either way, a start may lie to be named as the cause. *Common practice*. [s]"""


def timer_findings(
    record: RunRecord, method: MethodEdition, points: tuple[SizePoint, ...], portion_g: float
) -> list[Finding]:
    """
    timer_suspected: the start that would close the step between sieve and hydrometer.

    A note beside join_apart, never alone: a wrong mass, washing or density opens the same step. Without a
    sieve a wrong start only bends the coarse end, by less than natural soils bend.
    """
    if record.sieving is None or not record.sieving.sieves:
        return []
    finest = percent_passing(record.sieving.sieves, sieved_portion_g(record.sieving, portion_g))[-1]
    at = read_at(points, method, finest.diameter_um, 1.0)
    joined = join_finding(record, method, points, portion_g, finest.diameter_um, finest.percent_finer)
    if at is None or joined.code != "join_apart":
        return []
    step_pct = finest.percent_finer - at.percent
    ordered = by_size(points)
    diameters = [point.diameter_um for point in ordered]
    percents = [point.percent_finer_curve for point in ordered]
    k = segment_of(diameters, finest.diameter_um)
    slope = (percents[k] - percents[k + 1]) / log(diameters[k] / diameters[k + 1])
    if slope <= 0.0:
        return []
    early_s = -2.0 * ordered[k].elapsed_s * step_pct / slope
    if not BELIEVABLE_S[0] <= abs(early_s) <= BELIEVABLE_S[1]:
        return []
    return [
        finding(
            "timer_suspected",
            variant="early" if early_s > 0.0 else "late",
            number=early_s,
            reading_index=ordered[k].reading_index,
            start_s=abs(early_s),
        )
    ]
