"""Findings on what a person saw at the cylinder, and on the clock the times came from."""

from __future__ import annotations

from particles.distribution.record import Finding, RunRecord, Seen, Severity, Sight

_STEPS: dict[Sight, tuple[Severity, str]] = {
    Sight.FOAM: (Severity.NOTE, "Look whether the readings around it fit the rest."),
    Sight.ROOTS: (Severity.NOTE, "Look whether the readings around it fit the rest."),
    Sight.ALCOHOL: (Severity.NOTE, "Nothing to do: a drop does not change the density that is read."),
    Sight.BUMPED: (Severity.NOTE, "Look whether the curve jumps after it."),
    Sight.LEFT_IN: (
        Severity.WARN,
        "Particles settle on the shoulders: compare with runs read as the method says.",
    ),
    Sight.CLEAR_ABOVE: (
        Severity.WARN,
        "The soil may have flocculated. If it did, void the run and repeat it after washing out the salts.",
    ),
    Sight.SPILL: (
        Severity.STOP,
        "A run that lost soil or liquid is void: void it, or take the observation back if none was lost.",
    ),
    Sight.DOUBTFUL: (
        Severity.WARN,
        "Decide whether the reading stands; supersede it with a reason, or print this.",
    ),
}
"""How far each reaches, and what to do. *Common practice*."""


def seen_findings(record: RunRecord) -> list[Finding]:
    """run_void, seen, time_doubtful: what nobody can compute from the numbers."""
    found = [_seen(each) for each in record.seen if not (record.void and each.what is Sight.SPILL)]
    found += _doubtful_times(record)
    if record.void:
        step = "Repeat with a new portion, or report without figures."
        found.append(Finding("run_void", Severity.STOP, f"The run is void: {record.void}.", step))
    return found


def _seen(each: Seen) -> Finding:
    severity, step = _STEPS[each.what]
    place = "At the blank: " if each.at_blank else ""
    when = "" if each.slot_s is None else f", at the {each.slot_s:g} s reading"
    note = f" ({each.note})" if each.note else ""
    sentence = f"{place}{each.what}{when}{note}."
    return Finding(
        "seen", severity, sentence[0].upper() + sentence[1:], step, each.slot_s, "s" if when else ""
    )


def _doubtful_times(record: RunRecord) -> list[Finding]:
    found = []
    for index, point in enumerate(record.readings):
        if not point.time_doubt:
            continue
        off, unit = "How far it was off is unknown, so the interval does not hold it.", ""
        if point.time_doubt_s is not None:
            off = f"It was {point.time_doubt_s:+.1f} s off when the laboratory's time was back"
            off, unit = f"{off}, which the interval holds.", "s"
        sentence = (
            f"The time {point.elapsed_s:g} s comes from a tablet's clock that nothing proves: "
            f"{point.time_doubt}. {off}"
        )
        step = "Compare it with the notes of the bench; correct the time with a reason, or print this."
        found.append(
            Finding(
                "time_doubtful", Severity.WARN, sentence, step, point.time_doubt_s, unit, reading_index=index
            )
        )
    return found
