"""Points judged by the limits of their day, and limits proposed from points; all figures invented."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from batches.limits.judging import (
    Answer,
    Judged,
    Limits,
    Point,
    Proposal,
    judge,
    limits_of,
    propose,
)
from batches.limits.keys import ChartKey, Kind, Quantity
from batches.quality.robust import algorithm_a
from particles.distribution.record import SpreadByContent

SAND, CLAY_PAIRS = Quantity.REFERENCE_SAND, Quantity.DUPLICATES_CLAY
FIRST = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
COUNTS = Answer(True, "Looked into, no cause found.", "Quinn Example", FIRST)
LEFT_OUT = Answer(False, "The bag was another one.", "Quinn Example", FIRST)


def points(*values: float) -> list[Point]:
    return [
        Point(n, f"B26-{n:04d}", FIRST + timedelta(days=n), value) for n, value in enumerate(values, start=1)
    ]


def version(centre: float = 60.0, sd: float = 1.0, *, day: int = 0, pk: int = 1) -> Limits:
    spread = SpreadByContent(sd)
    low_action, low_warn, high_warn, high_action = limits_of(SAND, centre, spread)
    return Limits(
        pk, FIRST + timedelta(days=day), centre, spread, (low_action, low_warn), (high_warn, high_action)
    )


def codes(judged: Judged) -> list[str]:
    return [fired.rule.code for fired in judged.fired]


def test_a_point_is_judged_by_the_version_of_its_own_day() -> None:
    narrow, wide = version(sd=0.5), version(sd=2.0, day=3, pk=2)
    found = judge(points(60.1, 61.6, 61.6), [narrow, wide], SAND)
    assert [each.limits.version for each in found if each.limits] == [1, 1, 2]
    assert [codes(each) for each in found] == [[], ["1of1_3s", "1of1_2s"], []]
    assert [each.z for each in found] == pytest.approx([0.2, 3.2, 0.8])


def test_a_point_from_before_the_first_version_is_not_judged() -> None:
    [early, _] = judge(points(99.0, 60.0), [version(day=2)], SAND)
    assert (early.limits, early.fired, early.counts) == (None, (), True)


def test_a_point_that_stops_counts_for_nothing_until_it_is_answered() -> None:
    series = points(60.0, 64.0)
    [_, wild] = judge(series, [version()], SAND)
    assert (wild.weight, wild.waits_for_answer, wild.counts) == ("stop", True, False)
    [_, kept] = judge([series[0], replace(series[1], answer=COUNTS)], [version()], SAND)
    assert (kept.weight, kept.waits_for_answer, kept.counts) == ("stop", False, True)
    [_, out] = judge([series[0], replace(series[1], answer=LEFT_OUT)], [version()], SAND)
    assert (out.weight, out.waits_for_answer, out.counts) == ("stop", False, False)


def test_a_warning_counts_without_an_answer() -> None:
    [warned] = judge(points(62.5), [version()], SAND)
    assert (warned.weight, warned.counts) == ("warn", True)


def test_two_in_a_row_stop_unless_the_first_is_answered_as_left_out() -> None:
    series = points(62.5, 62.5)
    assert "2of2_2s" in codes(judge(series, [version()], SAND)[1])
    left_out = [replace(series[0], answer=LEFT_OUT), series[1]]
    assert "2of2_2s" not in codes(judge(left_out, [version()], SAND)[1])


def test_what_has_a_stop_of_its_own_stands_on_the_chart_and_no_rule_looks_back_at_it() -> None:
    series = points(62.5, 62.5)
    void = [replace(series[0], why_out="its run has a stop"), series[1]]
    first, second = judge(void, [version()], SAND)
    assert (first.counts, first.waits_for_answer) == (False, False)
    assert "2of2_2s" not in codes(second)


def test_a_slow_move_is_told_by_the_weighted_mean_before_a_point_lies_beyond_a_limit() -> None:
    creeping = points(*[61.2] * 8)
    found = judge(creeping, [version()], SAND)
    assert all("1of1_2s" not in codes(each) for each in found)
    first = next(n for n, each in enumerate(found) if "ewma" in codes(each))
    assert first == 7
    assert found[first].weighted_mean == pytest.approx(60 + 1.2 * (1 - 0.8**8))
    steady = judge(points(*[60.3, 59.7] * 10), [version()], SAND)
    assert all(codes(each) == [] for each in steady)


def test_limits_stand_two_and_three_deviations_off_and_those_of_pairs_begin_at_zero() -> None:
    assert limits_of(SAND, 60.0, SpreadByContent(0.5)) == (58.5, 59.0, 61.0, 61.5)
    low_action, low_warn, warn, action = limits_of(CLAY_PAIRS, 0.0, SpreadByContent(1.0))
    assert (low_action, low_warn) == (0.0, 0.0)
    # 2.8 s and D4 d2 s, as decision 0007 and its sources have them.
    assert (warn, action) == (pytest.approx(2.8), pytest.approx(3.685, abs=5e-4))


def pairs(*differences: float, content: float = 20.0) -> list[Point]:
    spread = SpreadByContent(1.0)
    return [
        replace(point, pair=(content, content + d), bound=spread)
        for point, d in zip(points(*map(abs, differences)), differences, strict=True)
    ]


def test_pairs_are_judged_one_by_one_by_the_spread_their_batch_has() -> None:
    found = judge(pairs(0.5, 2.7, 2.9, 3.6, 3.8), [], CLAY_PAIRS)
    assert [codes(each) for each in found] == [[], [], ["pair_warn"], ["pair_warn"], ["pair_action"]]
    assert [each.waits_for_answer for each in found] == [False] * 4 + [True]


def test_a_version_judges_a_pair_at_its_own_content() -> None:
    rising = Limits(
        1, FIRST, 0.0, SpreadByContent(0.2, 1.0), (0.0, 0.0), limits_of(CLAY_PAIRS, 0.0, SpreadByContent(0.2, 1.0))[2:]
    )  # fmt: skip
    at_middle = judge(pairs(2.5, content=49.0), [rising], CLAY_PAIRS)
    near_zero = judge(pairs(2.5, content=0.5), [rising], CLAY_PAIRS)
    assert (at_middle[0].weight, near_zero[0].weight) == ("", "stop")


VALUES = [60.2, 59.1, 60.8, 61.0, 59.6, 60.1, 59.9, 60.5, 58.9, 60.4]


def test_ten_days_propose_a_robust_centre_and_spread() -> None:
    proposal = propose(judge(points(*VALUES), [], SAND), SAND)
    assert isinstance(proposal, Proposal)
    assert (proposal.centre, proposal.sd) == (algorithm_a(VALUES).mean, algorithm_a(VALUES).sd)
    assert proposal.runs == tuple(range(1, 11))
    assert proposal.why_not == ""


def test_nine_days_or_ten_runs_of_one_day_propose_nothing() -> None:
    assert isinstance(propose(judge(points(*VALUES[:9]), [], SAND), SAND), str)
    one_day = [replace(each, at=FIRST) for each in points(*VALUES)]
    assert propose(judge(one_day, [], SAND), SAND) == (
        "Points that count: 10, of 1 day. Limits are proposed from 10 different days on."
    )


def test_a_wild_point_that_waits_is_left_out_of_the_proposal_and_told() -> None:
    judged = judge(points(*VALUES, 80.0), [version()], SAND)
    proposal = propose(judged, SAND)
    assert isinstance(proposal, Proposal)
    assert proposal.runs == tuple(range(1, 11))
    assert "1 point waits for an answer" in proposal.words


def test_a_spread_that_cannot_be_scatter_is_proposed_with_a_warning() -> None:
    wild = propose(judge(points(*[40.0, 70.0] * 6), [], SAND), SAND)
    assert isinstance(wild, Proposal)
    assert "more than scatter can be (3)" in wild.why_not
    assert "all equal" in str(propose(judge(points(*[60.0] * 12), [], SAND), SAND))


@pytest.mark.parametrize("quantity", list(Quantity))
def test_a_key_leads_to_its_address_and_back(quantity: Quantity) -> None:
    kind = quantity.kind
    key = ChartKey(
        quantity,
        7 if kind in (Kind.REFERENCE, Kind.BLANK) else 0,
        "four-2026-1" if kind in (Kind.REFERENCE, Kind.DUPLICATES) else "",
    )
    assert ChartKey.parse(key.address) == key


@pytest.mark.parametrize(
    "address",
    [
        "",
        "rain.0.",
        "temperature.1.",
        "blank-level.0.",
        "reference-sand.3.",
        "duplicates-clay.0",
        "blank-level.x.",
    ],
)
def test_what_is_no_key_leads_nowhere(address: str) -> None:
    assert ChartKey.parse(address) is None
