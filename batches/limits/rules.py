"""Rules for limits: a person enters a version from what the program proposes, and answers for points beyond them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from django.db import connection, transaction

from batches.limits.judging import (
    Judged,
    Point,
    Proposal,
    centre_of_pairs,
    judge,
    limits_of,
    propose,
)
from batches.limits.keys import ChartKey, Kind, Quantity
from batches.limits.models import LimitsVersion, PointAnswer
from batches.limits.points import HANDED_OVER, Points, blank_points, duplicate_points, reference_points
from batches.planning.models import Run
from particles.distribution.record import SpreadByContent
from particles.models import MethodEditionRecord
from particles.records.act import done
from particles.records.person import Person
from particles.records.refusals import AlreadyThere, NotPossible, NotThisPerson
from particles.records.sentence import HOW_TO_SAY, is_a_sentence

LOOKED_BACK = timedelta(days=365)
"""Limits are proposed from points of so long: a laboratory's hands, mixers and soils change. *Chosen*."""
"""An answer to a point, or a change of limits, is a sentence."""
KEEP = "batches.keep_limits"
FOUR_PLACES = Decimal("0.0001")


@dataclass(frozen=True)
class Chart:
    """One chart with its points judged, its versions and what the points propose now."""

    key: ChartKey
    judged: list[Judged]
    versions: list[LimitsVersion]
    proposal: Proposal | str

    def in_force(self, at: datetime) -> LimitsVersion | None:
        """The version in force at a moment; None before the first."""
        return next((v for v in reversed(self.versions) if v.in_force_from <= at), None)

    @property
    def newest(self) -> LimitsVersion | None:
        """The version entered last, in force or still to come."""
        return self.versions[-1] if self.versions else None

    @property
    def waiting(self) -> list[Judged]:
        """Points that stop a batch and wait for an answer."""
        return [each for each in self.judged if each.waits_for_answer]


def chart_from(key: ChartKey, points: list[Point], versions: list[LimitsVersion], at: datetime) -> Chart:
    """A chart from its points and versions."""
    judged = judge(points, [version.limits for version in versions], key.quantity)
    recent = [each for each in judged if each.point.at > at - LOOKED_BACK]
    return Chart(key, judged, versions, propose(recent, key.quantity))


def chart_of(key: ChartKey, at: datetime) -> Chart:
    """One chart, gathered."""
    return chart_from(key, points_of(key).get(key, []), list(LimitsVersion.of(key).select_related("by")), at)


def points_of(key: ChartKey) -> Points:
    """Points of one chart, with those of charts gathered with it."""
    kind = key.quantity.kind
    if kind is Kind.REFERENCE:
        return reference_points(key.of)
    if kind is Kind.BLANK:
        return blank_points(key.of)
    if kind is Kind.TEMPERATURE:
        return blank_points()
    method = MethodEditionRecord.objects.filter(code=key.method).first()
    return {} if method is None else duplicate_points(method, key.method)


@transaction.atomic
def enter_limits(
    key: ChartKey,
    *,
    sd: Decimal,
    in_force_from: datetime,
    reason: str,
    seen: int,
    by: Person,
    at: datetime,
    centre: Decimal | None = None,
    rise: Decimal = Decimal(0),
    document: str = "",
) -> LimitsVersion:
    """
    Enter limits from the program's proposal, or from a document; they are frozen from then on.

    Parameters
    ----------
    centre : of the chart; for duplicates it follows from the spread.
    seen : primary key of the newest version that the page knew; 0 for none.
    """
    _require_keeper(by)
    _require_words(reason, "Say in a sentence why these limits are entered.")
    _lock(key)
    chart = chart_of(key, at)
    _require_seen(chart, seen)
    if in_force_from < at:
        raise NotPossible("Limits hold from now or a later day; what is past was judged by those of its day.")
    spread = _plausible(key, sd, rise)
    proposal = chart.proposal
    if isinstance(proposal, str) and not document.strip():
        raise NotPossible(f"{proposal} Name the document that the limits come from, or wait.")
    if key.quantity.kind is Kind.DUPLICATES:
        centre = Decimal(str(centre_of_pairs(spread)))
    elif centre is None:
        raise NotPossible("Say where the centre lies.")
    from_points = isinstance(proposal, Proposal) and not document.strip()
    return _kept(
        chart,
        centre=centre,
        spread=spread,
        runs=proposal.runs if isinstance(proposal, Proposal) and from_points else (),
        proposed=_plain(proposal) if isinstance(proposal, Proposal) else None,
        in_force_from=in_force_from,
        reason=reason.strip(),
        document=document.strip(),
        **done(by, at),
    )


