"""The verdict of quality control on one batch, from plain values: what passed, which rule fired, what stops it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from batches.limits.judging import Judged, Point
from batches.limits.keys import Kind, Quantity
from particles.distribution.inputs.between_run import pair_limits
from particles.distribution.spoken import spoken_count


class Severity(StrEnum):
    """How a line of the verdict weighs, the lightest first."""

    PASSED = "passed"
    WARN = "warn"
    STOP = "stop"


IT_COUNTS = "It counts, so the batch is off as its reference soil is."
"""Said of a reference soil beyond its limits that nobody found a cause for: no word about it lets figures leave."""
ENTER_LIMITS = "Limits that are entered on its chart judge the batches from that day on."
RANK = {severity: rank for rank, severity in enumerate(Severity)}


@dataclass(frozen=True, slots=True)
class Off:
    """How far one thing lies from where it belongs."""

    what: str
    """sand, clay, or level of the blank."""
    amount: float
    """Percentage points, or for the level g/L; between the portions of a pair without sign."""


@dataclass(frozen=True, slots=True)
class Line:
    """One thing that quality control looks at in a batch."""

    about: str
    """blank, temperature, reference soil, duplicates, instruments, lot, soak or people."""
    severity: Severity
    sentence: str
    rule: str = ""
    """Name of the rule that fired; '' where none did."""
    source: str = ""
    number: float | None = None
    """What the rule looked at, in the unit of its chart."""
    unit: str = ""
    version: int | None = None
    """Primary key of the limits in force that day; None where none were."""
    runs: tuple[int, ...] = ()
    """Runs it is about."""
    chart: str = ""
    """Address of its chart; '' where it has none."""
    off: tuple[Off, ...] = ()
    """What a rule fired at lies off by; empty where that is not known."""
    codes: tuple[str, ...] = ()
    """Codes of the findings that say the same of single runs: the causes that tell them hold their effect."""
    effect: str = ""
    """By how many points it moves which clients' figures, or that this cannot be computed; '' for what passed."""
    to_be_judged: str = ""
    """What would have to be there to judge it, as a sentence; '' for what was judged."""
    limits_by: str = ""
    """Where the limits of a pair come from, as a sentence; '' where the chart's own judge."""
    left_off: bool = False
    """Whether the batch holds no such thing and no rule asks for one: nothing that is not there passes."""

    @property
    def name(self) -> str:
        """What it is about, as it begins a line."""
        return self.about.capitalize()

    @property
    def passed(self) -> bool:
        """Whether nothing has to be said to it."""
        return self.severity is Severity.PASSED

    @property
    def judged(self) -> bool:
        """Whether it was held against limits, or found wanting without any: not judged is not passed."""
        return not (self.left_off or (self.passed and self.to_be_judged))

    @property
    def word(self) -> str:
        """What became of it, in a word or two."""
        if self.left_off:
            return "none"
        if not self.judged:
            return "not judged"
        return "passed" if self.passed else "did not pass"


@dataclass(frozen=True, slots=True)
class Verdict:
    """The lines of one batch, in the order in which they are read."""

    lines: tuple[Line, ...]

    @property
    def passed(self) -> bool:
        """Whether every line passed."""
        return all(line.passed for line in self.lines)

    @property
    def stops(self) -> tuple[Line, ...]:
        """Lines that keep the batch from being released as it is."""
        return tuple(line for line in self.lines if line.severity is Severity.STOP)

    @property
    def in_words(self) -> str:
        """All lines as one text, which a signature can cover."""
        return "\n".join(
            f"{line.name}: {line.word}. {line.sentence} {line.effect}".rstrip() for line in self.lines
        )

    @property
    def not_judged(self) -> int:
        """How many lines nothing was there to judge by."""
        return sum(not (line.judged or line.left_off) for line in self.lines)


def line_of_point(
    quantity: Quantity, judged: Judged, *, name: str, chart: str, about: str | None = None
) -> Line:
    """The line of one point of a chart: the heaviest rule that fired at it, or that it lies within its limits."""
    point, limits, unit = judged.point, judged.limits, quantity.unit
    value = f"{name} {point.value:.2f} {unit}"
    common = {
        "about": about or str(quantity.kind),
        "number": point.value,
        "unit": unit,
        "version": limits.version if limits is not None else None,
        "runs": (point.run,),
        "chart": chart,
        "limits_by": "" if limits or not point.bound_by else f"Limits by {point.bound_by}.",
    }
    if point.why_out:
        return Line(severity=Severity.WARN, sentence=f"{value}, but {point.why_out}.", **common)  # type: ignore[arg-type]
    if not judged.fired:
        todo = ENTER_LIMITS if limits is None and point.bound is None else ""
        sentence = f"{value}{_where(judged)}."
        return Line(severity=Severity.PASSED, sentence=sentence, to_be_judged=todo, **common)  # type: ignore[arg-type]
    heaviest = max(judged.fired, key=lambda fired: RANK[Severity(fired.rule.weight)])
    said = f" Answered by {point.answer.by}: {point.answer.words}" if point.answer is not None else ""
    speaks = point.answer is not None and point.answer.counts and quantity.kind is Kind.REFERENCE
    severity = Severity(heaviest.rule.weight) if point.answer is None or speaks else Severity.WARN
    if speaks and severity is Severity.STOP:
        said += f" {IT_COUNTS}"
    return Line(
        severity=severity,
        sentence=f"{value}{_where(judged)}: {heaviest.rule.name}.{said}",
        rule=heaviest.rule.name,
        source=heaviest.source,
        off=off_of(quantity, judged),
        **common,  # type: ignore[arg-type]
    )


