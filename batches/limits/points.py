"""Gathers the points of the charts from what is stored; nothing is computed here but a blank's level at 20 °C."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from statistics import fmean, median
from typing import Any

from django.db.models import OuterRef, QuerySet, Subquery
from django.utils import timezone

from batches.computing.models import ComputationRequest, Result
from batches.exchanging.arrangement import Arrangement, arrangements_of, is_put_right
from batches.limits.judging import Answer, Point
from batches.limits.keys import ChartKey, Kind, Quantity
from batches.limits.models import PointAnswer
from batches.nonconforming.models import NonconformingWork
from batches.planning.models import Batch, BatchState, Run
from batches.quality.own_figure import compared_pairs
from batches.quality.statistics import ComparedPair
from particles.distribution import Hydrometer
from particles.distribution.inputs.noise import temperature_shift_g_l, unit_g_l
from particles.distribution.settling.hydrometer import above_zero
from particles.distribution.settling.stem_scale import on_scale
from particles.models import MethodEditionRecord

HANDED_OVER = (
    BatchState.SUBMITTED,
    BatchState.RETURNED,
    BatchState.APPROVED,
    BatchState.REOPENED,
    BatchState.REJECTED,
)
"""Batches whose points stand on the charts: what was read to the end, whatever became of it."""
OPEN_SINCE = NonconformingWork.open_since("batch")
REFERENCE = (Quantity.REFERENCE_SAND, Quantity.REFERENCE_CLAY)
Points = dict[ChartKey, list[Point]]


@dataclass(frozen=True)
class Answers:
    """Answers to points of one kind, the oldest first: run, the chart each was given on or None, what was said."""

    given: tuple[tuple[int, str | None, Answer], ...] = ()

    def of(self, run: int, quantity: Quantity) -> dict[str, Any]:
        """Both answers of a point as it holds them: on its own chart, and on the one beside it; the newest of each."""
        found: dict[str, Answer | None] = {"answer": None, "answer_beside": None}
        for of_run, chart, said in self.given:
            if of_run == run:
                found["answer" if chart in (None, quantity) else "answer_beside"] = said
        return found


def answers_to(kind: Kind, runs: Iterable[int]) -> Answers:
    """The answers to points of these runs."""
    rows = PointAnswer.objects.filter(kind=kind, run__in=list(runs)).select_related("by").order_by("pk")
    return Answers(
        tuple((row.run_id, row.quantity, Answer(row.counts, row.reason, str(row.by), row.at)) for row in rows)
    )


def questioned(open_since: datetime | None) -> str:
    """Why a point of a batch that was re-opened at a moment is open again; '' for one that was not, or is settled."""
    if open_since is None:
        return ""
    return f"its batch was re-opened on {timezone.localtime(open_since):%-d %b %Y}"


def moment_of(batch: Batch) -> Any:
    """The moment whose limits judge a batch: its soak, when its own figures are bound too."""
    return batch.soak_started_at or batch.planned_at


def reference_points(soil: int | None = None) -> Points:
    """Points of the charts of one reference soil, or of all; three queries and one for the methods."""
    runs = reference_runs()
    if soil is not None:
        runs = runs.filter(portion__reference_soil=soil)
    related = runs.select_related("batch__hydrometer", "portion").annotate(open_since=OPEN_SINCE)
    found: list[Any] = list(related.order_by("batch__soak_started_at", "pk"))
    figures = figures_of([run.pk for run in found])
    answers = answers_to(Kind.REFERENCE, figures)
    roots = MethodEditionRecord.roots() if found else {}
    points: Points = {}
    for run in found:
        values = figures.get(run.pk)
        if values is None or run.portion is None or run.portion.reference_soil_id is None:
            continue
        for quantity in REFERENCE:
            key = ChartKey(quantity, run.portion.reference_soil_id, roots[run.batch.method_id])
            points.setdefault(key, []).append(
                Point(
                    run=run.pk,
                    batch=run.batch.number,
                    at=moment_of(run.batch),
                    value=values[quantity.fraction],
                    group=run.batch.hydrometer.serial,
                    place=run.position,
                    why_out="" if values["certifiable"] else "its run has a stop",
                    questioned=questioned(run.open_since),
                    **answers.of(run.pk, quantity),
                )
            )
    return points


def figures_of(runs: Iterable[int]) -> dict[int, dict[str, Any]]:
    """Sand, clay and whether nothing stops them, of each run's result in force that has fractions."""
    newest = ComputationRequest.objects.filter(run=OuterRef("run")).order_by("-turn").values("pk")[:1]
    rows = Result.objects.filter(run__in=list(runs), request=Subquery(newest)).values_list(
        "run", "certifiable", "figures__fractions__sand__value_pct", "figures__fractions__clay__value_pct"
    )
    return {
        run: {"certifiable": certifiable, "sand": float(sand), "clay": float(clay)}
        for run, certifiable, sand, clay in rows
        if sand is not None and clay is not None
    }


