"""A fraction that its run cannot tell from none is printed as less than a limit, and the three still make sense."""

from __future__ import annotations

from dataclasses import asdict, replace

import pytest

from particles.distribution import Estimate, Fractions, usda_class
from reports.content.build import below_detection_note, fraction_rows
from reports.content.changes import changes_between
from reports.content.context import FractionRow
from tests.support.example_context import ONE_SAMPLE, PURE_SAND
from tests.support.runs import NINE


def fractions(sand: float, silt: float, clay: float, spreads: tuple[float, ...] | None) -> Fractions:
    """Fractions with the spreads of sand, silt and clay; intervals two of them wide on either side."""
    parts = [
        Estimate(value) if spread is None else Estimate(value, spread, value - 2 * spread, value + 2 * spread)
        for value, spread in zip((sand, silt, clay), spreads or (None,) * 3, strict=True)
    ]
    return Fractions(parts[2], parts[1], parts[0], 2.0, 50.0, "sieve")


def printed(rows: tuple[FractionRow, ...]) -> list[str]:
    return [row.printed_pct for row in rows]


def test_a_pure_sand_prints_less_than_for_silt_and_clay_and_tells_what_makes_up_the_rest() -> None:
    rows = fraction_rows(fractions(96.0, 2.8, 1.2, (1.6, 2.5, 1.8)), NINE)
    assert printed(rows) == ["96", "< 9", "< 6"]
    assert [row.interval_pct for row in rows] == ["93 to 99", "−2 to 8", "−2 to 5"]
    note = below_detection_note(rows)
    assert "Computed were 3 % silt and 1 % clay, with which the three figures total 100 %" in note
    assert "the texture class is taken from the computed figures, unrounded" in note


@pytest.mark.parametrize(
    ("parts", "shown", "computed"),
    [
        ((60.3, 38.5, 1.2), ["60", "39", "< 6"], "1 % clay"),
        ((45.0, 2.0, 53.0), ["45", "< 9", "53"], "2 % silt"),
        ((60.3, 40.5, -0.8), ["60", "41", "< 6"], "−1 % clay"),
        ((0.2, 59.9, 39.9), ["< 6", "60", "40"], "0 % sand"),
    ],
)
def test_printed_figures_total_100_with_what_was_computed_bench_fault_89(
    parts: tuple[float, ...], shown: list[str], computed: str
) -> None:
    """Bench fault 89: rounded by largest remainder; the one behind “<” is told, so that the rest adds up."""
    rows = fraction_rows(fractions(*parts, spreads=(1.6, 2.5, 1.8)), NINE)
    assert printed(rows) == shown
    assert f"Computed were {computed}, with" in below_detection_note(rows)
    assert sum(int(row.value_pct.replace("−", "-")) for row in rows) == 100


def test_the_class_is_that_of_the_computed_figures_bench_fault_91() -> None:
    """Bench fault 91: 26.6 % clay is printed as 27, on the line of clay loam, and stays a loam; 27.0 is on the line."""
    assert printed(fraction_rows(fractions(40.0, 33.4, 26.6, (1.6, 2.5, 1.8)), NINE)) == ["40", "33", "27"]
    assert (usda_class(40.0, 33.4, 26.6).name, usda_class(40.0, 33.4, 26.6).on_the_line) == ("loam", False)
    assert (usda_class(40.0, 33.0, 27.0).name, usda_class(40.0, 33.0, 27.0).on_the_line) == (
        "clay loam",
        True,
    )


def test_without_a_figure_below_detection_there_is_no_note() -> None:
    rows = fraction_rows(fractions(40.0, 40.0, 20.0, (1.6, 2.5, 1.8)), NINE)
    assert printed(rows) == ["40", "40", "20"]
    assert [row.detection_limit_pct for row in rows] == ["6", "9", "6"]
    assert below_detection_note(rows) == ""


def test_without_an_uncertainty_the_figure_stands_and_no_limit_is_invented() -> None:
    rows = fraction_rows(fractions(99.0, 0.6, 0.4, None), NINE)
    assert printed(rows) == ["99", "1", "0"]
    assert {row.detection_limit_pct for row in rows} == {"not determined"}


def test_an_amended_certificate_tells_figures_as_they_were_printed() -> None:
    was = asdict(replace(ONE_SAMPLE, samples=(PURE_SAND,)))
    clay = PURE_SAND.fractions[2]
    counted = replace(clay, printed_pct="7", value_pct="7", below_detection=False)
    now = replace(PURE_SAND, fractions=(*PURE_SAND.fractions[:2], counted))
    (told,) = changes_between(was, asdict(replace(ONE_SAMPLE, samples=(now,))))
    assert told == f"sample {now.lab_number}: clay was < 6 % (−3 to 4), is 7 % (−3 to 4)"


def test_a_certificate_from_before_there_were_limits_has_not_changed_by_them() -> None:
    content = asdict(ONE_SAMPLE)
    before = asdict(ONE_SAMPLE)
    for sample in before["samples"]:
        del sample["below_detection_note"]
        for row in sample["fractions"]:
            for added in ("printed_pct", "below_detection", "detection_limit_pct"):
                del row[added]
    assert changes_between(before, content) == []
