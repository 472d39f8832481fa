"""What the pages of the charts show: every chart with its state, what needs somebody first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.utils import timezone

from batches.equipment.models import DispersantLot
from batches.limits.judging import Judged, Proposal
from batches.limits.keys import ChartKey, Kind, Quantity
from batches.limits.models import LimitsVersion
from batches.limits.points import Points, blank_points, duplicate_points, reference_points
from batches.limits.rules import Chart, chart_from
from batches.planning.models import Batch
from particles.models import MethodEditionRecord, ReferenceSoil

NEWEST_BLANKS = 200
"""Batches back to which the list of charts looks for blanks."""
Names = dict[ChartKey, str]


@dataclass(frozen=True)
class ChartRow:
    """One chart on the list, with its newest point and its limits in force."""

    chart: Chart
    name: str
    in_force: LimitsVersion | None

    @property
    def newest(self) -> Judged | None:
        """Its newest point; None before the first."""
        return self.chart.judged[-1] if self.chart.judged else None

    @property
    def rank(self) -> int:
        """Place on the list: what waits for somebody first."""
        if self.chart.waiting:
            return 0
        if self.newest is not None and self.newest.weight and self.newest.point.answer is None:
            return 1
        if self.in_force is None:
            return 2 if isinstance(self.chart.proposal, Proposal) else 3
        return 4

    @property
    def word(self) -> str:
        """Its state in a few words."""
        waiting = len(self.chart.waiting)
        if self.rank == 0:
            return f"{waiting} point{'s' if waiting > 1 else ''} to answer"
        if self.rank == 1 and self.newest is not None:
            return self.newest.fired[0].rule.name
        return {2: "limits proposed", 3: "no limits yet"}.get(self.rank, "within its limits")

    @property
    def kind(self) -> str:
        """The outline of that word."""
        return {0: "refused", 1: "held", 4: "done"}.get(self.rank, "open")


def chart_rows(at: datetime) -> list[ChartRow]:
    """Every chart there is, what waits for somebody first; the number of queries does not grow with the points."""
    methods = methods_in_use()
    points: Points = reference_points() | blank_points(most=NEWEST_BLANKS)
    for root, method in methods.items():
        points |= duplicate_points(method, root)
    names = _names(points, methods, timezone.localdate(at))
    versions: dict[ChartKey, list[LimitsVersion]] = {}
    for version in LimitsVersion.objects.select_related("by"):
        versions.setdefault(version.key, []).append(version)
    found = []
    for key, name in names.items():
        chart = chart_from(key, points.get(key, []), versions.get(key, []), at)
        found.append(ChartRow(chart, name, chart.in_force(at)))
    return sorted(found, key=lambda row: (row.rank, list(Quantity).index(row.chart.key.quantity), row.name))


def methods_in_use() -> dict[str, MethodEditionRecord]:
    """The newest edition of each method with figures at size limits that runs here, by the code of its first one."""
    roots = MethodEditionRecord.roots()
    used = set(Batch.objects.values_list("method", flat=True).distinct())
    records = MethodEditionRecord.objects.order_by("entered_at", "code")
    chosen = records.filter(pk__in=used) if used else MethodEditionRecord.offered()
    return {roots[method.pk]: method for method in chosen if method.edition.certifiable}


def _names(points: Points, methods: dict[str, MethodEditionRecord], day: date) -> Names:
    soils = {soil.pk: soil for soil in ReferenceSoil.objects.all()}
    in_use = set(ReferenceSoil.in_use().values_list("pk", flat=True))
    lots = {lot.pk: lot for lot in DispersantLot.objects.all()}
    keys = set(points) | {ChartKey(Quantity.TEMPERATURE)}
    for root in methods:
        keys |= {ChartKey(q, pk, root) for q in Quantity if q.kind is Kind.REFERENCE for pk in in_use}
        keys |= {ChartKey(q, 0, root) for q in Quantity if q.kind is Kind.DUPLICATES}
    keys |= {
        ChartKey(Quantity.BLANK_LEVEL, lot.pk)
        for lot in lots.values()
        if lot.made_on <= day <= lot.expires_on
    }
    several = len(methods) > 1
    return {key: _name(key, soils, lots, methods if several else {}) for key in sorted(keys, key=str)}


def _name(
    key: ChartKey,
    soils: dict[int, ReferenceSoil],
    lots: dict[int, DispersantLot],
    methods: dict[str, MethodEditionRecord],
) -> str:
    also = f", {methods[key.method]}" if key.method in methods else ""
    kind = key.quantity.kind
    if kind is Kind.REFERENCE:
        return f"{soils[key.of].name}, {key.quantity.fraction}{also}"
    if kind is Kind.BLANK:
        return f"Blank of lot {lots[key.of].code}, level at 20 °C"
    if kind is Kind.DUPLICATES:
        return f"Duplicates, {key.quantity.fraction}{also}"
    return "Temperature of the blank"


def name_of(key: ChartKey) -> str | None:
    """Name of one chart; None when its soil, lot or method is not there."""
    soils = {soil.pk: soil for soil in ReferenceSoil.objects.filter(pk=key.of)}
    lots = {lot.pk: lot for lot in DispersantLot.objects.filter(pk=key.of)}
    methods = {method.code: method for method in MethodEditionRecord.objects.filter(code=key.method)}
    needed: dict[Kind, Any] = {Kind.REFERENCE: soils, Kind.BLANK: lots}
    if not needed.get(key.quantity.kind, {0: None}) or (key.method and not methods):
        return None
    return _name(key, soils, lots, methods)


@dataclass(frozen=True)
class PointRow:
    """One point in the table of its chart, the newest first."""

    judged: Judged

    @property
    def word(self) -> str:
        """What is said of it, in a few words."""
        if self.judged.waits_for_answer:
            return "waits for an answer"
        point = self.judged.point
        if point.why_out:
            return point.why_out
        if point.questioned:
            return f"open again: {point.questioned}"
        if point.left_out and point.answer is None:
            return "left out, as on the chart beside it"
        return "left out" if point.left_out else "counts"

    @property
    def rules(self) -> list[tuple[str, str]]:
        """Rules that fired, each with its source."""
        return [(fired.rule.name, fired.source) for fired in self.judged.fired]


def point_rows(judged: Iterable[Judged]) -> list[PointRow]:
    """Points of a chart, the newest first."""
    return [PointRow(each) for each in judged][::-1]
