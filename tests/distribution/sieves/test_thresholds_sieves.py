"""Where the findings on sieves, gravel and negative fractions begin, from both sides; the numbers are written here."""

from __future__ import annotations

from dataclasses import replace

import pytest

from particles.distribution import DistributionError, MethodEdition, RunRecord, SieveMass, Sieving
from particles.distribution.curve.separates import sand_fractions
from tests.support.runs import EXACT_BENCH, NINE, figures, good_run, severities, sieved, with_values


def _stack(washed_g: float, on_sieves_g: float) -> Sieving:
    """A stack whose finest sieve holds what the others and the pan do not."""
    rest_g = on_sieves_g - 0.5 - 0.25 * washed_g
    return Sieving(washed_g, (SieveMass(500.0, 0.25 * washed_g), SieveMass(53.0, rest_g)), 0.5)


@pytest.mark.parametrize(
    ("washed_g", "more_g", "said", "method"),
    [
        (6.0, 0.11, [], NINE), (6.0, 0.13, ["stop"], NINE),  # 3 × 0.02 √4 = 0.12
        (6.0, 0.099, [], EXACT_BENCH), (6.0, 0.101, ["stop"], EXACT_BENCH),
        (34.0, 0.099, [], EXACT_BENCH), (60.0, 0.119, [], EXACT_BENCH), (60.0, 0.121, ["stop"], EXACT_BENCH),
    ],
)  # fmt: skip
def test_more_on_the_sieves_than_was_put_there(
    washed_g: float, more_g: float, said: list[str], method: MethodEdition
) -> None:
    """0.1 g, or 0.2 % of what was put there, or the noise of weighing."""
    record = good_run(oven_dry_mass_g=80.0, sieving=_stack(washed_g, washed_g + more_g))
    assert severities(record, "sieve_gain", method) == said


@pytest.mark.parametrize(("lost_g", "code"), [(0.118, "sieve_loss_small"), (0.122, "sieve_loss")])
def test_two_percent_lost_in_sieving(lost_g: float, code: str) -> None:
    answer = figures(good_run(sieving=_stack(6.0, 6.0 - lost_g)), method=EXACT_BENCH)
    assert [each.code for each in answer.findings if each.code.startswith("sieve")] == [code]


@pytest.mark.parametrize(
    ("more_g", "said", "method"),
    [(0.15, [], NINE), (0.17, ["stop"], NINE), (0.099, [], EXACT_BENCH), (0.101, ["stop"], EXACT_BENCH)],
)
def test_more_sand_than_its_portion(more_g: float, said: list[str], method: MethodEdition) -> None:
    """0.1 g, or 3 √(0.02² + 0.05²) = 0.16 g of noise in weighing."""
    record = good_run(sieving=_stack(40.0 + more_g, 40.0 + more_g))
    assert severities(record, "washed_above_portion", method) == said


@pytest.mark.parametrize(
    ("opening_um", "kept_g", "said"),
    [(1999.0, 0.5, []), (2000.0, 0.05, []), (2000.0, 0.07, ["warn"]), (2000.0, 0.39, ["warn"]),
     (2000.0, 0.41, ["stop"])],
)  # fmt: skip
def test_gravel_among_the_sand(opening_um: float, kept_g: float, said: list[str]) -> None:
    """From 2 mm on it is gravel; 0.06 g are noise of weighing, 1 % of the portion is too much."""
    rest = sieved()
    sieves = (SieveMass(opening_um, kept_g), *rest.sieves)
    with_gravel = replace(rest, sieves=sieves, washed_dry_mass_g=rest.washed_dry_mass_g + kept_g)
    assert severities(good_run(sieving=with_gravel), "gravel_on_sand_sieves") == said


@pytest.mark.parametrize(("stated_pct", "said"), [(20.5, []), (20.6, ["warn"]), (19.5, []), (19.4, ["warn"])])
def test_gravel_stated_and_weighed(stated_pct: float, said: list[str]) -> None:
    weighed = {"gravel_sieves": (SieveMass(2000.0, 20.0),), "whole_sample_dry_mass_g": 100.0}
    assert severities(good_run(gravel_pct=stated_pct, **weighed), "gravel_apart") == said