def blank_level_g_l(hydrometer: Hydrometer, read: Iterable[tuple[float, float]]) -> float:
    """
    Median of a blank's readings brought to 20 °C. [g/L on a true 152H]

    Parameters
    ----------
    read : readings on the stem, each with its temperature in °C, corrected.
    """
    scale = hydrometer.scale
    return median(
        above_zero(scale, on_scale(hydrometer, reading)) * unit_g_l(scale)
        - temperature_shift_g_l(scale, temperature_c)
        for reading, temperature_c in read
    )


def blank_runs(*, until: datetime | None = None) -> QuerySet[Run]:
    """Runs of the blanks whose points stand on the charts, the newest first; of batches soaked by a moment."""
    runs = Run.objects.filter(is_blank=True, batch__state__in=HANDED_OVER)
    if until is not None:
        runs = runs.filter(batch__soak_started_at__lte=until)
    return runs.order_by("-batch__soak_started_at", "-pk")


def reference_runs() -> QuerySet[Run]:
    """Runs of reference soils whose points stand on the charts."""
    return Run.objects.in_plan().filter(portion__reference_soil__isnull=False, batch__state__in=HANDED_OVER)


def blank_points(lot: int | None = None, *, most: int | None = None, until: datetime | None = None) -> Points:
    """
    Points of blanks of one lot, or of all lots with those of the room's temperature; of the newest batches.

    A blank has the readings that count for it: exchanged ones, and none that was left out.
    """
    runs = blank_runs(until=until)
    if lot is not None:
        runs = runs.filter(batch__lot=lot)
    related = runs.select_related("batch__hydrometer", "batch__thermometer").annotate(
        open_since=OPEN_SINCE, is_put_right=is_put_right("batch")
    )
    newest = related.prefetch_related("readings", "replunges", "voids__lifted")
    found: list[Any] = list(newest if most is None else newest[:most])[::-1]
    arrangements = arrangements_of(run.batch_id for run in found if run.is_put_right)
    answers = {kind: answers_to(kind, [run.pk for run in found]) for kind in (Kind.BLANK, Kind.TEMPERATURE)}
    points: Points = {}
    for run in found:
        arrangement = arrangements.get(run.batch_id, Arrangement())
        read = _read(run, arrangement)
        if not read:
            continue
        void = arrangement.void(run)
        common = {
            "run": run.pk,
            "batch": run.batch.number,
            "at": moment_of(run.batch),
            "group": run.batch.hydrometer.serial,
            "why_out": "" if void is None else f"the blank is void: {void.in_words}",
            "questioned": questioned(run.open_since),
        }
        values = {ChartKey(Quantity.BLANK_LEVEL, run.batch.lot_id): _level_g_l(run.batch, read)}
        if lot is None:
            values[ChartKey(Quantity.TEMPERATURE)] = fmean(temperature_c for _, temperature_c in read)
        for key, value in values.items():
            said = answers[key.quantity.kind].of(run.pk, key.quantity)
            points.setdefault(key, []).append(Point(value=value, **common, **said))
    return points


def _level_g_l(batch: Batch, read: Iterable[tuple[float, float]]) -> float:
    return blank_level_g_l(batch.hydrometer.as_measured(), read)


def _read(run: Run, arrangement: Arrangement) -> list[tuple[float, float]]:
    """A blank's readings that count and hold a number, each with its temperature, corrected. [scale units, °C]"""
    correction_c = float(run.batch.thermometer.correction_c)
    return [
        (float(r.reading), float(r.temperature_c) + correction_c)
        for r in arrangement.readings(run)
        if r.reading is not None and r.temperature_c is not None
    ]


def duplicate_points(method: MethodEditionRecord, root: str) -> Points:
    """Points of both charts of a method's duplicates, the oldest first."""
    pairs = compared_pairs(method)[::-1]
    answers = answers_to(Kind.DUPLICATES, [pair.duplicate_run for pair in pairs])
    return {
        ChartKey(quantity, 0, root): [_pair_point(pair, quantity, answers) for pair in pairs]
        for quantity in (Quantity.DUPLICATES_SAND, Quantity.DUPLICATES_CLAY)
    }


def _pair_point(pair: ComparedPair, quantity: Quantity, answers: Answers) -> Point:
    first_pct, duplicate_pct = pair.of(quantity.fraction)
    return Point(
        run=pair.duplicate_run,
        batch=pair.batch_number,
        at=pair.at,
        value=abs(first_pct - duplicate_pct),
        pair=(first_pct, duplicate_pct),
        group=pair.lab_number,
        why_out=pair.why_out,
        questioned=questioned(pair.open_since),
        **answers.of(pair.duplicate_run, quantity),
        bound=pair.bound[quantity.fraction],
    )
