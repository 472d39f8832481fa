"""Charts of single values against published examples; each value stands with its source in the fixture."""

from __future__ import annotations

from math import sqrt
from typing import Any

import pytest

from batches.quality import control_chart
from batches.quality.control_chart import (
    ACTION_PER_MEAN_RANGE,
    MEAN_RANGE_PER_SD,
    MEDIAN_RANGE_PER_SD,
    SD_OF_RANGE_PER_SD,
    ChartLimits,
    individuals,
    individuals_by_medians,
    moving_ranges,
    weighted_means,
    weighted_sd,
)
from tests.batches.quality.published import CHARTS

INDIVIDUALS = {each["name"].split(",")[0]: each for each in CHARTS["individuals"]}


def test_the_constants_are_those_of_the_printed_tables() -> None:
    # Sources S04, S05, S08: tables of factors for n = 2; S06: 0.954.
    exact, printed = CHARTS["constants"]["rows"][0], CHARTS["constants"]["printed_n2"]
    assert pytest.approx(exact["d2"], abs=5e-6) == MEAN_RANGE_PER_SD
    assert pytest.approx(exact["d3"], abs=5e-6) == SD_OF_RANGE_PER_SD
    assert pytest.approx(exact["D4"], abs=5e-6) == ACTION_PER_MEAN_RANGE
    assert pytest.approx(printed["E2"], abs=0.005) == 3 / MEAN_RANGE_PER_SD
    assert (
        pytest.approx(CHARTS["constants"]["median_moving_range"]["printed"], abs=5e-4) == MEDIAN_RANGE_PER_SD
    )
    factor = CHARTS["constants"]["median_moving_range"]
    assert pytest.approx(factor["individuals_factor"], abs=5e-5) == 3 / MEDIAN_RANGE_PER_SD


def test_the_belt_diameters_have_the_published_limits_to_every_printed_digit() -> None:
    # Source S07, printed with exact d2 and D4.
    example = INDIVIDUALS["belt diameter"]
    found, printed = individuals(example["data"]), example["published"]
    lower, upper = found.limits.action
    assert found.limits.centre == pytest.approx(printed["mean"], abs=5e-5)
    assert (lower, upper) == (
        pytest.approx(printed["LCL"], abs=5e-5),
        pytest.approx(printed["UCL"], abs=5e-5),
    )
    assert found.middle_range == pytest.approx(printed["mrbar"], abs=5e-7)
    assert found.range_action == pytest.approx(printed["UCL_mr"], abs=5e-6)
    assert found.limits.sd == pytest.approx(printed["sigma"], abs=5e-7)


def test_the_handbooks_flow_rate_has_its_published_limits_with_the_constant_it_used() -> None:
    # Source S01 by S04. The printed limits need d2 cut to 1.128; with exact d2 they move by 0.0017.
    example = INDIVIDUALS["process flow rate"]
    data, printed = example["data"], example["published"]
    as_printed = individuals(data, range_per_sd=1.128)
    assert as_printed.limits.centre == pytest.approx(printed["mean"], abs=5e-3)
    assert as_printed.middle_range == pytest.approx(printed["mrbar"], abs=5e-5)
    assert as_printed.limits.action == (
        pytest.approx(printed["LCL"], abs=5e-5),
        pytest.approx(printed["UCL"], abs=5e-5),
    )
    lower, upper = individuals(data).limits.action
    assert (lower, upper) == (
        pytest.approx(example["recalc"]["LCL_exact"], abs=5e-6),
        pytest.approx(example["recalc"]["UCL_exact"], abs=5e-6),
    )
    assert [each for each in data if not lower <= each <= upper] == []


def test_the_inner_diameters_have_their_limits_and_moving_ranges() -> None:
    # Source S07: data and the first moving ranges printed, limits recalculated.
    example = INDIVIDUALS["inner diameter"]
    found = individuals(example["data"])
    assert moving_ranges(example["data"])[:4] == pytest.approx([1.7, 4.3, 5.3, 1.3])
    assert found.limits.action == (
        pytest.approx(example["recalc"]["LCL_exact"], abs=5e-6),
        pytest.approx(example["recalc"]["UCL_exact"], abs=5e-6),
    )
    assert found.range_action == pytest.approx(example["recalc"]["UCLmr_exact"], abs=5e-6)


@pytest.mark.parametrize("name", INDIVIDUALS)
def test_medians_give_the_median_range_and_its_factors(name: str) -> None:
    # Source S06 for the divisor; 3.1451 and 3.8641 recalculated.
    example, factors = INDIVIDUALS[name], CHARTS["constants"]["median_moving_range"]
    found = individuals_by_medians(example["data"])
    assert found.limits.centre == pytest.approx(example["recalc"]["median"])
    assert found.middle_range == pytest.approx(example["recalc"]["med_mr"])
    half = (found.limits.action[1] - found.limits.action[0]) / 2
    assert half == pytest.approx(factors["individuals_factor"] * found.middle_range, rel=2e-5)
    assert found.range_action == pytest.approx(
        factors["moving_range_upper_factor"] * found.middle_range, rel=2e-5
    )


def test_one_wild_value_moves_the_limits_by_means_and_leaves_those_by_medians() -> None:
    data = INDIVIDUALS["belt diameter"]["data"]
    wild = [*data[:-1], data[-1] + 5]
    assert individuals(wild).limits.sd > 3 * individuals(data).limits.sd
    assert individuals_by_medians(wild).limits.sd == pytest.approx(
        individuals_by_medians(data).limits.sd, rel=0.1
    )


def test_the_handbooks_weighted_means_are_met() -> None:
    # Source S02 as restated value by value by S03: lambda 0.3, 3 sigma, steady limits.
    example: Any = CHARTS["ewma"]
    made = weighted_means(example["data"], start=example["start"], weight=example["lambda"])
    assert [round(z, 2) for z in (float(example["start"]), *made)] == example["published"]["z_2dp"]
    reach = example["k"] * weighted_sd(example["s"], weight=example["lambda"])
    assert example["start"] + reach == pytest.approx(example["published"]["UCL"], abs=5e-5)
    # The lower limit is printed with the factor cut to 0.4201: 0.0001 off.
    assert example["start"] - reach == pytest.approx(example["published"]["LCL"], abs=1e-4)
    early = [
        example["start"] + example["k"] * weighted_sd(example["s"], weight=example["lambda"], points=n)
        for n in range(1, 6)
    ]
    assert early == pytest.approx(example["recalc"]["time_varying_UCL_first5"], abs=5e-5)


def test_the_limits_stand_two_and_three_standard_deviations_off() -> None:
    limits = ChartLimits(centre=20.0, sd=0.5)
    assert (limits.warn, limits.action) == ((19.0, 21.0), (18.5, 21.5))
    assert limits.z(21.5) == 3.0
    assert (control_chart.WARN_SD, control_chart.ACTION_SD) == (2.0, 3.0)
    assert weighted_sd(1.0) == pytest.approx(sqrt(0.2 / 1.8))
