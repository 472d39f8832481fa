"""Causes from the findings of single runs: what its readings do, what its sieves do, and everything else by code."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from particles.distribution.answer import Severity
from particles.distribution.causes.cause import DECISIVE_PCT, Cause, Effect, Needs, Remedy, Told, cause_of
from particles.distribution.causes.effects import effect_of
from particles.distribution.causes.evidence import RunEvidence
from particles.distribution.causes.likelihood import join_step_pct, run_log_likelihood, seen_as
from particles.distribution.causes.remedies import left_out, with_mass
from particles.distribution.inputs.blank_series import blank_series
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import RunRecord

READINGS = frozenset(
    [
        "rising_reading",
        "gel_suspected",
        "stuck_reading",
        "typo_suspected",
        "curve_adjusted",
        "more_than_portion",
        "negative_reading",
        "timer_suspected",
        "temperature_jump",
        "temperature_apart_from_batch",
        "above_scale",
        "below_scale",
        "off_schedule",
        "time_doubtful",
        "sand_negative",
        "clay_negative",
        "silt_negative",
    ]
)
"""Codes of one run's readings: together they speak of one slip."""
FLOCCULATED = frozenset(["fell_too_fast", "flocculation_suspected"])
"""Codes of a suspension that flocculated: no percentage of it is ever reported once that is confirmed."""
NOT_FELT = "clear_late"
"""Code of a run that only the feel of its sample can judge, where it was not noted: clay may have gone unseen."""
MUCH_SILT_PCT = 60.0
"""Soils of so much silt and next to no clay are rare; flocculated ones look like them. *Common practice*. [%]"""
NOT_MEASURED = frozenset(["readings_copied"])
"""Codes of a column that may be no measurement at all: no figure shows what it would have been."""
JOIN = frozenset(["join_apart"])
SAME_JUMP_C = 0.7
"""Two thermometers in two cylinders of one room agree in a step to this. *Common practice*. [°C]"""
MOST_TRIED = 4
"""Slots tried at most for one run, the most suspect first."""


def is_flocculation(cause: Cause) -> bool:
    """Whether a cause says that the suspension flocculated, which no sheet or photograph of it disproves."""
    return bool(FLOCCULATED & {cause.kind, *(told.code for told in cause.told_by)})


def flocculated_causes(runs: Sequence[RunEvidence], told: Mapping[str, Sequence[Told]]) -> Iterator[Cause]:
    """One cause for each run that settled as no dispersed soil does."""
    for run in runs:
        speaking = [each for each in told.get(run.label, ()) if each.code in FLOCCULATED]
        speaking += (
            [each for each in told.get(run.label, ()) if each.code == "clear_late"] if speaking else []
        )
        if speaking:
            yield _told(speaking, (run.label,), Needs.DECISION, remedy=Remedy.AGAIN)


def reading_causes(
    runs: Sequence[RunEvidence], told: Mapping[str, Sequence[Told]], method: MethodEdition
) -> Iterator[Cause]:
    """One cause for each run whose readings do what no settling suspension does."""
    for run in runs:
        speaking = [each for each in told.get(run.label, ()) if each.code in READINGS]
        grave = [e for e in speaking if e.severity is not Severity.NOTE and not _blank_saw_it(run.record, e)]
        if not speaking:
            continue
        if not grave or _only_smoothed(run, grave):
            yield _told(speaking, (run.label,), Needs.LOOK)
            continue
        slots, effects = _best_left_out(run, grave, method)
        yield _told(
            speaking,
            (run.label,),
            _needs(grave, effects),
            remedy=Remedy.LEAVE_OUT if slots else Remedy.AGAIN,
            slots=slots,
            effects=effects,
        )


def unfelt_causes(runs: Sequence[RunEvidence], told: Mapping[str, Sequence[Told]]) -> Iterator[Cause]:
    """One cause for each run that looks like silt without clay, where nobody noted how the sample feels."""
    for run in runs:
        found = told.get(run.label, ())
        speaking = [each for each in found if each.code == NOT_FELT]
        if any(each.code in FLOCCULATED for each in found):
            continue  # told already
        if speaking and run.by_hand is None and run.reference is None and _mostly_silt(run):
            yield _told(speaking, (run.label,), Needs.DECISION, remedy=Remedy.AGAIN)


def _mostly_silt(run: RunEvidence) -> bool:
    fractions = None if run.distribution is None else run.distribution.fractions
    return fractions is not None and fractions.percents.silt >= MUCH_SILT_PCT


