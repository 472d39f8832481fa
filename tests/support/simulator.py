"""
Invented runs from invented soils, with a forward model of their own.

Soils are log-normal mixtures over the whole texture triangle. The physics is written again here, scalar and
short, so that the core is never judged by itself. Noise: reading and blank 0.2 to 0.3 g/L each, both read to
0.5 g/L, end of stirring known to 1 s, particle density to 0.03 g/cm³; sizes are invented within common practice.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from math import erf, log, pi, sin, sqrt

import numpy as np

from particles.distribution import (
    METHOD_EDITIONS,
    DepthLine,
    Hydrometer,
    HydrometerScale,
    MethodEdition,
    ReadingPoint,
    RunRecord,
    SieveMass,
    Sieving,
)

NINE = METHOD_EDITIONS["hydrometer-nine-2026-4"]
FOUR = METHOD_EDITIONS["hydrometer-four-2026-4"]
SIEVES_UM = (1000.0, 500.0, 250.0, 106.0, 53.0)
DIVISION_G_L = 0.5


@dataclass(frozen=True, slots=True)
class Soil:
    """Shares, medians and widths of its log-normal parts."""

    parts: tuple[tuple[float, float, float], ...]
    """(share, median µm, standard deviation of ln d)."""

    def finer(self, diameter_um: float) -> float:
        """Share finer than a diameter, of the fine earth below 2 mm. [-]"""
        return self._whole(min(diameter_um, 2000.0)) / self._whole(2000.0)

    def _whole(self, diameter_um: float) -> float:
        return sum(
            share * 0.5 * (1.0 + erf(log(diameter_um / median) / (width * sqrt(2.0))))
            for share, median, width in self.parts
        )

    @property
    def clay(self) -> float:
        return self.finer(2.0)

    @property
    def sand(self) -> float:
        return 1.0 - self.finer(50.0)


@dataclass(frozen=True, slots=True)
class Room:
    """Temperature of the bench over the run."""

    mean_c: float
    swing_c: float
    """Half of the daily swing. [C]"""
    phase: float

    def at_c(self, elapsed_s: float) -> float:
        return self.mean_c + self.swing_c * sin(2.0 * pi * elapsed_s / 86400.0 * 0.8 + self.phase)


@dataclass(frozen=True, slots=True)
class Bench:
    """What the runs of one day share."""

    room: Room
    noise_g_l: float
    zero_error_g_l: float
    meniscus_g_l: float
    dispersant_g_l: float
    method: MethodEdition


@dataclass(frozen=True, slots=True)
class Simulated:
    """One run with the truth behind it."""

    record: RunRecord
    soil: Soil
    bench: Bench
    true_mass_g: float
    size: float = 0.0
    """Size of the planted fault, in the unit of its own description."""

    @property
    def method(self) -> MethodEdition:
        return self.bench.method

    @property
    def first_g_l(self) -> float:
        """Soil finer than what a reading at 30 s can hold, as if all of it hung in a litre. [g/L]"""
        return self.soil.finer(65.0) * self.true_mass_g

    @property
    def temperature_moved_c(self) -> float:
        """Largest true move between two readings in a row; over 2 C it deserves its warning."""
        at = [self.bench.room.at_c(point.elapsed_s) for point in self.record.readings]
        return max(abs(b - a) for a, b in pairwise(at))


def random_soil(random: np.random.Generator) -> Soil:
    """Anywhere in the triangle, one in ten near its sand or clay corner."""
    shares = random.dirichlet((0.9, 0.9, 0.9))
    corner = random.random()
    if corner < 0.05:
        shares = np.array((0.97, 0.02, 0.01))
    elif corner < 0.10:
        shares = np.array((0.01, 0.04, 0.95))
    sand = (float(shares[0]), float(random.uniform(100, 600)), float(random.uniform(0.3, 0.8)))
    silt = (float(shares[1]), float(random.uniform(6, 35)), float(random.uniform(0.5, 1.0)))
    clay = (float(shares[2]), float(random.uniform(0.2, 1.0)), float(random.uniform(0.6, 1.2)))
    return Soil((sand, silt, clay))


def loess(random: np.random.Generator) -> Soil:
    """A narrow heap of coarse silt beside some clay: falls as fast as anything dispersed can."""
    clay = float(random.uniform(0.08, 0.3))
    heap = (1.0 - clay, float(random.uniform(22.0, 50.0)), float(random.uniform(0.4, 0.8)))
    return Soil((heap, (clay, float(random.uniform(0.4, 1.2)), float(random.uniform(0.8, 1.3)))))


def random_bench(random: np.random.Generator, method: MethodEdition | None = None) -> Bench:
    """Mostly within 1 C of the mean, one day in seven up to 3 C."""
    swing = random.uniform(1.0, 3.0) if random.random() < 0.15 else random.uniform(0.1, 1.0)
    room = Room(float(random.uniform(18, 25)), float(swing), float(random.uniform(0, 2 * pi)))
    edition = method or (NINE if random.random() < 0.5 else FOUR)
    return Bench(
        room,
        noise_g_l=float(random.uniform(0.2, 0.3)),
        zero_error_g_l=float(random.normal(0.0, 0.4)),
        meniscus_g_l=float(random.uniform(0.5, 1.0)),
        dispersant_g_l=5.0 if random.random() < 0.7 else 4.0,
        method=edition,
    )


def water_g_cm3(t: float) -> float:
    """Tanaka 2001, written again from memory."""
    return 0.99997495 * (1.0 - (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881)))


def viscosity_mpa_s(t: float) -> float:
    """Kestin 1978 scaled to 1.0016 at 20 C, written again from memory."""
    d = 20.0 - t
    return float(1.0016 * 10.0 ** (d / (t + 96.0) * (1.2364 - 1.37e-3 * d + 5.7e-6 * d * d)))


def blank_true_g_l(bench: Bench, t: float, dispersant_g_l: float | None = None) -> float:
    """What the blank shows at the upper edge of the meniscus."""
    c = bench.dispersant_g_l if dispersant_g_l is None else dispersant_g_l
    excess = water_g_cm3(t) * (1.0 + 25e-6 * (t - 20.0)) * (1.0 + 0.63 * c / 1000.0) - water_g_cm3(20.0)
    return excess * 1000.0 * 2.65 / 1.65 - bench.meniscus_g_l + bench.zero_error_g_l


def true_reading(soil: Soil, bench: Bench, mass_g: float, density: float, elapsed_s: float) -> float:
    """Reading without noise: the level at which buoyancy and the soil left above the bulb agree."""
    c = bench.dispersant_g_l / 1000.0
    steps = 12
    fall = 0.0
    for k in range(steps):
        t = bench.room.at_c(elapsed_s * (k + 0.5) / steps)
        excess = density - water_g_cm3(t) * (1.0 + 0.63 * c)
        fall += elapsed_s / steps * 9.80665 * excess / (18e-8 * viscosity_mpa_s(t) * (1.0 + 4.25 * c))
    blank = blank_true_g_l(bench, bench.room.at_c(elapsed_s))
    factor = density / (density - 1.0) * 1.65 / 2.65
    reading = blank + 0.5 * mass_g
    for _ in range(25):
        depth_cm = 16.295 - 0.1641 * (reading + bench.meniscus_g_l)
        d_um = 1e6 * sqrt(depth_cm / fall)
        there = blank + mass_g * soil.finer(d_um) / factor
        if abs(there - reading) < 1e-6:
            break
        reading = there
    return reading


def read_off(value: float, noise_g_l: float, random: np.random.Generator) -> float:
    """As a person reads the stem."""
    return round((value + random.normal(0.0, noise_g_l)) / DIVISION_G_L) * DIVISION_G_L


def advised_mass_g(soil: Soil) -> float:
    if soil.sand >= 0.7:
        return 80.0
    return 30.0 if soil.clay >= 0.4 else 50.0


def hand_says_clayey(soil: Soil, random: np.random.Generator) -> bool | None:
    """Texture by hand: not always noted, and unsure between 20 and 35 % clay."""
    if random.random() < 0.3:
        return None
    if 0.20 <= soil.clay <= 0.35:
        return bool(random.random() < 0.5)
    return soil.clay > 0.35


def sieving_of(soil: Soil, mass_g: float, random: np.random.Generator) -> Sieving:
    """Sand on its sieves with a pan of up to 2 % and a loss of up to 0.8 %."""
    coarser, masses = 0.0, []
    for opening in SIEVES_UM:
        above = mass_g * (1.0 - soil.finer(opening * (1.0 + random.normal(0.0, 0.02))))
        above = max(above, coarser)
        masses.append(SieveMass(opening, _weighed(above - coarser, random)))
        coarser = above
    pan_g = coarser * float(random.uniform(0.002, 0.02))
    washed_g = (coarser + pan_g) * (1.0 + float(random.uniform(0.0, 0.008)))
    return Sieving(_weighed(washed_g, random), tuple(masses), _weighed(pan_g, random))


def _weighed(mass_g: float, random: np.random.Generator) -> float:
    """Read to 0.01 g, with 0.02 g of its own; a sieve lighter than its tare is written down as empty."""
    return max(round(mass_g + float(random.normal(0.0, 0.02)), 2), 0.0)


def clean_run(
    random: np.random.Generator,
    soil: Soil | None = None,
    bench: Bench | None = None,
    label: str = "run",
    timer_late_s: float = 0.0,
    portion_g: float | None = None,
) -> Simulated:
    """A run without fault, unless the timer was started too late."""
    soil = soil or random_soil(random)
    bench = bench or random_bench(random)
    air_dry_g = round((portion_g or advised_mass_g(soil)) + float(random.normal(0.0, 0.5)), 2)
    moisture = round(0.3 + 6.0 * soil.clay * float(random.uniform(0.7, 1.3)), 2)
    mass_g = air_dry_g / (1.0 + moisture / 100.0)
    density = 2.65 + float(random.normal(0.0, 0.03))
    start_s = float(random.normal(0.0, 1.0)) + timer_late_s
    apart_c = float(random.normal(0.0, 0.15))
    readings = []
    for nominal in bench.method.schedule_s:
        jitter = random.uniform(-1.0, 1.0) * (
            1.0 if nominal < 45 else 2.0 if nominal < 100 else 0.01 * nominal
        )
        elapsed_s = round(nominal + float(jitter), 1)
        value = true_reading(soil, bench, mass_g, density, elapsed_s + start_s)
        warm_c = bench.room.at_c(elapsed_s)
        readings.append(
            ReadingPoint(
                elapsed_s,
                round(warm_c + float(random.normal(0.0, 0.05)), 1),
                reading=read_off(value, bench.noise_g_l, random),
                blank_reading=read_off(blank_true_g_l(bench, warm_c - apart_c), bench.noise_g_l, random),
                blank_temperature_c=round(warm_c - apart_c + float(random.normal(0.0, 0.05)), 1),
                blank_gap_s=float(random.uniform(10, 300)),
            )
        )
    stem = Hydrometer(
        "H-07", HydrometerScale.GRAMS_PER_LITRE, DepthLine(16.295, 0.1641), round(bench.meniscus_g_l, 1), 1.2
    )
    record = RunRecord(
        label,
        stem,
        tuple(readings),
        air_dry_mass_g=air_dry_g,
        moisture_pct=moisture,
        dispersant_g_l=bench.dispersant_g_l,
        sieving=sieving_of(soil, mass_g, random) if random.random() < 0.4 else None,
        field_clayey=hand_says_clayey(soil, random),
    )
    return Simulated(record, soil, bench, mass_g)


def clean_batch(random: np.random.Generator, count: int = 8) -> list[Simulated]:
    """Neighbours in cylinder order, on one bench with one blank."""
    bench = random_bench(random)
    return [clean_run(random, bench=bench, label=f"cylinder {k + 1}") for k in range(count)]


def with_points(run: Simulated, points: list[ReadingPoint], size: float = 0.0) -> Simulated:
    """The same run with other readings."""
    return replace(run, record=replace(run.record, readings=tuple(points)), size=size)


def points_of(run: Simulated) -> list[ReadingPoint]:
    return list(run.record.readings)


def nets(run: Simulated) -> list[float]:
    """Readings less the true blank at their temperature, as they stand in the record. [g/L]"""
    return [
        (p.reading or 0.0) - blank_true_g_l(run.bench, run.bench.room.at_c(p.elapsed_s))
        for p in run.record.readings
    ]