@pytest.mark.parametrize(("opening_um", "counts"), [(49.9, False), (50.0, True), (53.0, True), (53.1, False)])
def test_the_sieves_that_stand_for_the_sand_limit(opening_um: float, counts: bool) -> None:
    answer = figures(good_run(sieving=sieved(opening_um=opening_um)))
    assert answer.fractions is not None
    assert (answer.fractions.sand_by == "sieve") is counts
    assert ("no_sand_sieve" in {each.code for each in answer.findings}) is not counts


@pytest.mark.parametrize(
    ("openings_um", "complete"),
    [((106.0, 53.0), True), ((107.0, 53.0), False), ((100.0, 50.0), True), ((99.0, 50.0), False)],
)
def test_the_sieves_that_stand_for_the_sand_separates(
    openings_um: tuple[float, float], complete: bool
) -> None:
    openings = (1000.0, 500.0, 250.0, *openings_um)
    stack = Sieving(5.0, tuple(SieveMass(um, 1.0) for um in openings), 0.0)
    assert bool(figures(good_run(sieving=stack)).sand_fractions) is complete


@pytest.mark.parametrize(
    ("finest_um", "complete"), [(53.0, True), (53.5, False), (50.0, True), (49.5, False)]
)
def test_the_sieves_that_end_the_sand_separates(finest_um: float, complete: bool) -> None:
    stack = Sieving(5.0, tuple(SieveMass(um, 1.0) for um in (1000.0, 500.0, 250.0, 106.0, finest_um)), 0.0)
    assert bool(sand_fractions(stack, 40.0)) is complete


@pytest.mark.parametrize(
    ("sand_g", "severity", "method"),
    [(4.45, "", NINE), (4.40, "warn", NINE), (3.90, "warn", NINE), (3.85, "stop", NINE),
     (4.85, "", EXACT_BENCH), (4.81, "warn", EXACT_BENCH), (4.05, "warn", EXACT_BENCH), (4.02, "stop", EXACT_BENCH)],
)  # fmt: skip
def test_the_step_between_sieve_and_hydrometer(sand_g: float, severity: str, method: MethodEdition) -> None:
    """3 and 5 points where reading is good, 3 and 4 standard deviations of 1.35 points as the edition has it."""
    record = good_run(sieving=sieved(sand_g, sand_g + 0.3, 0.3))
    assert severities(record, "join_apart", method) == ([severity] if severity else [])


def _without_clay(below_g_l: float) -> RunRecord:
    return replace(with_values(40, 36, 31, 26, 21, *[4.5 - below_g_l] * 4), oven_dry_mass_g=80.0)


@pytest.mark.parametrize(("below_g_l", "said"), [(1.55, "warn"), (1.65, "stop")])
def test_two_percent_below_nothing(below_g_l: float, said: str) -> None:
    """1.6 g/L are 2 % of 80 g."""
    assert severities(_without_clay(below_g_l), "clay_negative", EXACT_BENCH) == [said]


@pytest.mark.parametrize(("sand_g", "apart"), [(3.80, False), (3.65, True)])
def test_what_a_wrong_thermometer_can_do_to_the_step(sand_g: float, apart: bool) -> None:
    """
    Settling gains 2.4 % of its speed per °C, a diameter half of that: 5 °C move the curve by 6 % in size.

    It falls by 32 points per unit of log diameter there, so one standard deviation is 1.9 points and three 5.7.
    """
    warm = replace(EXACT_BENCH, uncertainties=replace(EXACT_BENCH.uncertainties, temperature_c=5.0))
    assert bool(severities(good_run(sieving=sieved(sand_g, sand_g + 0.3, 0.3)), "join_apart", warm)) is apart


@pytest.mark.parametrize(("taken_pct", "refused_pct"), [(99.9, 100.0), (0.0, -0.1)])
def test_gravel_is_a_share_of_the_sample(taken_pct: float, refused_pct: float) -> None:
    assert figures(good_run(gravel_pct=taken_pct)).fractions is not None
    with pytest.raises(DistributionError, match="ravel"):
        figures(good_run(gravel_pct=refused_pct))
