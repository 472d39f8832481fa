"""Run rules against their published patterns, probabilities and mean run lengths."""

from __future__ import annotations

from itertools import product
from math import erf, sqrt
from typing import Any

import numpy as np
import pytest

from batches.quality import run_rules
from batches.quality.run_rules import EIGHT_TESTS, LABORATORY, ZONES, Rule, RuleSet, Weight, fired, fired_at
from tests.batches.quality.published import CHARTS

SEVEN_POINTS = Rule(
    "trend7pts", "seven points steadily rising or falling", Weight.WARN, run_rules.trend_of(7)
)
NAMED = [
    run_rules.BEYOND_3, run_rules.TWO_OF_THREE, run_rules.FOUR_OF_FIVE, run_rules.RUN_8, run_rules.RUN_9,
    run_rules.TREND_6, SEVEN_POINTS, run_rules.ALTERNATING_14, run_rules.WITHIN_15, run_rules.OUTSIDE_8,
    run_rules.OPPOSITE,
]  # fmt: skip
EVERY_RULE = RuleSet("every", "test", tuple(NAMED))
SEQUENCES = CHARTS["run_rules"]["sequences"]


@pytest.mark.parametrize("each", SEQUENCES, ids=lambda each: each["name"])
def test_each_pattern_fires_where_it_is_published_and_no_other_does(each: Any) -> None:
    found: dict[str, list[int]] = {}
    for signal in fired(each["z"], EVERY_RULE):
        found.setdefault(signal.rule.code, []).append(signal.place + 1)
    assert found == each["signals"]


def _below(z: float) -> float:
    return (1 + erf(z / sqrt(2))) / 2


EDGES = (-np.inf, -3, -2, -1, 0, 1, 2, 3, np.inf)
MIDDLES = (-3.5, -2.5, -1.5, -0.5, 0.5, 1.5, 2.5, 3.5)


def mean_run_length(rules: RuleSet, memory: int, shift: float = 0.0) -> float:
    """Mean number of independent normal points up to the first signal, exactly, over every history there is."""
    symbols = [
        (middle, _below(high - shift) - _below(low - shift))
        for middle, low, high in zip(MIDDLES, EDGES, EDGES[1:], strict=False)
    ]
    places: dict[tuple[float, ...], int] = {(): 0}
    rows: list[tuple[int, int, float]] = []
    waiting = [()]
    while waiting:
        history: tuple[float, ...] = waiting.pop()
        for middle, share in symbols:
            after = (*history, middle)
            if fired_at(after, rules):
                continue
            kept = after[-memory:] if memory else ()
            if kept not in places:
                places[kept] = len(places)
                waiting.append(kept)
            rows.append((places[history], places[kept], share))
    matrix = np.eye(len(places))
    for come_from, to, share in rows:
        matrix[come_from, to] -= share
    return float(np.linalg.solve(matrix, np.ones(len(places)))[0])


def one(*rules: Rule) -> RuleSet:
    return RuleSet("some", "test", rules)


# Source S17 (Technometrics 29, 1987, 393-399): mean run lengths with supplementary rules, by shift.
LENGTHS = CHARTS["average_run_length"]["shewhart_with_rules"]
SHIFTS = CHARTS["average_run_length"]["shift_sigma"]


@pytest.mark.parametrize(
    ("name", "rules", "memory"),
    [
        ("1", one(run_rules.BEYOND_3), 0),
        ("1+2of3", one(run_rules.BEYOND_3, run_rules.TWO_OF_THREE), 2),
        ("1+4of5", one(run_rules.BEYOND_3, run_rules.FOUR_OF_FIVE), 4),
        ("1+2of3+4of5", one(run_rules.BEYOND_3, run_rules.TWO_OF_THREE, run_rules.FOUR_OF_FIVE), 4),
    ],
)
def test_the_readings_of_the_rules_give_the_published_mean_run_lengths(
    name: str, rules: RuleSet, memory: int
) -> None:
    assert [mean_run_length(rules, memory, shift) for shift in SHIFTS] == pytest.approx(
        LENGTHS[name], abs=5e-3
    )


@pytest.mark.parametrize(
    ("name", "rule", "length"), [("run8", run_rules.RUN_8, 8), ("run9", run_rules.RUN_9, 9)]
)
def test_a_run_on_one_side_takes_as_long_as_published(name: str, rule: Rule, length: int) -> None:
    # 2 to the power n, less 1, for points that lie on either side with a chance of one half.
    expected = CHARTS["average_run_length"]["rule_alone"][f"{name} alone"][0]
    assert expected == 2**length - 1
    series = [seq for seq in product((-0.5, 0.5), repeat=length) if rule.fires(seq)]
    assert len(series) / 2**length == pytest.approx(
        CHARTS["run_rules"]["single_pattern_probability"][f"{length} same side"], abs=1e-6
    )
    # Two series of 2^n end in a run: the mean waiting time of either is 2^n - 1.
    assert len(series) == 2


def test_beyond_is_strict_and_within_takes_the_limit() -> None:
    assert not run_rules.BEYOND_3.fires([3.0])
    assert run_rules.BEYOND_3.fires([3.0000001])
    assert run_rules.WITHIN_15.fires([1.0] * 15)
    assert not run_rules.WITHIN_15.fires([1.0] * 14 + [1.0000001])
    assert not run_rules.TWO_OF_THREE.fires([2.1, 2.2, 0.1]), "the point itself lies within"


def test_a_signal_names_its_rule_and_the_source_of_the_set() -> None:
    [signal] = fired([0.1, 3.2], one(run_rules.BEYOND_3))
    assert (signal.rule.name, signal.place) == ("one point beyond 3 standard deviations", 1)
    assert [each.source for each in fired([2.5, 2.5], LABORATORY)] == [LABORATORY.source] * 3
    assert fired_at([], LABORATORY) == []


@pytest.mark.parametrize(
    ("z", "codes"),
    [
        ([2.5], ["1of1_2s"]),
        ([3.5], ["1of1_3s", "1of1_2s"]),
        ([2.1, 2.1], ["2of2_2s", "1of1_2s"]),
        ([2.1, -2.1], ["R4s", "1of1_2s"]),
        ([1.1, 1.1, 1.1, 1.1], ["4of4_1s"]),
        ([0.1] * 10, ["run10"]),
        ([0.1] * 9, []),
        ([-1.1, 1.1, 1.1, 1.1], []),
    ],
)
def test_the_laboratorys_set_fires_as_its_source_lists_it(z: list[float], codes: list[str]) -> None:
    # Source S15, table 1: 1-2s warns; 1-3s, 2-2s, R-4s, 4-1s and ten on one side reject.
    assert [each.rule.code for each in fired_at(z, LABORATORY)] == codes


def test_only_one_point_beyond_two_and_a_run_on_one_side_warn_all_others_stop() -> None:
    warns = {rule.code for rule in LABORATORY.rules if rule.weight is Weight.WARN}
    assert warns == {"1of1_2s", "run10"}


def test_the_sets_hold_as_many_rules_as_their_sources_list() -> None:
    assert (len(ZONES.rules), len(EIGHT_TESTS.rules), len(LABORATORY.rules)) == (4, 8, 6)