def _kept(
    chart: Chart,
    *,
    centre: Decimal,
    spread: SpreadByContent,
    runs: tuple[int, ...],
    **fields: object,
) -> LimitsVersion:
    low_action, low_warn, high_warn, high_action = (
        _decimal(value) for value in limits_of(chart.key.quantity, float(centre), spread)
    )
    kind = chart.key.quantity.kind
    return LimitsVersion.objects.create(
        quantity=chart.key.quantity,
        soil_id=chart.key.of if kind is Kind.REFERENCE else None,
        lot_id=chart.key.of if kind is Kind.BLANK else None,
        method_root=chart.key.method,
        centre=_decimal(float(centre)),
        sd=_decimal(spread.level_pct),
        rise=_decimal(spread.rise_pct),
        low_action=low_action,
        low_warn=low_warn,
        high_warn=high_warn,
        high_action=high_action,
        points=len(runs),
        from_runs=list(runs),
        supersedes=chart.newest,
        **fields,
    )


def _decimal(value: float) -> Decimal:
    return Decimal(str(value)).quantize(FOUR_PLACES)


def _plain(proposal: Proposal) -> dict[str, object]:
    return {
        "centre": proposal.centre,
        "sd": proposal.sd,
        "rise": proposal.rise,
        "runs": list(proposal.runs),
        "words": proposal.words,
    }


def _plausible(key: ChartKey, sd: Decimal, rise: Decimal) -> SpreadByContent:
    spread = SpreadByContent(float(sd), float(rise))
    unit, most = key.quantity.unit, key.quantity.most_plausible_sd
    if sd < FOUR_PLACES or rise < 0:
        raise NotPossible(f"A spread of {sd} {unit} is none: every point would lie beyond it.")
    if rise and key.quantity.kind is not Kind.DUPLICATES:
        raise NotPossible("Only the spread of duplicates follows content.")
    if spread.at(50.0) > most:
        raise NotPossible(
            f"A standard deviation of {spread.at(50.0):.2f} {unit} is more than scatter can be ({most:g} {unit}). "
            "Look for the cause: a mix-up, two soils, two methods."
        )
    return spread


@transaction.atomic
def take_up_again(
    version: LimitsVersion, *, reason: str, seen: int, by: Person, at: datetime
) -> LimitsVersion:
    """Let the limits of an earlier version hold again, as a new version that names it."""
    _require_keeper(by)
    _require_words(reason, "Say in a sentence why these limits hold again.")
    _lock(version.key)
    chart = chart_of(version.key, at)
    _require_seen(chart, seen)
    if chart.newest is not None and chart.newest.pk == version.pk:
        raise NotPossible(f"{version} is the newest already; nothing was changed.")
    same = {
        name: getattr(version, name)
        for name in ("quantity", "soil", "lot", "method_root", "centre", "sd", "rise", "low_action", "low_warn",
                     "high_warn", "high_action", "points", "from_runs", "proposed", "document")
    }  # fmt: skip
    return LimitsVersion.objects.create(
        **same,
        in_force_from=at,
        reason=reason.strip(),
        supersedes=chart.newest,
        takes_up=version,
        **done(by, at),
    )


@transaction.atomic
def answer_point(
    quantity: Quantity, run: Run, *, counts: bool, reason: str, by: Person, at: datetime
) -> PointAnswer:
    """
    Say why a point of one chart lies where it does, and whether it counts for limits to come; the newest answer holds.

    What fired at the same run on another chart stays unanswered. A point that is left out is left out of both charts
    of its kind, unless somebody answers for it there.
    """
    _require_keeper(by)
    _require_words(reason, "Say in a sentence what was looked at and what was found.")
    batch = run.batch.lock()
    batch.require_other_person(by)
    if quantity.kind not in kinds_of(run) or batch.state not in HANDED_OVER:
        raise NotPossible(f"{run.title} in {batch} is no point of a chart of this kind.")
    return PointAnswer.objects.create(
        kind=quantity.kind, quantity=quantity, run=run, counts=counts, reason=reason.strip(), **done(by, at)
    )


def kinds_of(run: Run) -> tuple[Kind, ...]:
    """Kinds of chart that a run gives points to; none for a client's first portion."""
    if run.is_blank:
        return (Kind.BLANK, Kind.TEMPERATURE)
    if run.is_reference:
        return (Kind.REFERENCE,)
    return (Kind.DUPLICATES,) if run.is_duplicate else ()


def _require_keeper(by: Person) -> None:
    if not by.has_perm(KEEP):
        raise NotThisPerson(f"{by} is not authorised to enter limits or to answer for points beyond them.")


def _require_words(words: str, otherwise: str) -> None:
    if not is_a_sentence(words):
        raise NotPossible(f"{otherwise} {HOW_TO_SAY}")


def _require_seen(chart: Chart, seen: int) -> None:
    newest = chart.newest
    if newest is not None and newest.pk != seen:
        raise AlreadyThere(
            f"{newest.by} entered limits meanwhile: centre {newest.centre}, standard deviation {newest.sd}. "
            "Look at them, then enter yours."
        )


def _lock(key: ChartKey) -> None:
    """Two people who enter limits of one chart at once wait for each other."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(hashtextextended(%s, 0))", [f"limits {key.address}"])
