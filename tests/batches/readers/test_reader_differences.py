"""Readers against each other: who is asked, and whether a constant shift is told apart. Pure; all figures invented."""

from __future__ import annotations

import random
from itertools import combinations
from math import log10

import pytest

from batches.readers.choice import FROM_S, LIMIT_G_L, ONE_IN, WITHIN_S, asked_slots, is_asked
from batches.readers.differences import (
    LEAST_COMPARISONS,
    Comparison,
    ReaderDifference,
    middle_of,
    reader_differences,
)

SCHEDULE_S = (30, 60, 600, 1800, 5400, 7200, 86400)


def read(true_g_l: float, shift_g_l: float, chance: random.Random, sd_g_l: float = 0.2) -> float:
    """As somebody reads it: shifted, with noise, to half a graduation. [g/L]"""
    return round(2 * (true_g_l + shift_g_l + chance.gauss(0.0, sd_g_l))) / 2


def compared(shifts_g_l: dict[str, float], count: int, seed: int) -> list[Comparison]:
    chance = random.Random(seed)
    found = []
    for _ in range(count):
        first, second = chance.sample(sorted(shifts_g_l), 2)
        true_g_l = chance.uniform(4.0, 30.0)
        difference = read(true_g_l, shifts_g_l[second], chance) - read(true_g_l, shifts_g_l[first], chance)
        found.append(Comparison(first, second, difference))
    return found


def shifted(shifts_g_l: dict[str, float], count: int, seed: int) -> list[str]:
    return [each.reader for each in reader_differences(compared(shifts_g_l, count, seed)) if each.is_shifted]


def test_one_reading_in_twenty_of_those_that_can_be_is_asked_for() -> None:
    """Binomial: 12 000 draws of 1/20 lie within 600 ± 5 standard deviations of 24."""
    asked = [
        is_asked(f"B26-{batch:04d}", f"C{n:02d}", slot)
        for batch in range(100)
        for n in range(24)
        for slot in SCHEDULE_S[2:]
    ]
    assert len(asked) == 12_000
    assert abs(sum(asked) - len(asked) / ONE_IN) < 120


def test_no_second_look_is_asked_for_while_the_soil_falls_too_fast() -> None:
    assert not any(set(asked_slots("B26-0001", f"C{n}", (30, 60, 180, 300))) for n in range(500))
    steepest_g_l = 40 * log10((FROM_S + WITHIN_S) / FROM_S)
    assert steepest_g_l < LIMIT_G_L < 40 * log10((180 + WITHIN_S) / 180)


@pytest.mark.parametrize("shift_g_l", [-1.0, -0.6, 0.6, 1.0])
@pytest.mark.parametrize("seed", range(5))
def test_fault_50_a_constant_shift_of_one_reader_is_told_of_that_reader_alone(
    shift_g_l: float, seed: int
) -> None:
    """Bench fault 50: the lower meniscus read, or a correction applied twice, gives half a graduation to one."""
    readers = {"Ada": 0.0, "Ben": 0.0, "Cleo": shift_g_l, "Dora": 0.0}
    assert shifted(readers, 120, seed) == ["Cleo"]
    found = {each.reader: each for each in reader_differences(compared(readers, 120, seed))}
    assert found["Cleo"].shift_g_l == pytest.approx(shift_g_l, abs=0.2)


def test_fault_50_readers_who_agree_are_left_alone() -> None:
    """Bench fault 50, the other side: at most one reader in fifty is called shifted without being so."""
    readers = dict.fromkeys(("Ada", "Ben", "Cleo", "Dora"), 0.0)
    called = sum(len(shifted(readers, 80, seed)) for seed in range(50))
    assert called <= 4


def test_of_two_people_both_lie_half_the_difference_off() -> None:
    found = reader_differences(compared({"Ada": 0.0, "Ben": 1.0}, 60, 1))
    assert [each.is_shifted for each in found] == [True, True]
    assert sum(each.shift_g_l for each in found) == pytest.approx(0.0, abs=1e-9)
    assert {round(each.mean_g_l, 6) for each in found} == {
        round(-found[0].mean_g_l, 6),
        round(found[0].mean_g_l, 6),
    }


def test_too_few_pairs_accuse_nobody() -> None:
    for count in range(1, LEAST_COMPARISONS + 1):
        found = reader_differences([Comparison("Ada", "Ben", 1.0 + 0.5 * (n % 2)) for n in range(count)])
        assert {each.is_shifted for each in found} == {count >= LEAST_COMPARISONS}


def test_a_shift_is_told_from_half_a_graduation_and_twice_its_uncertainty_on() -> None:
    def reader(shift_g_l: float, uncertainty_g_l: float, number: int = 8) -> ReaderDifference:
        return ReaderDifference("Ada", number, shift_g_l, 0.2, shift_g_l, uncertainty_g_l, 0, 3)

    assert reader(0.25, 0.1249).is_shifted
    assert reader(-0.25, 0.1249).is_shifted
    assert not reader(0.2499, 0.01).is_shifted
    assert not reader(0.25, 0.125).is_shifted
    assert not reader(0.25, 0.1, number=7).is_shifted


def test_one_slip_moves_the_middle_little() -> None:
    quiet = [0.0, 0.5, 0.0, -0.5, 0.5, 0.0, 0.5, -0.5, 0.0, 0.5]
    assert abs(middle_of([*quiet, 20.0]).mean - middle_of(quiet).mean) < 0.2
    assert middle_of([0.5]).mean == 0.5


def test_differences_in_whole_graduations_of_which_most_are_nought_still_have_a_mean_and_a_spread() -> None:
    """More than half of them equal: the median deviation is nought, and algorithm A would stand still on it."""
    found = middle_of([0.0] * 6 + [0.5] * 5)
    assert found.mean == pytest.approx(5 * 0.5 / 11)
    assert found.sd == pytest.approx(0.2611, abs=1e-4)


def test_pairs_beyond_one_graduation_are_counted_and_one_graduation_is_not() -> None:
    pairs = [Comparison("Ada", "Ben", difference) for difference in (0.0, 0.5, -0.5, 1.0, -1.5)]
    assert [each.beyond for each in reader_differences(pairs)] == [2, 2]


def test_every_pair_of_people_counts_for_both() -> None:
    pairs = [Comparison(a, b, 0.0) for a, b in combinations(("Ada", "Ben", "Cleo"), 2)]
    assert {(each.number, each.others) for each in reader_differences(pairs)} == {(2, 2)}
    assert reader_differences([]) == []
