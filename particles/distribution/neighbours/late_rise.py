"""A late rise of one run while its neighbours, with the same blank, go on falling."""

from __future__ import annotations

from collections.abc import Sequence

from particles.distribution.answer import Finding, Severity, SizeDistribution
from particles.distribution.findings.catalogue import finding
from particles.distribution.inputs.late_rise import LATE_RISE_FROM_S, rises_off_the_stem
from particles.distribution.record import RunRecord

LEAST_SOUND = 3
"""So many neighbours without a late rise say that blank, lot and hydrometer are sound. *Common practice*."""
_TELL = frozenset({"rising_reading", "gel_suspected", "above_scale"})


def late_rise(record: RunRecord, distribution: SizeDistribution) -> Finding | None:
    """The most serious finding of a late rise far beyond reading noise; None for a run without one."""
    for found in distribution.findings:
        index = found.reading_index
        if found.code not in _TELL or index is None:
            continue
        if found.code == "rising_reading" and found.severity is not Severity.STOP:
            continue
        late = record.readings[index].elapsed_s >= LATE_RISE_FROM_S
        if late and (found.code != "above_scale" or rises_off_the_stem(record, index)):
            return found
    return None


def late_rises_alone(
    runs: Sequence[tuple[RunRecord, SizeDistribution]],
) -> list[tuple[Finding, str]]:
    """late_rise_alone, with the label of its run, for each that rises late while at least so many others do not."""
    rises = [late_rise(record, distribution) for record, distribution in runs]
    sound = sum(
        rise is None and bool(distribution.points)
        for rise, (_, distribution) in zip(rises, runs, strict=True)
    )
    if sound < LEAST_SOUND:
        return []
    return [
        (
            finding(
                "late_rise_alone",
                number=float(sound),
                reading_index=rise.reading_index,
                label=record.label,
                elapsed_s=record.readings[rise.reading_index].elapsed_s,
            ),
            record.label,
        )
        for rise, (record, _) in zip(rises, runs, strict=True)
        if rise is not None and rise.reading_index is not None
    ]
