"""What an own edition may just hold and what no more, and the values of the editions that are shipped."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from particles.distribution import (
    METHOD_EDITIONS,
    EditionError,
    InputUncertainties,
    MethodEdition,
    QualityLimits,
    validate_edition,
)
from particles.distribution.settling.pipette import PIPETTE_EDITIONS
from tests.support.runs import NINE


def _said_of(changes: dict[str, Any]) -> str:
    """What is wrong with the edition of nine readings, changed; '' when it makes sense."""
    try:
        validate_edition(replace(NINE, **changes))
    except EditionError as wrong:
        return str(wrong)
    return ""


@pytest.mark.parametrize(
    ("makes_sense", "does_not", "said"),
    [
        ({"draws": 100}, {"draws": 99}, "99 draws are too few"),
        ({"draws": 0}, {"draws": 1}, "1 draws are too few"),
        (
            {"schedule_s": (30.0, 60.0, 604_800.0), "least_points": 3},
            {"schedule_s": (30.0, 60.0, 604_801.0), "least_points": 3},
            "between 0 s and 7 days",
        ),
        (
            {"limits": QualityLimits(extrapolation_factor=1.3)},
            {"limits": QualityLimits(extrapolation_factor=1.31)},
            "between 1 and 1.3",
        ),
        (
            {"limits": QualityLimits(extrapolation_factor=1.0)},
            {"limits": QualityLimits(extrapolation_factor=0.99)},
            "between 1 and 1.3",
        ),
        (
            {"limits": QualityLimits(portion_excess=1.0)},
            {"limits": QualityLimits(portion_excess=0.99)},
            "portion_excess must be 1 or more",
        ),
        (
            {"sand_sieve_openings_um": (45.0, 55.0)},
            {"sand_sieve_openings_um": (44.9, 55.0)},
            "cannot stand for the sand limit",
        ),
        (
            {"sand_sieve_openings_um": (45.0, 55.0)},
            {"sand_sieve_openings_um": (45.0, 55.1)},
            "cannot stand for the sand limit",
        ),
        (
            {"sand_limit_um": 1999.0, "sand_sieve_openings_um": (1999.0, 1999.0)},
            {"sand_limit_um": 2000.0, "sand_sieve_openings_um": (2000.0, 2000.0)},
            "do not rise",
        ),
        (
            {"limits": QualityLimits(blank_usual_g_l=(-3.0, 12.0))},
            {"limits": QualityLimits(blank_usual_g_l=(-3.1, 12.0))},
            "does not lie within",
        ),
        (
            {"clay_limit_um": 5.0, "sand_limit_um": 20.0, "sand_sieve_openings_um": (20.0, 20.0)},
            {"clay_limit_um": 5.0, "sand_limit_um": 19.9, "sand_sieve_openings_um": (20.0, 20.0)},
            "no silt can be told",
        ),
        ({"least_points": 9}, {"least_points": 10}, "10 points cannot come from 9 readings"),
        ({"widest_gap": 1.3}, {"widest_gap": 1.29}, "below the factor of extrapolation"),
        (
            {"limits": QualityLimits(mass_usual_g=(119.9, 120.0))},
            {"limits": QualityLimits(mass_usual_g=(120.0, 120.0))},
            "does not rise",
        ),
    ],
)
def test_the_last_that_makes_sense(makes_sense: dict[str, Any], does_not: dict[str, Any], said: str) -> None:
    assert _said_of(makes_sense) == ""
    assert said in _said_of(does_not)


@pytest.mark.parametrize("edition", METHOD_EDITIONS.values(), ids=lambda each: each.code)
def test_what_every_shipped_edition_has_in_common(edition: MethodEdition) -> None:
    """An edition is never altered: these are the figures that stand on certificates."""
    assert (edition.clay_limit_um, edition.sand_limit_um, edition.sand_sieve_openings_um) == (
        2.0,
        50.0,
        (50.0, 53.0),
    )
    assert (edition.soak_minimum_h, edition.dispersion_sd_pct, edition.blank_window_s) == (12.0, 1.5, 1800.0)
    assert edition.soak_maximum_h == 72.0
    assert [edition.window_s(at_s) for at_s in (30.0, 31.0, 60.0, 61.0)] == [
        2.0,
        3.0,
        3.0,
        pytest.approx(1.22),
    ]
    common = {
        "reading_g_l": 0.3, "scale_division_g_l": 0.5, "scale_division_density": 0.0005,
        "particle_density_g_cm3": 0.05, "mass_g": 0.05, "moisture_of_mass_pct": 0.3, "volume_pct": 0.3,
        "temperature_c": 0.5, "depth_cm": 0.2, "start_s": 1.0, "sieve_mass_g": 0.02, "reading_off_bias": 1.0,
    }  # fmt: skip
    assert {name: getattr(edition.uncertainties, name) for name in common} == common


@pytest.mark.parametrize(
    ("code", "draws", "share", "blank", "fast_fall_pct"),
    [
        ("hydrometer-nine-2026-1", 2_000, 0.5, (0.3, 0.0, 0.0, 0.0), 50.0),
        ("hydrometer-four-2026-1", 2_000, 0.5, (0.3, 0.0, 0.0, 0.0), 50.0),
        ("hydrometer-nine-2026-2", 10_000, 0.5, (0.3, 0.0, 0.0, 0.0), 50.0),
        ("hydrometer-four-2026-2", 10_000, 0.65, (0.3, 0.0, 0.0, 0.0), 50.0),
        ("hydrometer-nine-2026-3", 10_000, 0.65, (0.1, 0.35, 0.2, 2.0), 60.0),
        ("hydrometer-four-2026-3", 10_000, 0.75, (0.1, 0.35, 0.2, 2.0), 60.0),
        ("hydrometer-ten-2026-3", 10_000, 0.5, (0.1, 0.35, 0.2, 2.0), 60.0),
        ("hydrometer-engineering-2026-3", 10_000, 0.5, (0.1, 0.35, 0.2, 2.0), 60.0),
        ("hydrometer-nine-2026-4", 10_000, 0.65, (0.1, 0.35, 0.2, 2.0), 60.0),
        ("hydrometer-four-2026-4", 10_000, 0.75, (0.1, 0.35, 0.2, 2.0), 60.0),
    ],
)
def test_what_the_shipped_editions_differ_in(
    code: str, draws: int, share: float, blank: tuple[float, ...], fast_fall_pct: float
) -> None:
    edition = METHOD_EDITIONS[code]
    inputs: InputUncertainties = edition.uncertainties
    assert (edition.draws, inputs.reading_off_share) == (draws, share)
    assert (
        inputs.blank_g_l, inputs.blank_reading_g_l, inputs.thermometer_c, inputs.sieve_opening_pct
    ) == blank  # fmt: skip
    assert edition.limits.fast_fall_pct_per_halving == fast_fall_pct


@pytest.mark.parametrize(
    ("schedule", "least_points", "stuck"),
    [("four", 3, 3), ("engineering", 5, 4), ("standard-eight", 6, 4), ("nine", 6, 4), ("ten", 7, 4)],
)
def test_what_a_curve_needs_since_the_editions_numbered_4(
    schedule: str, least_points: int, stuck: int
) -> None:
    before, now = (METHOD_EDITIONS[f"hydrometer-{schedule}-2026-{number}"] for number in (3, 4))
    assert (before.least_points, before.widest_gap, before.limits.stuck_readings) == (0, None, 4)
    assert (now.least_points, now.widest_gap, now.limits.stuck_readings) == (least_points, 4.0, stuck)


def test_the_pipette_draws_25_ml_from_10_cm_of_10_to_30_g() -> None:
    edition = PIPETTE_EDITIONS["pipette-2026-1"]
    assert (edition.aliquot_ml, edition.depth_cm, edition.portion_g) == (25.0, 10.0, (10.0, 30.0))
    assert edition.withdrawal_times_s(20.0) == edition.withdrawal_times_s(20.0, particle_density_g_cm3=2.65)
