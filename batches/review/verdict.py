"""What quality control says of a batch, one line for each thing it looks at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.utils import timezone

from batches.bench.rules import newest_stirring
from batches.computing.models import Flag
from batches.corrections.models import filling_in_force
from batches.equipment.models import Instrument
from batches.exchanging.arrangement import arrangement_of
from batches.planning import rules as planning_rules
from batches.planning.models import Batch, Run
from batches.quality import judged_batch
from batches.quality import verdict as quality
from batches.quality.pairs import DUPLICATE_OUTSIDE_LIMIT, Pair, pairs_among
from batches.review.examination import ExaminedRun
from particles.distribution.causes.evidence import ControlOutcome

CODES = {"duplicates": (DUPLICATE_OUTSIDE_LIMIT,)}
"""Codes of the causes that tell the effect of a line."""


@dataclass(frozen=True)
class VerdictLine:
    """One thing that quality control looks at: passed, or what did not, as a sentence with its number."""

    name: str
    passed: bool
    sentence: str
    codes: tuple[str, ...] = ()
    """Codes of the findings that say the same of single runs: the causes that tell them hold the effect."""
    outcome: ControlOutcome | None = None
    """What the causes are told; None when it passed, or when findings of the runs tell them."""


@dataclass(frozen=True)
class Verdict:
    """The lines of one batch, in the order they are read."""

    lines: tuple[VerdictLine, ...]

    @property
    def passed(self) -> bool:
        """Whether every line passed."""
        return all(line.passed for line in self.lines)

    @property
    def outcomes(self) -> tuple[ControlOutcome, ...]:
        """What the causes are told of the lines that did not pass."""
        return tuple(line.outcome for line in self.lines if line.outcome is not None)

    @property
    def in_words(self) -> str:
        """All lines as one text."""
        return "\n".join(
            f"{line.name}: {'passed' if line.passed else 'did not pass'}. {line.sentence}"
            for line in self.lines
        )


def verdict_of(batch: Batch, runs: Sequence[ExaminedRun]) -> Verdict:
    """The verdict on a batch from its examined runs."""
    blank = runs[0].blank if runs else batch.blank
    if any(reading.reading is not None for reading in blank.readings.all()):
        return _judged(blank, runs, quality.verdict_of(batch))
    day = day_of(blank)
    return Verdict(
        (
            _blank(blank, runs),
            _duplicates(batch, runs),
            _instruments(batch, [blank, *(each.run for each in runs)], day),
            _lot(batch, day),
            _soak(batch),
        )
    )


def _judged(blank: Run, runs: Sequence[ExaminedRun], judged: judged_batch.Verdict) -> Verdict:
    """The verdict by limits in force, its line on the blank together with what the runs say of the blank."""
    own = _blank(blank, runs)
    lines = [
        VerdictLine(
            line.about.capitalize(),
            line.passed and (line.about != "blank" or own.passed),
            f"{line.sentence} {own.sentence}" if line.about == "blank" else line.sentence,
            own.codes if line.about == "blank" else CODES.get(line.about, ()),
        )
        for line in judged.lines
    ]
    return Verdict(tuple(lines))


def day_of(blank: Run) -> date:
    """The day on which the blank was started, or was to be."""
    start = newest_stirring(blank) or getattr(blank, "run_start", None)
    return timezone.localdate(blank.batch.planned_at if start is None else start.started_at)


def _blank(blank: Run, runs: Sequence[ExaminedRun]) -> VerdictLine:
    arrangement = runs[0].arrangement if runs else arrangement_of(blank.batch)
    missing = arrangement.missing(blank)
    read = [r for r in arrangement.readings(blank) if r.reading is not None]
    flagged = {
        flag.code
        for each in runs
        if each.result is not None
        for flag in each.result.flags.all()
        if flag.code.startswith("blank_") and flag.severity != Flag.Severity.NOTE
    }
    if not read:
        return VerdictLine("Blank", False, "The blank has no reading.", tuple(sorted(flagged)))
    values = [float(r.reading) for r in read if r.reading is not None]
    low, high = min(values), max(values)
    said = f"{len(values)} readings from {low:g} to {high:g}, {high - low:.1f} between them."
    if missing:
        said += f" {len(missing)} of the schedule not read."
    return VerdictLine("Blank", not flagged and not missing, said, tuple(sorted(flagged)))


def _duplicates(batch: Batch, runs: Sequence[ExaminedRun]) -> VerdictLine:
    pairs = pairs_among([(each.run, each.result) for each in runs], batch)
    samples = sum(each.run.is_reported for each in runs)
    few = planning_rules.too_few(batch, pairs, samples=samples)
    if few:
        return VerdictLine("Duplicates", False, few)
    beyond = [pair for pair in pairs if pair.severity]
    if beyond:
        said = " ".join(f"{pair.first.title}: {pair.sentence}" for pair in beyond)
        return VerdictLine("Duplicates", False, said, (DUPLICATE_OUTSIDE_LIMIT,))
    return VerdictLine("Duplicates", True, _widest(pairs))


def _widest(pairs: Sequence[Pair]) -> str:
    if not pairs:
        return "None in the batch, and the rule asks for none."
    found = [pair.widest for pair in pairs if pair.widest is not None]
    if not found:
        return f"{len(pairs)} in the batch; nothing to compare."
    widest = max(each.difference_pct for each in found)
    return f"{len(pairs)} in the batch, at most {widest:.1f} points apart."


def _instruments(batch: Batch, runs: Sequence[Run], day: date) -> VerdictLine:
    used: list[Instrument] = [batch.hydrometer, batch.thermometer, *(run.cylinder for run in runs)]
    bad = [
        f"{each} was {each.condition(day)}, due {each.due_on:%-d %b %Y}"
        for each in used
        if each.condition(day) != "in service"
    ]
    if bad:
        return VerdictLine("Instruments", False, f"On {day:%-d %b %Y}: {'; '.join(bad)}.")
    soonest = min(each.due_on for each in used)
    return VerdictLine(
        "Instruments", True,
        f"{batch.hydrometer}, {batch.thermometer} and {len(runs)} cylinders in service, "
        f"the next check due {soonest:%-d %b %Y}.",
    )  # fmt: skip


def _lot(batch: Batch, day: date) -> VerdictLine:
    lot = batch.lot
    good = lot.made_on <= day <= lot.expires_on
    return VerdictLine(
        "Dispersant", good, f"Lot {lot.code}, good from {lot.made_on:%-d %b} to {lot.expires_on:%-d %b %Y}."
    )


def _soak(batch: Batch) -> VerdictLine:
    filling, minimum_h = filling_in_force(batch), batch.method.edition.soak_minimum_h
    if batch.soaked_h is None or filling.mixing_minutes is None:
        return VerdictLine("Soak", False, "The cylinders are not filled yet.")
    said = (
        f"{batch.soaked_h:.1f} h of {minimum_h:g} h asked for, {filling.mixing_minutes:g} min on the mixer."
    )
    short = batch.soaked_h < minimum_h
    return VerdictLine("Soak", not short, f"{said} Cut short: {filling.soak_note}" if short else said)
