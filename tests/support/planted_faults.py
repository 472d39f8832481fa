"""
Bench faults planted into clean runs, each with its size and the checks meant for it.

`sure_from` is the smallest size from which more than 95 % are caught; below it the fault is honest noise or
hides within what soils do by themselves. None: it cannot be told from one run and no rate is promised.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tests.support.planted_blank_faults import (
    blank_copied,
    blank_high,
    blank_missing,
    blank_other_lot,
    blank_without_dispersant,
    blank_wrong_sign,
    both_temperatures_copied,
    fahrenheit,
    negative,
    sample_blank_apart,
    temperature_copied,
    temperature_jump,
)
from tests.support.planted_portion_faults import (
    density_implausible,
    join_step,
    mass_in_mg,
    mass_tare,
    mass_ten_times,
    moisture_nonsense,
    more_than_portion,
    sieve_gain,
    sieve_loss,
    sieve_order,
)
from tests.support.planted_reading_faults import (
    flocculation_felt,
    flocculation_unfelt,
    gel,
    missed,
    off_scale,
    off_window,
    rising,
    stuck,
    timer_alone,
    timer_sieved,
    typo,
    wrong_scale,
)
from tests.support.simulator import Simulated

Plant = Callable[[Simulated, np.random.Generator], Simulated | None]


@dataclass(frozen=True, slots=True)
class Fault:
    name: str
    plant: Plant
    """None from it: this run cannot carry the fault."""
    caught_by: frozenset[str]
    """Codes of findings, or names of errors."""
    sure_from: float | None
    unit: str


def _fault(name: str, plant: Plant, caught_by: str, sure_from: float | None, unit: str = "") -> Fault:
    return Fault(name, plant, frozenset(caught_by.split()), sure_from, unit)


TIMES = "TimesNotRisingError"
FAULTS = (
    _fault("rising", rising, "rising_reading", 1.5, "g/L"),
    _fault(
        "typo",
        typo,
        "typo_suspected rising_reading more_than_portion above_scale negative_reading",
        1.5,
        "g/L",
    ),
    _fault("stuck", stuck, "stuck_reading", 18.0, "g/L lost"),
    _fault("gel", gel, "gel_suspected rising_reading", 1.5, "g/L"),
    _fault(
        "flocculation, felt clayey", flocculation_felt, "flocculation_suspected fell_too_fast", 10.0, "% clay"
    ),
    _fault(
        "flocculation, not felt",
        flocculation_unfelt,
        "flocculation_suspected fell_too_fast clear_late",
        16.0,
        "% clay",
    ),
    _fault(
        "blank too high, below zero",
        negative,
        "negative_reading blank_level clay_negative blank_unusual",
        1.5,
        "g/L",
    ),
    _fault(
        "blank too high", blank_high, "negative_reading blank_level clay_negative blank_unusual", 4.0, "g/L"
    ),
    _fault("blank without dispersant", blank_without_dispersant, "blank_without_dispersant", 4.0, "g/L"),
    _fault("blank missing", blank_missing, "blank_missing", 0.0),
    _fault("blank of another lot", blank_other_lot, "blank_drift blank_trend blank_moved", 2.0, "g/L"),
    _fault(
        "blank against temperature",
        blank_wrong_sign,
        "blank_against_temperature blank_drift blank_trend blank_moved",
        4.0,
        "°C",
    ),
    _fault(
        "blank copied",
        blank_copied,
        "blank_copied blank_against_temperature blank_drift blank_moved",
        5.0,
        "°C",
    ),
    _fault("temperature copied", temperature_copied, "temperature_copied", 1.0, "°C"),
    _fault("both temperatures copied", both_temperatures_copied, "temperature_copied", 9.5, "°C"),
    _fault("temperature in °F", fahrenheit, "TemperatureOutOfRangeError", 0.0),
    _fault(
        "temperature wrong once",
        temperature_jump,
        "temperature_jump blank_temperature_apart blank_temperature_far_apart TemperatureOutOfRangeError",
        1.5,
        "°C",
    ),
    _fault(
        "suspension and blank apart",
        sample_blank_apart,
        "blank_temperature_apart blank_temperature_far_apart",
        1.5,
        "°C",
    ),
    _fault("wrong scale", wrong_scale, "WrongScaleError rising_reading", 0.0015, "of density"),
    _fault("tare forgotten", mass_tare, "mass_unusual MassOutOfRangeError join_apart", 130.0, "g"),
    _fault("mass ten times or a tenth", mass_ten_times, "MassOutOfRangeError mass_unusual", 0.0),
    _fault("mass in mg or kg", mass_in_mg, "MassOutOfRangeError", 0.0),
    _fault("more than the portion", more_than_portion, "more_than_portion", 2.0, "g/L"),
    _fault("moisture nonsense", moisture_nonsense, "moisture_unusual MoistureNegativeError", 0.0),
    _fault("density implausible", density_implausible, "density_unusual DensityOutOfRangeError", 0.0),
    _fault("timer late, sand sieved", timer_sieved, "timer_suspected join_apart", None, "s"),
    _fault("timer late, no sieve", timer_alone, "timer_suspected", None, "s"),
    _fault("sieve gain", sieve_gain, "sieve_gain", 1.001, "of the tolerance"),
    _fault("sieve loss", sieve_loss, "sieve_loss", 2.01, "%"),
    _fault("sieve order", sieve_order, "SieveOrderError", 0.0),
    _fault("join step", join_step, "join_apart", 5.0, "%"),
    _fault("off the scale", off_scale, "above_scale", 0.0),
    _fault("missed", missed, "reading_missed", 0.0),
    _fault("outside its window", off_window, f"off_schedule {TIMES}", 0.0),
)