def join_causes(
    runs: Sequence[RunEvidence], told: Mapping[str, Sequence[Told]], method: MethodEdition
) -> Iterator[Cause]:
    """One cause for each run whose sieves and hydrometer do not meet, with the mass at which they would."""
    for run in runs:
        speaking = [each for each in told.get(run.label, ()) if each.code in JOIN]
        if not speaking:
            continue
        mass_g: float | None = None
        effects: tuple[Effect, ...] = ()
        step = None if run.distribution is None else join_step_pct(run.record, run.distribution)
        if step is not None and run.record.air_dry_mass_g is not None:
            mass_g = round(run.record.air_dry_mass_g * (1.0 - step / 100.0), 2)
            effects = (effect_of(run, with_mass(run.record, mass_g), method),)
        yield _told(
            speaking, (run.label,), _needs(speaking, effects), remedy=Remedy.MASS, mass_g=mass_g, effects=effects
        )  # fmt: skip


def other_causes(told: Iterable[Told]) -> Iterator[Cause]:
    """One cause for each code that is left, with all the runs that show it."""
    by_code: dict[tuple[str, str], list[Told]] = defaultdict(list)
    for each in told:
        # Columns copied in two places are two things.
        by_code[each.code, each.sentence if each.code in NOT_MEASURED else ""].append(each)
    for speaking in by_code.values():
        labels = tuple(dict.fromkeys(each.label for each in speaking))
        graver = speaking[0].code in NOT_MEASURED
        yield _told(
            speaking,
            labels,
            Needs.DECISION if graver else _needs(speaking, ()),
            remedy=Remedy.AGAIN if graver else Remedy.NONE,
        )


def _only_smoothed(run: RunEvidence, grave: Sequence[Told]) -> bool:
    """Whether nothing but the smoothing speaks, which moves no point by what needs a decision."""
    moved_pct = 0.0 if run.distribution is None else run.distribution.largest_adjustment_pct
    return {each.code for each in grave} == {"curve_adjusted"} and moved_pct < DECISIVE_PCT


def _blank_saw_it(record: RunRecord, told: Told) -> bool:
    """Whether a jump of the temperature is the room's: the blank beside it moved as far in the same step."""
    if told.code != "temperature_jump" or not told.reading_index:
        return False
    before, after = record.readings[told.reading_index - 1], record.readings[told.reading_index]
    series = blank_series(record)
    if before.temperature_c is None or after.temperature_c is None or not series:
        return False
    was, now = (min(series, key=lambda each: abs(each.at_s - p.elapsed_s)) for p in (before, after))
    return (
        abs((after.temperature_c - before.temperature_c) - (now.temperature_c - was.temperature_c))
        <= SAME_JUMP_C
    )


def _best_left_out(
    run: RunEvidence, grave: Sequence[Told], method: MethodEdition
) -> tuple[tuple[int, ...], tuple[Effect, ...]]:
    """The slot without which the run agrees best with itself, and what leaving it out does to the figures."""
    suspects: list[int] = []
    for each in grave:
        if each.reading_index is not None:
            suspects += [each.reading_index, each.reading_index - 1]
    tried = [slot for slot in dict.fromkeys(suspects) if slot >= 0][:MOST_TRIED]
    if not tried:
        return (), ()
    ranked = []
    for slot in tried:
        record = left_out(run.record, (slot,))
        ranked.append((run_log_likelihood(seen_as(run, record, method), method), slot, record))
    _, slot, record = max(ranked, key=lambda each: each[0])
    return (slot,), (effect_of(run, record, method),)


def _needs(speaking: Sequence[Told], effects: Sequence[Effect]) -> Needs:
    worst = max((each.severity for each in speaking), key=lambda severity: severity.weight)
    if worst is Severity.NOTE:
        return Needs.LOOK
    if worst is Severity.STOP or any(each.decisive for each in effects):
        return Needs.DECISION
    # An effect within what the interval of every figure allows is shown and asks for nothing.
    small = bool(effects) and all(each.after is not None for each in effects)
    return Needs.LOOK if small else Needs.NOTE


def _told(speaking: Sequence[Told], labels: tuple[str, ...], needs: Needs, **also: Any) -> Cause:
    """A cause in the words of the gravest finding that speaks of it."""
    worst = max(speaking, key=lambda each: each.severity.weight)
    return cause_of(worst, labels, needs=needs, told_by=tuple(speaking), **also)
