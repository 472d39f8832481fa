"""Fractions from elsewhere: they add up as their digits allow, or the rows around them are looked at."""

from __future__ import annotations

from dataclasses import replace

import pytest

from particles.distribution import Severity, texture_system
from particles.distribution.without_run.imported import RowFinding, imported_findings
from particles.distribution.without_run.printed import Printed
from tests.support.planted_sheets import SOUND, exchanged, profile, row, shifted, shifted_up


def said(found: tuple[RowFinding, ...]) -> list[tuple[int | None, str, str]]:
    return [(each.row, each.finding.code, str(each.finding.severity)) for each in found]


def test_a_sound_list_raises_nothing() -> None:
    assert imported_findings(SOUND) == ()


@pytest.mark.parametrize(
    "parts",
    [
        ("40", "40", "20"),
        ("33", "33", "33"),
        ("34", "34", "33"),
        ("33.3", "33.3", "33.3"),
        ("33,4", "33,4", "33,3"),
        ("40.0", "40", "20"),
        ("100", "0", "0"),
    ],
)
def test_a_sum_that_rounding_explains_raises_nothing_bench_fault_89(parts: tuple[str, str, str]) -> None:
    """Bench fault 89: 99 or 101 of whole percents, 99.9 or 100.1 of tenths."""
    assert imported_findings((row(*parts),)) == ()


@pytest.mark.parametrize(
    ("parts", "severity", "apart", "rounding"),
    [
        (("40.0", "40.0", "19.8"), Severity.WARN, "-0.2", "0.15"),
        (("33.3", "33.3", "33.2"), Severity.WARN, "-0.2", "0.15"),
        (("40", "40", "22"), Severity.WARN, "+2", "1.5"),
        (("40", "40", "18"), Severity.WARN, "-2", "1.5"),
        (("40", "40", "23"), Severity.STOP, "+3", "1.5"),
        (("40.0", "40.0", "17.9"), Severity.STOP, "-2.1", "0.15"),
        (("4", "40", "20"), Severity.STOP, "-36", "1.5"),
    ],
)
def test_a_sum_apart_says_by_how_much_and_what_rounding_could_do_bench_fault_90(
    parts: tuple[str, str, str], severity: Severity, apart: str, rounding: str
) -> None:
    """Bench fault 90: the tolerance follows from the digits; outside 98 to 102 it stops; nothing is rescaled."""
    (found,) = imported_findings((row(*parts),))
    assert (found.finding.code, found.finding.severity) == ("imported_sum", severity)
    assert f"{apart} from 100; rounding as printed can do {rounding}." in found.finding.sentence


def test_a_part_below_nothing_or_above_everything_is_named_even_when_the_sum_is_right() -> None:
    found = imported_findings((row("60", "45", "-5"), row("100.1", "0.0", "-0.1")))
    assert said(found) == [(0, "imported_out_of_range", "stop")] + [(1, "imported_out_of_range", "stop")] * 2
    assert found[0].finding.sentence.startswith("clay is given as -5 %")


def test_a_column_that_slipped_is_seen_in_the_rows_around_bench_fault_90() -> None:
    """Bench fault 90: values that pair to 100 across rows, before one value is blamed."""
    found = imported_findings(shifted("clay", 1, 5))
    (slip,) = [each for each in found if each.finding.code == "imported_slipped"]
    assert slip.row == 2
    assert "From row 3 to row 5 (3 rows), each clay fits the row above its own" in slip.finding.sentence
    (slip,) = [
        each
        for each in imported_findings(shifted_up("silt", 0, 4))
        if each.finding.code == "imported_slipped"
    ]
    assert "each silt fits the row below its own" in slip.finding.sentence


def test_one_row_that_comes_right_by_chance_is_no_slip() -> None:
    """50, 35 and the 15 of the row above add up to 100, and no other row does as much."""
    rows = (SOUND[0], row("50", "35", "9"), SOUND[2])
    assert {each.finding.code for each in imported_findings(rows)} == {"imported_sum"}


def test_two_values_that_changed_places_are_seen() -> None:
    found = imported_findings(exchanged("sand", 1))
    assert (1, "imported_exchanged", "stop") in said(found)
    assert "imported_slipped" not in {each.finding.code for each in found}


@pytest.mark.parametrize(
    ("depths", "severity", "words"),
    [
        (((10.0, 0.0),), "stop", "not downward"),
        (((0.0, 0.0),), "stop", "not downward"),
        (((0.0, 10.0), (5.0, 20.0)), "warn", "5 to 20 cm after 0 to 10 cm: the two overlap"),
        (((0.0, 10.0), (20.0, 30.0)), "warn", "between them nothing is given"),
        (((10.0, 20.0), (0.0, 10.0)), "warn", "not in order of depth"),
    ],
)
def test_depths_that_do_not_follow_each_other(
    depths: tuple[tuple[float, float], ...], severity: str, words: str
) -> None:
    (found,) = imported_findings(profile(*depths))
    assert (found.row, found.finding.code, found.finding.severity) == (
        len(depths) - 1,
        "imported_depth",
        severity,
    )
    assert words in found.finding.sentence


def test_depths_that_follow_each_other_and_those_of_two_places_raise_nothing() -> None:
    one, other = profile((0.0, 10.0), (10.0, 25.0))
    assert imported_findings((one, other)) == ()
    assert imported_findings((one, replace(other, profile="P2", top_cm=0.0))) == ()


def test_a_name_that_stands_twice_and_figures_that_were_copied_are_named() -> None:
    again = imported_findings((row("40", "40", "20", "A"), row("10", "30", "60", "a ")))
    assert said(again) == [(1, "imported_twin", "stop")]
    copied = (row("40.1", "39.9", "20.0", "A"), row("40.1", "39.9", "20.0", "B"))
    assert said(imported_findings(copied)) == [(1, "imported_twin", "warn")]
    assert imported_findings((row("40", "40", "20", "A"), row("40", "40", "20", "B"))) == (), (
        "whole percents meet"
    )


def test_a_class_that_is_not_that_of_the_figures_is_named_bench_fault_91() -> None:
    """Bench fault 91: clay of 27.0 lies on the line of clay loam, and the finding says so."""
    given = (
        row("40", "40", "20", "A", texture_class="Loam"),
        row("40", "40", "20", "B", texture_class="clay"),
        row("43", "30", "27", "C", texture_class="loam"),
        row("43", "30", "90", "D", texture_class="clay"),
    )
    found = [
        each
        for each in imported_findings(given, texture_system("USDA"))
        if each.finding.code == "imported_class"
    ]
    assert [each.row for each in found] == [1, 2]
    assert "the figures as printed are loam" in found[0].finding.sentence
    assert "lie on a line of clay loam" in found[1].finding.sentence


def test_classes_of_a_system_that_nobody_confirmed_are_not_judged() -> None:
    (found,) = imported_findings((row("40", "40", "20", texture_class="clay"),), texture_system("UK"))
    assert (found.row, found.finding.code) == (None, "system_not_confirmed")


@pytest.mark.parametrize(("text", "half"), [("24", 0.5), ("24.0", 0.05), ("24,00", 0.005), ("-3", 0.5)])
def test_digits_tell_how_far_a_figure_was_rounded(text: str, half: float) -> None:
    assert float(Printed.of(text).half_step) == half


@pytest.mark.parametrize("text", ["", "about 20", "1e2", "nan", "20 %"])
def test_what_is_no_plain_figure_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="is no"):
        Printed.of(text)
