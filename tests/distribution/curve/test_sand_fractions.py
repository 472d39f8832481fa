"""The five sand separates and the subclasses of the sandy classes."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from particles.distribution import SandFraction, SieveMass, Sieving, texture_subclass
from particles.distribution.curve.separates import SEPARATES, sand_fractions
from tests.support.runs import figures, good_run, with_values

OPENINGS = (1000.0, 500.0, 250.0, 106.0, 53.0)


def _stack(*retained_g: float, openings: tuple[float, ...] = OPENINGS) -> Sieving:
    sieves = tuple(SieveMass(um, g) for um, g in zip(openings, retained_g, strict=True))
    return Sieving(sum(retained_g), sieves, 0.0)


SANDY = _stack(1.0, 3.0, 5.0, 10.0, 5.0)


def _separates(*percents: float) -> tuple[SandFraction, ...]:
    return tuple(SandFraction(*row, percent) for row, percent in zip(SEPARATES, percents, strict=True))


def test_each_separate_is_what_its_sieve_holds() -> None:
    found = sand_fractions(_stack(0.4, 1.2, 2.0, 6.0, 3.2), 40.0)
    assert [part.name for part in found][::4] == ["very coarse sand", "very fine sand"]
    assert [part.percent for part in found] == pytest.approx([1.0, 3.0, 5.0, 15.0, 8.0])
    assert [(part.coarse_um, part.fine_um) for part in found] == [row[1:] for row in SEPARATES]


def test_what_stays_on_2_mm_is_no_sand() -> None:
    sieving = _stack(1.0, 0.4, 1.2, 2.0, 6.0, 3.2, openings=(2000.0, *OPENINGS))
    assert sum(part.percent for part in sand_fractions(sieving, 40.0)) == pytest.approx(32.0)


@pytest.mark.parametrize("missing", OPENINGS)
def test_no_separates_without_a_sieve_at_each_limit(missing: float) -> None:
    openings = tuple(um for um in OPENINGS if um != missing)
    assert sand_fractions(_stack(1.0, 1.0, 1.0, 1.0, openings=openings), 40.0) == ()


def test_the_exact_sieves_serve_as_well() -> None:
    openings = (1000.0, 500.0, 250.0, 100.0, 50.0)
    assert len(sand_fractions(_stack(1.0, 1.0, 1.0, 1.0, 1.0, openings=openings), 40.0)) == 5


def test_sieves_beside_the_limits_are_brought_to_them() -> None:
    """By hand: 106 to 100 µm along the line between the two sieves, 53 to 50 µm as given; nothing gets lost."""
    plain = sand_fractions(_stack(0.4, 1.2, 2.0, 6.0, 3.2), 40.0)
    brought = sand_fractions(_stack(0.4, 1.2, 2.0, 6.0, 3.2), 40.0, finer_than_sand_pct=66.5)
    over_100 = 8.0 * np.log(106.0 / 100.0) / np.log(106.0 / 53.0)
    assert [part.percent for part in brought[:3]] == [part.percent for part in plain[:3]]
    assert brought[3].percent == pytest.approx(15.0 + over_100)
    assert brought[4].percent == pytest.approx(8.0 - over_100 + 1.5)
    assert sum(part.percent for part in brought) == pytest.approx(33.5)


def test_they_add_up_to_the_sand_of_the_run() -> None:
    answer = figures(good_run(sieving=_stack(0.3, 0.9, 1.5, 2.0, 1.2)))
    assert answer.fractions is not None
    assert sum(part.percent for part in answer.sand_fractions) == pytest.approx(
        answer.fractions.sand.value_pct
    )
    assert figures(good_run()).sand_fractions == ()


@pytest.mark.parametrize(
    ("texture", "percents", "subclass"),
    [
        ("sand", (10, 20, 30, 20, 10), "coarse sand"),
        ("sand", (5, 10, 40, 30, 5), "sand"),
        ("sand", (15, 15, 52, 5, 3), "sand"),
        ("sand", (2, 3, 20, 55, 10), "fine sand"),
        ("sand", (2, 3, 15, 40, 30), "fine sand"),
        ("sand", (2, 3, 15, 20, 50), "very fine sand"),
        ("loamy sand", (10, 20, 20, 20, 10), "loamy coarse sand"),
        ("loamy sand", (5, 10, 25, 30, 10), "loamy sand"),
        ("loamy sand", (2, 3, 10, 50, 15), "loamy fine sand"),
        ("loamy sand", (2, 3, 10, 15, 50), "loamy very fine sand"),
    ],
)
def test_sands_and_loamy_sands(texture: str, percents: tuple[float, ...], subclass: str) -> None:
    """Limits of 25 and 50 % of the Soil Survey Manual, as quoted in a glossary."""
    assert texture_subclass(texture, _separates(*percents)) == subclass


@pytest.mark.parametrize(
    ("percents", "subclass"),
    [
        ((10, 15, 20, 10, 5), "coarse sandy loam"),
        ((5, 10, 20, 15, 10), "sandy loam"),
        ((2, 5, 5, 20, 20), "sandy loam"),
        ((5, 10, 20, 30, 5), "fine sandy loam"),
        ((2, 8, 10, 20, 20), "fine sandy loam"),
        ((1, 4, 5, 25, 25), "fine sandy loam"),
        ((1, 4, 5, 15, 40), "very fine sandy loam"),
        ((1, 2, 5, 20, 28), "very fine sandy loam"),
        ((0, 0, 30, 5, 35), "coarse sandy loam"),
    ],
)
def test_sandy_loams(percents: tuple[float, ...], subclass: str) -> None:
    """Rules of the Soil Survey Manual from memory."""
    assert texture_subclass("sandy loam", _separates(*percents)) == subclass


def test_no_subclass_of_other_classes_or_without_separates() -> None:
    assert texture_subclass("loam", _separates(10, 10, 10, 10, 10)) == ""
    assert texture_subclass("sand", ()) == ""


def test_every_mixture_of_separates_has_a_subclass() -> None:
    for parts in itertools.product(range(0, 90, 6), repeat=4):
        rest = 84 - sum(parts)
        if rest >= 0:
            for texture in ("sand", "loamy sand", "sandy loam"):
                assert texture_subclass(texture, _separates(*parts, rest)).endswith(texture.split()[-1])


def _sandy_loam_by_the_wording(vc: float, c: float, m: float, f: float, vf: float) -> str:
    """The four definitions one after another, as they are worded; none may be left over."""
    if (vc + c >= 25 and max(m, f, vf) < 50) or (vc + c + m >= 30 and 30 <= vf < 50):
        return "coarse sandy loam"
    medium = vc + c + m >= 30 and vc + c < 25 and f < 30 and vf < 30
    if medium or (vc + c + m <= 15 and f < 30 and vf < 30 and f + vf <= 40) or (vc + c >= 25 and m >= 50):
        return "sandy loam"
    finer = (f >= 30 and vf < 30 and vc + c < 25) or (15 <= vc + c + m < 30 and vc + c < 25)
    if finer or (f + vf >= 40 and f >= vf and vc + c + m <= 15) or (vc + c >= 25 and f >= 50):
        return "fine sandy loam"
    assert (
        (vf >= 30 and vc + c + m < 15 and vf > f)
        or (f + vf >= 40 and vf > f and vc + c + m < 15)
        or (vf >= 50 and (vc + c >= 25 or vc + c + m >= 30))
    ), (vc, c, m, f, vf)
    return "very fine sandy loam"


def test_sandy_loam_is_that_of_the_wording_for_any_mixture() -> None:
    random = np.random.default_rng(7)
    for sand in random.uniform(43.0, 85.0, 4000):
        parts = random.dirichlet((0.7,) * 5) * sand
        assert texture_subclass("sandy loam", _separates(*parts)) == _sandy_loam_by_the_wording(*parts)


def test_a_sandy_run_gets_its_subclass_and_the_notes_say_where_the_rules_are_from() -> None:
    record = replace(with_values(18.0, 16.0, 14.5, 12.5, 10.5, 9.5, 9.0, 8.5, 7.0), sieving=SANDY)
    answer = figures(record)
    assert answer.texture is not None
    assert (answer.texture.name, answer.texture.subclass) == ("sandy loam", "fine sandy loam")
    assert any("from memory" in note and "Subclass" in note for note in answer.notes)
