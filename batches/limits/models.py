"""Versions of the limits of a chart, and the answers to points beyond them."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import models
from django.db.models import F, Q

from batches.equipment.models import DispersantLot
from batches.limits.judging import Limits
from batches.limits.keys import ChartKey, Kind, Quantity
from batches.planning.models import Run
from particles.distribution.record import SpreadByContent
from particles.models import MethodEditionRecord, ReferenceSoil
from particles.records.act import ReasonedAct, Side
from particles.records.history import audited, never_changed


def _number(help_text: str = "") -> Any:
    return models.DecimalField(max_digits=9, decimal_places=4, help_text=help_text)


@audited
class LimitsVersion(ReasonedAct):
    """
    The limits of one chart from a moment on, entered by a person and frozen.

    The program only proposes them; nothing moves them silently. A way back is one more version that takes up an
    earlier one. For duplicates the centre is the mean difference of a pair and the spread that of one run.
    """

    quantity = models.CharField(max_length=24, choices=[(q.value, q.value) for q in Quantity])
    soil = models.ForeignKey(
        ReferenceSoil, on_delete=models.PROTECT, related_name="limits", null=True, blank=True
    )
    lot = models.ForeignKey(
        DispersantLot, on_delete=models.PROTECT, related_name="limits", null=True, blank=True
    )
    method_root = models.CharField(max_length=60, blank=True, help_text="Code of the method's first edition.")
    in_force_from = models.DateTimeField()
    centre = _number()
    sd = _number("Of one point; for duplicates of one run.")
    rise = models.DecimalField(
        max_digits=9, decimal_places=4, default=0, help_text="Part of the spread that follows content."
    )
    low_action, low_warn, high_warn, high_action = (_number() for _ in range(4))
    points = models.PositiveIntegerField(help_text="From how many points; 0 when from a document.")
    from_runs = models.JSONField(help_text="Runs of the points they were proposed from.")
    proposed = models.JSONField(null=True, blank=True, help_text="As proposed by the program.")
    document = models.CharField(
        max_length=200, blank=True, help_text="Where they come from, if not from points."
    )
    supersedes = models.OneToOneField(
        "self", on_delete=models.PROTECT, related_name="superseded_by", null=True, blank=True
    )
    takes_up = models.ForeignKey(
        "self", on_delete=models.PROTECT, related_name="taken_up_by", null=True, blank=True,
        help_text="The earlier version whose limits hold again.",
    )  # fmt: skip

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(sd__gt=0, rise__gte=0), name="limits_have_a_spread"),
            models.CheckConstraint(condition=~Q(reason=""), name="limits_say_why"),
            models.CheckConstraint(
                condition=Q(points__gt=0) | ~Q(document=""), name="limits_say_where_they_come_from"
            ),
            models.CheckConstraint(
                condition=Q(in_force_from__gte=F("at")), name="limits_are_never_backdated"
            ),
            models.CheckConstraint(
                condition=Q(low_action__lte=F("low_warn"), high_warn__lte=F("high_action")),
                name="action_limits_lie_outside_warning_limits",
            ),
            models.CheckConstraint(
                condition=Q(quantity__startswith="reference", soil__isnull=False, lot__isnull=True)
                & ~Q(method_root="")
                | Q(quantity__startswith="blank", soil__isnull=True, lot__isnull=False, method_root="")
                | Q(quantity__startswith="duplicates", soil__isnull=True, lot__isnull=True)
                & ~Q(method_root="")
                | Q(quantity="temperature", soil__isnull=True, lot__isnull=True, method_root=""),
                name="limits_belong_to_one_chart",
            ),
            models.UniqueConstraint(
                fields=["quantity", "soil", "lot", "method_root"],
                condition=Q(supersedes__isnull=True),
                nulls_distinct=False,
                name="one_first_version_of_a_chart",
            ),
        ]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"version {self.pk} of the limits of {self.quantity}"

    @property
    def key(self) -> ChartKey:
        """The chart the limits belong to."""
        return ChartKey(Quantity(self.quantity), self.soil_id or self.lot_id or 0, self.method_root)

    @classmethod
    def of(cls, key: ChartKey) -> models.QuerySet[LimitsVersion]:
        """Versions of one chart in the order in which they were entered."""
        soil, lot = (key.of if key.quantity.kind is kind else None for kind in (Kind.REFERENCE, Kind.BLANK))
        return cls.objects.filter(quantity=key.quantity, soil=soil, lot=lot, method_root=key.method)

    @property
    def spread(self) -> SpreadByContent:
        """Spread as a function of content; of the same size everywhere but for some duplicates."""
        return SpreadByContent(float(self.sd), float(self.rise))

    @property
    def limits(self) -> Limits:
        """The limits as the arithmetic takes them."""
        return Limits(
            version=self.pk,
            in_force_from=self.in_force_from,
            centre=float(self.centre),
            spread=self.spread,
            low=(float(self.low_action), float(self.low_warn)),
            high=(float(self.high_warn), float(self.high_action)),
        )


def spreads_in_force(method: MethodEditionRecord, at: datetime) -> dict[str, LimitsVersion]:
    """Version of the spread between runs in force for each fraction of a method at a moment, by fraction."""
    root = MethodEditionRecord.roots()[method.pk]
    newest = LimitsVersion.objects.filter(
        quantity__in=[Quantity.DUPLICATES_SAND, Quantity.DUPLICATES_CLAY],
        method_root=root,
        in_force_from__lte=at,
    )
    return {Quantity(version.quantity).fraction: version for version in newest.order_by("pk")}


@audited
class PointAnswer(ReasonedAct):
    """
    An answer to a point of a chart: whether it counts for the limits to come, and why; the newest holds.

    Until it is given, a point beyond its limits stays on the chart, marked, and counts for nothing. It answers for
    what fired on its own chart alone.
    """

    batch_path = "run__batch"
    side = Side.REVIEW

    kind = models.CharField(max_length=16, choices=[(kind.value, kind.value) for kind in Kind])
    quantity = models.CharField(  # noqa: DJ001 - the history chain hashes old rows without it
        max_length=24, choices=[(q.value, q.value) for q in Quantity], null=True, blank=True,
        help_text="The chart it was given on; empty for one from before that was kept: both of its kind.",
    )  # fmt: skip
    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="point_answers")
    counts = models.BooleanField()

    class Meta:
        ordering = ["pk"]
        constraints = [models.CheckConstraint(condition=~Q(reason=""), name="an_answer_to_a_point_says_why")]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"answer to {self.kind} of {self.run}"
