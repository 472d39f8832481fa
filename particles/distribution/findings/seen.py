"""Findings on what a person saw at the cylinder, and on the clock the times came from."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from particles.distribution.answer import Finding, Severity
from particles.distribution.findings.catalogue import finding
from particles.distribution.findings.catalogue.bench import AT_A_READING
from particles.distribution.record import RunRecord, Seen, Sight

REACH: Mapping[Sight, Severity] = MappingProxyType(
    {
        Sight.FOAM: Severity.NOTE,
        Sight.ROOTS: Severity.NOTE,
        Sight.ALCOHOL: Severity.NOTE,
        Sight.BUMPED: Severity.NOTE,
        Sight.LEFT_IN: Severity.WARN,
        Sight.CLEAR_ABOVE: Severity.WARN,
        Sight.SPILL: Severity.STOP,
        Sight.DOUBTFUL: Severity.WARN,
    }
)
"""How far each sight reaches. *Common practice*."""


def seen_findings(record: RunRecord) -> list[Finding]:
    """run_void, seen, time_doubtful: what nobody can compute from the numbers."""
    found = [_seen(each) for each in record.seen if not (record.void and each.what is Sight.SPILL)]
    found += _doubtful_times(record)
    if record.void:
        found.append(finding("run_void", why=record.void))
    return found


def _seen(each: Seen) -> Finding:
    what = f"At the blank: {each.what}" if each.at_blank else str(each.what)
    return finding(
        "seen",
        variant=each.what.name if each.slot_s is None else f"{each.what.name}{AT_A_READING}",
        severity=REACH[each.what],
        number=each.slot_s,
        what=what[0].upper() + what[1:],
        note=f" ({each.note})" if each.note else "",
    )


def _doubtful_times(record: RunRecord) -> list[Finding]:
    return [
        finding(
            "time_doubtful",
            variant="unknown" if point.time_doubt_s is None else "known",
            number=point.time_doubt_s,
            reading_index=index,
            elapsed_s=point.elapsed_s,
            why=point.time_doubt,
        )
        for index, point in enumerate(record.readings)
        if point.time_doubt
    ]
