"""
Where the findings on the blank begin, from both sides; the numbers are written here and not read from the code.

One reading of a 152H has a standard deviation of √(0.3² + 0.5²/12) = 0.333 g/L. At 20 °C water shows -0.50 g/L on the
stem of these runs and 5 g/L of dispersant 4.55 g/L; both fall by 0.22 to 0.27 g/L per °C.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from particles.distribution import RunRecord
from tests.distribution.findings.test_findings import BY_MINUTES, OF_EARLIER_EDITIONS
from tests.support.runs import NINE, figures, good_run, with_reading, with_readings

WARMER_SHOWS_G_L = {
    19.0: 0.283, 20.3: -0.088, 20.4: -0.118, 21.0: -0.300, 21.6: -0.488, 21.7: -0.520, 23.0: -0.949
}  # fmt: skip
"""Temperature -> what a 152H shows more than at 20 °C. [g/L]"""


def _found(record: RunRecord, code: str) -> list[str]:
    """Severities of the findings with this code, by the last edition that had it."""
    method = BY_MINUTES if code in OF_EARLIER_EDITIONS else NINE
    return [str(each.severity) for each in figures(record, method=method).findings if each.code == code]


def _at_20_c(blank: float, **changes: Any) -> RunRecord:
    return replace(
        with_readings(temperature_c=20.0, blank_temperature_c=20.0, blank_reading=blank), **changes
    )


def _blanks(*values: float | None, temperatures_c: tuple[float, ...] = (21.0,) * 9) -> RunRecord:
    """The good run with these blanks, suspension and blank at one temperature."""
    run = good_run()
    read = zip(run.readings, values, temperatures_c, strict=True)
    return replace(
        run,
        readings=tuple(
            replace(p, blank_reading=blank, temperature_c=at_c, blank_temperature_c=at_c)
            for p, blank, at_c in read
        ),
    )


def _last(count: int, record: RunRecord) -> RunRecord:
    return replace(record, readings=record.readings[-count:])


def test_a_blank_below_four_tenths_of_the_way_from_water_is_without_dispersant() -> None:
    """From -0.50 to 4.55 g/L, four tenths are 1.52 g/L."""
    assert _found(_at_20_c(1.60), "blank_without_dispersant") == []
    assert _found(_at_20_c(1.45), "blank_without_dispersant") == ["stop"]


def test_up_to_one_gram_of_dispersant_nothing_is_expected_of_the_level() -> None:
    assert _found(_at_20_c(-2.0, dispersant_g_l=1.0), "blank_without_dispersant") == []
    assert _found(_at_20_c(-2.0, dispersant_g_l=1.1), "blank_without_dispersant") == ["stop"]


@pytest.mark.parametrize(("as_expected", "apart"), [(7.0, 7.1), (2.1, 2.0)])
def test_a_level_more_than_two_and_a_half_grams_from_the_expected(as_expected: float, apart: float) -> None:
    assert _found(_at_20_c(as_expected), "blank_level") == []
    assert _found(_at_20_c(apart), "blank_level") == ["warn"]


def test_a_single_blank_more_than_half_a_gram_off() -> None:
    assert _found(with_reading(8, blank_reading=5.0), "blank_drift") == []
    assert _found(with_reading(8, blank_reading=5.1), "blank_drift") == ["note"]


def test_a_single_blank_further_off_than_noise() -> None:
    """3 × 1.13 × 0.333 √(1 + 1.57/9) = 1.22 g/L."""
    assert _found(with_reading(8, blank_reading=5.70), "blank_drift") == ["note"]
    assert _found(with_reading(8, blank_reading=5.74), "blank_drift") == ["warn"]


def test_two_blanks_are_compared_with_each_other() -> None:
    """3 × 1.13 × 0.333 √2 = 1.60 g/L; one alone has no level."""
    for second, severity in ((6.05, "note"), (6.15, "warn")):
        assert _found(_last(2, with_reading(8, blank_reading=second)), "blank_drift") == [severity]
    assert _found(_last(2, _at_20_c(1.0)), "blank_without_dispersant") == ["stop"]
    assert _found(_last(1, _at_20_c(1.0)), "blank_without_dispersant") == []


def test_a_level_that_moved_over_the_run() -> None:
    """3 × 1.1 × 0.333 √(2/4) = 0.777 g/L between the first and the last four."""
    for moved_g_l, severities in ((0.76, []), (0.79, ["warn"])):
        record = _blanks(*[4.5] * 5, *[4.5 + moved_g_l] * 4)
        assert _found(record, "blank_trend") == severities


def test_four_blanks_are_the_fewest_with_a_trend() -> None:
    """3 × 1.1 × 0.333 √(2/2) = 1.10 g/L."""
    record = _blanks(*[4.5] * 7, 6.0, 6.0)
    assert _found(_last(4, record), "blank_trend") == ["warn"]
    assert _found(_last(3, record), "blank_trend") == []


def test_a_trend_within_half_a_gram_is_none_however_well_it_is_read() -> None:
    sharp = replace(
        BY_MINUTES, uncertainties=replace(NINE.uncertainties, reading_g_l=0.05, scale_division_g_l=0.05)
    )
    for moved_g_l, said in ((0.48, False), (0.52, True)):
        answer = figures(_blanks(*[4.5] * 5, *[4.5 + moved_g_l] * 4), method=sharp)
        assert ("blank_trend" in {finding.code for finding in answer.findings}) is said


def _following(times: float, cold_c: float, warm_c: float) -> RunRecord:
    """Blanks that follow their temperature so many times as much as water does, read to any digit."""
    temperatures_c = (cold_c,) * 4 + (21.0,) + (warm_c,) * 4
    shifts = [WARMER_SHOWS_G_L[at_c] for at_c in temperatures_c]
    middle = sum(shifts) / 9.0
    return _blanks(*(4.5 + times * (shift - middle) for shift in shifts), temperatures_c=temperatures_c)


def test_a_blank_that_follows_its_temperature_too_much() -> None:
    """Eight moves of 0.62 g/L know the slope to 0.333 / √(8 × 0.62²) = 0.19; 3.3 of them are 0.63."""
    for times in (1.60, 0.40):
        assert _found(_following(times, 19.0, 23.0), "blank_against_temperature") == []
    for times in (1.67, 0.33):
        assert _found(_following(times, 19.0, 23.0), "blank_against_temperature") == ["warn"]


def test_a_slope_known_no_better_than_six_tenths_says_nothing() -> None:
    """0.333 / √(8 × 0.185²) = 0.64 at 0.6 °C to either side, 0.54 at 0.7 °C."""
    assert _found(_following(6.0, 20.4, 21.6), "blank_against_temperature") == []
    assert _found(_following(6.0, 20.3, 21.7), "blank_against_temperature") == ["warn"]


def test_one_figure_throughout_while_a_gram_of_move_was_due() -> None:
    """From 19.4 to 22.6 °C 0.99 g/L, from 19.3 to 22.7 °C 1.05 g/L; of fewer than four blanks nothing is said."""
    for half_c, severities in ((1.6, []), (1.7, ["warn"])):
        cold_c, warm_c = 21.0 - half_c, 21.0 + half_c
        record = _blanks(*[4.5] * 9, temperatures_c=(cold_c,) * 4 + (21.0,) + (warm_c,) * 4)
        assert _found(record, "blank_copied") == severities
    steep = _blanks(*[4.5] * 9, temperatures_c=(19.0,) * 6 + (19.0, 21.0, 24.0))
    assert _found(_last(4, steep), "blank_copied") == ["warn"]
    assert _found(_last(3, steep), "blank_copied") == []


@pytest.mark.parametrize(
    ("blank", "code"),
    [
        (0.0, ""), (-0.1, "blank_unusual"), (-3.0, "blank_unusual"), (-3.1, "blank_impossible"),
        (9.0, ""), (9.1, "blank_unusual"), (12.0, "blank_unusual"), (12.1, "blank_impossible"),
    ],
)  # fmt: skip
def test_the_usual_and_the_possible_blank(blank: float, code: str) -> None:
    found = {finding.code for finding in figures(with_readings(blank_reading=blank)).findings}
    assert found & {"blank_unusual", "blank_impossible"} == ({code} if code else set())


@pytest.mark.parametrize(
    ("apart_c", "code"),
    [
        (1.0, ""), (1.1, "blank_temperature_apart"), (-1.0, ""), (-1.1, "blank_temperature_apart"),
        (2.0, "blank_temperature_apart"), (2.1, "blank_temperature_far_apart"),
    ],
)  # fmt: skip
def test_suspension_and_blank_apart(apart_c: float, code: str) -> None:
    found = {finding.code for finding in figures(with_readings(blank_temperature_c=21.0 - apart_c)).findings}
    said = found & {"blank_temperature_apart", "blank_temperature_far_apart"}
    assert said == ({code} if code else set())


def test_a_blank_read_more_than_half_an_hour_away() -> None:
    assert _found(with_reading(3, blank_gap_s=1800.0), "blank_far_in_time") == []
    assert _found(with_reading(3, blank_gap_s=1801.0), "blank_far_in_time") == ["warn"]
