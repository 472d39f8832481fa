"""
What quality control says of one batch: gathered here, judged in `judged_batch`.

The number of queries does not grow with the cylinders, the batches before or the charts.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from django.contrib.auth import get_user_model
from django.utils import timezone

from batches.bench.models import Reading
from batches.corrections.models import filling_in_force
from batches.equipment.models import Instrument
from batches.limits.judging import Judged, Point, judge
from batches.limits.keys import ChartKey, Kind, Quantity
from batches.limits.models import LimitsVersion
from batches.limits.points import REFERENCE, answers_to, blank_points, figures_of, moment_of, reference_points
from batches.planning.four_eyes import people_in
from batches.planning.models import Batch, Run
from batches.planning.rules import duplicates_due, next_soil
from batches.quality import judged_batch
from batches.quality.judged_batch import Line, Severity, Verdict, heaviest, line_of_point, none_of, off_of
from batches.quality.statistics import COMPARED
from particles.distribution.spoken import spoken_count
from particles.models import MethodEditionRecord
from particles.records.act import Side

PAIRS = {"sand": Quantity.DUPLICATES_SAND, "clay": Quantity.DUPLICATES_CLAY}
BLANKS_BEFORE = 60
"""Batches back to which run rules look at blanks."""


def verdict_of(batch: Batch) -> Verdict:
    """The verdict of quality control on a batch that was read to the end."""
    runs = list(batch.runs.in_plan().select_related("cylinder", "portion__sample", "portion__reference_soil"))
    root = MethodEditionRecord.roots()[batch.method_id]
    versions: dict[ChartKey, list[LimitsVersion]] = {}
    for version in LimitsVersion.objects.all():
        versions.setdefault(version.key, []).append(version)
    day = timezone.localdate(moment_of(batch))
    return Verdict(
        (
            *_blank(batch, versions),
            _reference(batch, runs, root, versions),
            _duplicates(batch, runs, root, versions),
            _instruments(batch, runs, day),
            _lot(batch, day),
            judged_batch.soak(
                batch.soaked_h,
                batch.method.edition.soak_minimum_h,
                batch.method.edition.soak_maximum_h,
                filling_in_force(batch).soak_note,
            ),
            _people(batch),
        )
    )


Versions = dict[ChartKey, list[LimitsVersion]]


def _judged(key: ChartKey, points: list[Point], versions: Versions, runs: set[int]) -> list[Judged]:
    """Points of these runs, each judged with those before it."""
    limits = [version.limits for version in versions.get(key, [])]
    return [each for each in judge(points, limits, key.quantity) if each.point.run in runs]


def _blank(batch: Batch, versions: Versions) -> list[Line]:
    blank = batch.blank
    level, room = ChartKey(Quantity.BLANK_LEVEL, batch.lot_id), ChartKey(Quantity.TEMPERATURE)
    points = blank_points(most=BLANKS_BEFORE, until=moment_of(batch))
    found = []
    for key, name, about in ((level, "Level at 20 °C", "blank"), (room, "Mean of the blank", "temperature")):
        judged = _judged(key, points.get(key, []), versions, {blank.pk})
        if judged:
            found.append(line_of_point(key.quantity, judged[-1], name=name, chart=key.address, about=about))
        else:
            why = "No reading of the blank holds a number with its temperature."
            found.append(Line(about, Severity.STOP, why, rule="no blank was read", runs=(blank.pk,)))
    return found


def _reference(batch: Batch, runs: Sequence[Run], root: str, versions: Versions) -> Line:
    placed = [run for run in runs if run.is_reference and run.portion is not None]
    if not placed:
        soils = next_soil(batch.method) is not None
        why = (
            "No reference soil stands in the batch, though there is one."
            if soils
            else "The laboratory has no reference soil in use."
        )
        return none_of(Kind.REFERENCE, why=why, asked_for=soils)
    lines, off = [], {}
    for run in placed:
        assert run.portion is not None, "a reference soil is a portion"
        assert run.portion.reference_soil is not None, "and says which"
        soil = run.portion.reference_soil
        points = reference_points(soil.pk)
        for quantity in REFERENCE:
            key = ChartKey(quantity, soil.pk, root)
            for judged in _judged(key, points.get(key, []), versions, {run.pk}):
                name = f"{soil.name}: {quantity.fraction}"
                lines.append(line_of_point(quantity, judged, name=name, chart=key.address))
                off[run.pk, quantity] = off_of(quantity, judged)
    if not lines:
        why = "The run of the reference soil has no figures."
        return Line(str(Kind.REFERENCE), Severity.WARN, why, "no figures", runs=tuple(r.pk for r in placed))
    line = heaviest(lines)
    if not line.rule:
        return line
    both = (each for (run, _), found in off.items() if run in line.runs for each in found)
    return replace(line, off=tuple(both))  # also of the fraction at which nothing fired


def _duplicates(batch: Batch, runs: Sequence[Run], root: str, versions: Versions) -> Line:
    first = {run.portion_id: run for run in runs}
    pairs = [
        (first.get(run.portion.duplicate_of_id), run) for run in runs if run.portion and run.is_duplicate
    ]
    due = duplicates_due(sum(run.is_reported for run in runs), batch.method)
    if len(pairs) < due:
        why = (
            f"The batch holds {spoken_count(len(pairs), 'duplicate')}; the laboratory's rule asks for {due}."
        )
        return none_of(Kind.DUPLICATES, why=why, asked_for=True)
    if not pairs:
        return none_of(Kind.DUPLICATES, why="None, and the rule asks for none.", asked_for=False)
    figures = figures_of([run.pk for pair in pairs for run in pair if run is not None])
    answers = answers_to(Kind.DUPLICATES, [run.pk for _, run in pairs])
    lines = []
    for one, other in pairs:
        if one is None or one.pk not in figures or other.pk not in figures:
            continue
        for fraction in COMPARED:
            values = (figures[one.pk][fraction], figures[other.pk][fraction])
            key = ChartKey(PAIRS[fraction], 0, root)
            point = Point(
                run=other.pk,
                batch=batch.number,
                at=moment_of(batch),
                value=abs(values[0] - values[1]),
                pair=values,
                **answers.of(other.pk, key.quantity),
                bound=batch.between_run_in_force(fraction),
                bound_by=_bound_by(batch, fraction),
            )
            for judged in _judged(key, [point], versions, {other.pk}):
                name = f"{one.title}, {fraction}"
                lines.append(line_of_point(key.quantity, judged, name=name, chart=key.address))
    if not lines:
        return Line(str(Kind.DUPLICATES), Severity.WARN, "No pair has figures to compare.", "no figures")
    return heaviest(lines)


def _bound_by(batch: Batch, fraction: str) -> str:
    """Where the spread between the runs of a batch comes from, in words."""
    if batch.between_run_of(fraction) is not None:
        return "the limits bound to this batch at its soak"
    if batch.between_run_sd_pct is not None:
        return "the laboratory's own duplicates, bound to this batch at its soak"
    return "the method's repeatability, from its edition"


def _instruments(batch: Batch, runs: Sequence[Run], day: date) -> Line:
    used: list[Instrument] = [batch.hydrometer, batch.thermometer, *(run.cylinder for run in runs)]
    return judged_batch.instruments(
        {str(each): _condition(each, day) for each in used},
        f"{day:%-d %b %Y}",
        of_runs={str(run.cylinder): run.pk for run in runs if not run.is_blank},
        read_unfit=_read_unfit(batch),
    )


def _read_unfit(batch: Batch) -> dict[str, int]:
    """Number of readings kept although an instrument was not in service when they were taken, by what was wrong."""
    kept = Reading.objects.filter(run__batch=batch, unfit__isnull=False).values_list("unfit", "run", "slot_s")
    return dict(Counter(str(why) for why, _, _ in sorted(set(kept))))


def _condition(instrument: Instrument, day: date) -> str:
    """Condition on that day: what was withdrawn later was in service, if its check was not overdue."""
    withdrawn_on = instrument.withdrawn_on
    if withdrawn_on is not None and withdrawn_on > day:
        return "in service" if instrument.due_on >= day else "overdue"
    return instrument.condition(day)


def _lot(batch: Batch, day: date) -> Line:
    lot = batch.lot
    span = f"from {lot.made_on:%-d %b} to {lot.expires_on:%-d %b %Y}"
    good = lot.made_on <= day <= lot.expires_on
    return judged_batch.lot(lot.code, good=good, span=span, day=f"{day:%-d %b %Y}")


def _people(batch: Batch) -> Line:
    worked = people_in(batch, Side.BENCH)
    names = sorted(str(person) for person in get_user_model().objects.filter(pk__in=worked))
    return Line("people", Severity.PASSED, f"Worked in it, and may not sign: {', '.join(names)}.")