def off_of(quantity: Quantity, judged: Judged) -> tuple[Off, ...]:
    """How far a point lies from the centre of its limits, and a pair apart; empty without limits."""
    what = quantity.fraction or "level"
    if judged.point.pair is not None:
        return (Off(what, judged.point.value),)
    return () if judged.limits is None else (Off(what, judged.point.value - judged.limits.centre),)


def _where(judged: Judged) -> str:
    if judged.limits is None:
        return _where_bound(judged.point) or "; not judged: no limits were in force that day"
    if judged.z is None:
        return f" apart, action limit {judged.limits.high[1]:.2f} at 50 %"
    off = f"{round(judged.z, 1) + 0.0:+.1f}".replace("-", "−").replace("+0.0", "0.0")
    return f", {off} standard deviations from {judged.limits.centre:.2f}"


def _where_bound(point: Point) -> str:
    """A pair beside the limits of the spread its batch is computed with; '' without one."""
    if point.pair is None or point.bound is None:
        return ""
    limits = pair_limits(point.bound.at(sum(point.pair) / 2))
    return f" apart, repeatability limit {limits.warn_pct:.2f}, action limit {limits.stop_pct:.2f}"


def heaviest(lines: Sequence[Line]) -> Line:
    """
    Of several lines about one thing the heaviest, the first of equals; its runs are those of all of its weight.

    Where the limits of them come from is told once, after the last that they judge.
    """
    first = max(lines, key=lambda line: RANK[line.severity])
    alike = [line for line in lines if line.severity is first.severity]
    by = dict.fromkeys(line.limits_by for line in alike if line.limits_by)
    sentence = " ".join([*(line.sentence for line in alike), *by])
    runs = tuple(dict.fromkeys(run for line in alike for run in line.runs))
    off = tuple(each for line in alike for each in line.off)
    todo = next((line.to_be_judged for line in alike if line.to_be_judged), "")
    return replace(first, sentence=sentence, runs=runs, off=off, to_be_judged=todo)


def instruments(
    conditions: Mapping[str, str],
    day: str,
    *,
    of_runs: Mapping[str, int],
    read_unfit: Mapping[str, int] | None = None,
) -> Line:
    """
    The line of the instruments, each by its name with its condition on the day.

    Parameters
    ----------
    of_runs : the run of each instrument that serves one alone, a cylinder; the others serve all.
    read_unfit : readings kept although an instrument was overdue or withdrawn when they were taken, by what was wrong.
    """
    bad = {name: condition for name, condition in conditions.items() if condition != "in service"}
    later = read_unfit or {}
    if bad or later:
        said = (
            [f"On {day}: {'; '.join(f'{name} was {condition}' for name, condition in bad.items())}."]
            if bad
            else []
        )
        said += [f"{spoken_count(n, 'reading')} kept although {why}." for why, n in later.items()]
        runs = tuple(of_runs[name] for name in bad) if not later and bad.keys() <= of_runs.keys() else ()
        return Line("instruments", Severity.WARN, " ".join(said), rule="not in service", runs=runs)
    return Line(
        "instruments", Severity.PASSED, f"{len(conditions)} instruments and cylinders in service on {day}."
    )


def lot(code: str, *, good: bool, span: str, day: str) -> Line:
    """The line of the dispersant lot."""
    if good:
        return Line("lot", Severity.PASSED, f"Lot {code}, good {span}.")
    return Line(
        "lot", Severity.WARN, f"Lot {code} is good {span}, and was used on {day}.", rule="out of date"
    )


def soak(soaked_h: float | None, minimum_h: float, maximum_h: float, note: str) -> Line:
    """The line of the soak. [h]"""
    if soaked_h is None:
        return Line("soak", Severity.WARN, "No soak is recorded.", rule="soak missing", unit="h")
    said = f"{soaked_h:.1f} h of {minimum_h:g} h asked for."
    if soaked_h > maximum_h:
        said = f"{soaked_h:.1f} h; the method allows {maximum_h:g} h."
        return Line("soak", Severity.WARN, said, rule="soak too long", number=soaked_h, unit="h")
    if soaked_h >= minimum_h:
        return Line("soak", Severity.PASSED, said, number=soaked_h, unit="h")
    return Line(
        "soak", Severity.WARN, f"{said} Cut short: {note}", rule="soak cut short", number=soaked_h, unit="h"
    )


def none_of(kind: Kind, *, why: str, asked_for: bool) -> Line:
    """The line of a kind of control that the batch does not hold."""
    severity = Severity.WARN if asked_for else Severity.PASSED
    return Line(
        str(kind), severity, why, rule="not in the batch" if asked_for else "", left_off=not asked_for
    )
