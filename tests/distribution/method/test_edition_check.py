"""A laboratory's own edition is refused while it contradicts itself."""

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
from tests.support.runs import NINE, figures, good_run, sieved


def _said_of(edition: MethodEdition) -> str:
    """What is wrong with it; '' when it makes sense."""
    try:
        validate_edition(edition)
    except EditionError as wrong:
        return str(wrong)
    return ""


@pytest.mark.parametrize("code", METHOD_EDITIONS)
def test_shipped_editions_make_sense(code: str) -> None:
    assert _said_of(METHOD_EDITIONS[code]) == ""


def test_an_own_edition_may_differ_in_sensible_ways() -> None:
    own = replace(
        NINE,
        code="house-2026-1",
        schedule_s=(30.0, 60.0, 300.0, 5400.0, 28800.0, 86400.0),
        windows=((60.0, 5.0),),
        later_window_pct=5.0,
        clay_limit_um=2.0,
        sand_limit_um=63.0,
        sand_sieve_openings_um=(63.0, 63.0),
        also_systems=("GERMANY_KA5",),
        limits=QualityLimits(sieve_loss_pct=1.0, join_warn_pct=2.0),
        dispersion_sd_pct=1.0,
    )
    assert _said_of(own) == ""


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"code": " "}, "code is empty"),
        ({"sources": ()}, "no source"),
        ({"draws": 50}, "50 draws"),
        ({"dispersion_sd_pct": -1.0}, "dispersion_sd_pct"),
        ({"uncertainties": InputUncertainties(depth_cm=-0.1)}, "depth_cm"),
        ({"uncertainties": InputUncertainties(depth_cm=float("nan"))}, "depth_cm"),
        ({"schedule_s": ()}, "schedule is empty"),
        ({"schedule_s": (60.0, 30.0)}, "does not rise"),
        ({"schedule_s": (0.0, 60.0)}, "between 0 s and 7 days"),
        ({"schedule_s": (30.0, 700000.0)}, "between 0 s and 7 days"),
        ({"windows": ((60.0, 3.0), (30.0, 2.0))}, "windows do not rise"),
        ({"windows": ((30.0, 40.0),)}, "leaves no time"),
        ({"later_window_pct": 0.0}, "leaves no time"),
        ({"windows": ((60.0, 16.0),)}, "30 s and 60 s overlap"),
        ({"dispersion_sd_pct": float("nan")}, "dispersion_sd_pct nan"),
        ({"uncertainties": replace(NINE.uncertainties, depth_cm=float("inf"))}, "depth_cm is no number"),
        ({"uncertainties": replace(NINE.uncertainties, reading_g_l=0.0)}, "reading_g_l is zero"),
        ({"blank_window_s": 0.0}, "blank_window_s"),
        ({"soak_minimum_h": -1.0}, "soak_minimum_h"),
        ({"soak_maximum_h": 11.9}, "soak_maximum_h lies below soak_minimum_h"),
        ({"clay_limit_um": 50.0}, "do not rise"),
        ({"sand_limit_um": 63.0}, "cannot stand for the sand limit"),
        ({"texture_system": "AUSTRALIA"}, "AUSTRALIA"),
        ({"also_systems": ("MARS",)}, "MARS"),
        ({"confirmed_systems": ("MARS",)}, "MARS"),
        ({"limits": QualityLimits(join_warn_pct=6.0)}, "join_warn_pct lies above join_stop_pct"),
        ({"limits": QualityLimits(blank_usual_g_l=(9.0, 0.0))}, "blank_usual_g_l"),
        ({"limits": QualityLimits(blank_usual_g_l=(-5.0, 9.0))}, "within blank_possible_g_l"),
        ({"limits": QualityLimits(extrapolation_factor=1.5)}, "between 1 and 1.3"),
        ({"limits": QualityLimits(portion_excess=0.9)}, "portion_excess"),
        ({"limits": QualityLimits(sieve_loss_pct=float("inf"))}, "not a number"),
        ({"limits": QualityLimits(negative_stop_g_l=0.5)}, "must not be above zero"),
        ({"limits": QualityLimits(reynolds=0.0)}, "must be above zero"),
    ],
)
def test_nonsense_is_refused_and_named(changes: dict[str, Any], said: str) -> None:
    with pytest.raises(EditionError, match=said):
        validate_edition(replace(NINE, **changes))


def test_every_fault_is_listed_at_once() -> None:
    with pytest.raises(EditionError, match=r"code is empty.*no source.*2 faults"):
        validate_edition(replace(NINE, code="", sources=()))


@pytest.mark.parametrize(
    ("limits", "code", "changes"),
    [
        (QualityLimits(mass_usual_g=(45.0, 120.0)), "mass_unusual", {}),
        (QualityLimits(density_usual_g_cm3=(2.7, 3.0)), "density_unusual", {}),
        (QualityLimits(dispersant_known_to_g_l=4.0), "dispersant_high", {}),
        (QualityLimits(sieve_loss_pct=0.1), "sieve_loss", {"sieving": sieved(15.0, washed_g=15.5)}),
        (
            QualityLimits(sieve_balance_g=1e-9, sieve_balance_pct=1e-9, noise_warn_sd=0.5),
            "sieve_gain",
            {"sieving": sieved(washed_g=5.92)},
        ),
        (QualityLimits(join_warn_pct=0.1, noise_warn_sd=0.01), "join_apart", {"sieving": sieved()}),
    ],
)
def test_the_limits_of_the_edition_are_the_ones_in_force(
    limits: QualityLimits, code: str, changes: dict[str, Any]
) -> None:
    record = good_run(**changes)
    assert code not in {finding.code for finding in figures(record).findings}
    answer = figures(record, method=replace(NINE, limits=limits))
    assert code in {finding.code for finding in answer.findings}
