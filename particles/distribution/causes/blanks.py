"""The one cause behind everything that is found on a batch's blank: where it moved, by how much, and what that does."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean, median

from particles.distribution.answer import Severity
from particles.distribution.causes.cause import SHARED_PCT, Cause, Needs, Remedy, Told, cause_of
from particles.distribution.causes.effects import effect_of
from particles.distribution.causes.evidence import RunEvidence
from particles.distribution.causes.remedies import with_blank_moved
from particles.distribution.findings.blank_level import expected_level_g_l
from particles.distribution.inputs.blank_series import blank_series, series_line
from particles.distribution.inputs.noise import unit_g_l
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import HydrometerScale, RunRecord

MOVED = frozenset(
    [
        "blank_drift",
        "blank_trend",
        "blank_against_temperature",
        "blank_copied",
        "blank_far_in_time",
        "blank_moved",
        "slot_rises_in_batch",
        "blank_apart_from_batch",
    ]
)
"""Codes that speak of one blank that moved, or of one reading of it that is wrong."""
COMPANIONS = frozenset(["temperature_copied", "temperature_unchanged"])
"""Codes that a moved blank raises too, by moving where the temperature did not."""
LEVEL = frozenset(["blank_level", "blank_without_dispersant", "blank_unusual", "blank_impossible"])
"""Codes that speak of a blank that lies elsewhere than its dispersant puts it, from the first reading on."""


LEAST_SERIES = 3
"""Fewer readings of a blank do not tell which of them moved."""


def is_of_all_runs(cause: Cause) -> bool:
    """Whether a cause is the blank's, which no run of the batch stands apart from."""
    return cause.remedy is Remedy.BLANK or cause.kind in MOVED | LEVEL


def is_another_blank(cause: Cause) -> bool:
    """Whether it says that the blank holds something else than its dispersant, which reading it rightly leaves true."""
    return cause.kind in LEVEL


@dataclass(frozen=True, slots=True)
class BlankStep:
    """Where the blank lies elsewhere, and by how much."""

    slots: tuple[int, ...]
    g_l: float


def blank_causes(
    runs: Sequence[RunEvidence], told: Mapping[str, Sequence[Told]], method: MethodEdition
) -> list[Cause]:
    """
    One cause for a blank that moved and one for a blank at another level, however many findings speak of them.

    Parameters
    ----------
    told : label -> findings on that run.
    """
    found: list[Cause] = []
    for codes in (MOVED, LEVEL):
        speaking = [each for run in runs for each in told.get(run.label, ()) if each.code in codes]
        if codes is MOVED and any(each.severity is not Severity.NOTE for each in speaking):
            speaking += [each for run in runs for each in told.get(run.label, ()) if each.code in COMPANIONS]
        if speaking:
            found.append(_one(runs, speaking, method, level=codes is LEVEL))
    return found


def _one(
    runs: Sequence[RunEvidence], speaking: Sequence[Told], method: MethodEdition, *, level: bool
) -> Cause:
    worst = max(speaking, key=_weight)
    concerned = [run for run in runs if run.label in {each.label for each in speaking}]
    steps = {
        run.label: step
        for run in runs
        if (step := level_step(run.record) if level else moved_step(run.record))
    }
    shared = median(step.g_l for step in steps.values()) if steps else 0.0
    effects = []
    # A moved blank is every run's; a run of its own blank is its own.
    for run in concerned if level else runs:
        step = steps.get(run.label)
        if step is not None and worst.severity is not Severity.NOTE:
            units = -step.g_l / _unit_g_l(run.record)
            effects.append(effect_of(run, with_blank_moved(run.record, step.slots, units), method))
    needs = Needs.LOOK
    if worst.severity is not Severity.NOTE:
        decisive = worst.severity is Severity.STOP or any(
            effect.decisive or effect.largest_pct >= SHARED_PCT for effect in effects
        )
        needs = Needs.DECISION if decisive else Needs.NOTE
    first = next(iter(steps.values()), None)
    return cause_of(
        worst,
        (run.label for run in (concerned if level else runs)),
        needs=needs,
        told_by=tuple(speaking),
        remedy=Remedy.BLANK if effects else Remedy.NONE,
        slots=() if first is None else first.slots,
        step_g_l=shared if effects else None,
        effects=tuple(effects),
    )


def _weight(told: Told) -> tuple[int, bool]:
    """The gravest finding speaks; of two as grave, not the companion."""
    return told.severity.weight, told.code not in COMPANIONS


def moved_step(record: RunRecord) -> BlankStep | None:
    """
    The slot at which a blank moved, and by how much, by least squares over one slot or all from one on.

    None with fewer than three readings of the blank.
    """
    series = blank_series(record)
    line = series_line(series)
    if line is None or len(series) < LEAST_SERIES:
        return None
    values = [line.difference_g_l[place] for place in range(len(series))]
    best: tuple[float, BlankStep] | None = None
    for start in range(1, len(series)):
        for stop in {start + 1, len(series)}:
            inside, outside = values[start:stop], values[:start] + values[stop:]
            left = _squares(inside) + _squares(outside)
            if best is None or left < best[0] - 1e-9:
                slots = tuple(dict.fromkeys(each.index for each in series[start:stop]))
                best = (left, BlankStep(slots, fmean(inside) - fmean(outside)))
    return None if best is None else best[1]


def level_step(record: RunRecord) -> BlankStep | None:
    """How far the whole blank lies from what its dispersant gives; None without a level of its own."""
    series = blank_series(record)
    line = series_line(series)
    if line is None:
        return None
    own_g_l = record.blank_dispersant_g_l
    expected_g_l = expected_level_g_l(record, record.dispersant_g_l if own_g_l is None else own_g_l)
    step = line.level_g_l - expected_g_l
    return BlankStep(tuple(dict.fromkeys(each.index for each in series)), step)


def _squares(values: Sequence[float]) -> float:
    middle = fmean(values)
    return sum((value - middle) ** 2 for value in values)


def _unit_g_l(record: RunRecord) -> float:
    unit = unit_g_l(record.hydrometer.scale)
    return unit * 1000.0 if record.hydrometer.scale is HydrometerScale.RELATIVE_DENSITY else unit
