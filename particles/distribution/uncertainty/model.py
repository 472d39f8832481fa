"""
Whole runs drawn anew: every doubtful input moved by its own error, then the same smoothing as the run itself.

Standard variates are drawn apart from their size, always in the same order, so that one input can be looked
at alone with the very draws it has among the others. They belong to a seed and not to a run, so a process keeps
the first block of them for the next run (decision 0006).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import log, sqrt

import numpy as np

from particles.distribution.answer import SizePoint
from particles.distribution.curve.points import by_size, paths
from particles.distribution.inputs.portion import PortionMass
from particles.distribution.method.edition import InputUncertainties, MethodEdition
from particles.distribution.record import HydrometerScale, RunRecord
from particles.distribution.settling.hydrometer import (
    concentration_factor,
    density_factor,
    depth_per_unit_cm,
    soil_per_scale_unit_g_l,
)
from particles.distribution.settling.water import (
    half_degree_inside_c,
    solution_density_g_cm3,
    solution_viscosity_mpa_s,
)
from particles.distribution.uncertainty.drawn_blank import BlankReadings
from particles.distribution.uncertainty.drawn_curve import Floats, non_rising_draws
from particles.distribution.uncertainty.drawn_run import DrawnRuns, ReadingRules
from particles.distribution.uncertainty.how_many import BLOCK_DRAWS

SEED = 1012008
"""Of all runs unless the caller names another; recorded with every result."""
RANDOM_SOURCE = f"numpy {np.__version__} PCG64"
"""numpy keeps a stream for one build only, not from version to version (its compatibility policy, NEP 19)."""
KEPT_BLOCKS = 8
"""First blocks that a process keeps, one for each shape of run: 2.5 MB for nine readings and 10 000 draws."""
SHARED = (
    "density",
    "mass",
    "moisture",
    "blank",
    "volume",
    "warmth",
    "start",
    "depth",
    "clay",
    "sand",
    "clay off",
    "sand off",
    "sieved",
    "opening",
    "clock",
)


@dataclass(frozen=True, slots=True, eq=False)
class Variates:
    """Errors of one block of draws, each in standard deviations; read only."""

    normal: Floats
    """(shared, then n readings, then n blanks, then m sieves; draws). Readings in falling order of diameter."""
    division: Floats
    """(n, draws) even from -0.5 to 0.5 of a division."""

    def shared(self, name: str) -> Floats:
        """(draws,) one value for the whole run."""
        row: Floats = self.normal[SHARED.index(name)]
        return row

    @property
    def draws(self) -> int:
        return int(self.division.shape[1])

    @property
    def reading(self) -> Floats:
        return self.normal[len(SHARED) : len(SHARED) + len(self.division)]

    @property
    def blank(self) -> Floats:
        """(n, draws) of the blanks read for the readings."""
        return self.normal[len(SHARED) + len(self.division) : len(SHARED) + 2 * len(self.division)]

    @property
    def sieve(self) -> Floats:
        return self.normal[len(SHARED) + 2 * len(self.division) :]


def draw_variates(seed: int, block: int, readings: int, sieves: int, draws: int) -> Variates:
    """Errors of one block of a seed; each block has a stream of its own, spawned from the seed."""
    random = np.random.Generator(np.random.PCG64(np.random.SeedSequence(seed, spawn_key=(block,))))
    normal = random.standard_normal((len(SHARED) + 2 * readings + sieves, draws))
    division = random.random((readings, draws)) - 0.5
    normal.flags.writeable = division.flags.writeable = False
    return Variates(normal, division)


_kept_variates = lru_cache(maxsize=KEPT_BLOCKS)(draw_variates)


class RunModel:
    """What a drawn run is made from; everything that no draw changes is computed once."""

    def __init__(
        self,
        record: RunRecord,
        method: MethodEdition,
        points: Sequence[SizePoint],
        mass: PortionMass,
        interpolated: Collection[int] = (),
    ) -> None:
        ordered, settled = by_size(points), paths(record)
        scale = record.hydrometer.scale
        unit_g_l = soil_per_scale_unit_g_l(scale)
        self.record, self.method, self.mass = record, method, mass
        self.readings = len(ordered)
        self.sieves_g = [sieve.retained_g for sieve in record.sieving.sieves] if record.sieving else []
        self.measured_g_l = _column([point.concentration_g_l for point in ordered])
        self.log_um = _column([log(point.diameter_um) for point in ordered])
        depth_cm = _column([point.effective_depth_cm for point in ordered])
        shrink = _column([depth_per_unit_cm(record.hydrometer, p.reading) / unit_g_l for p in ordered])
        # Half of each, for the diameter goes with the square root; first order in the logarithm suffices,
        # as depth, time and warmth move by a few percent at most.
        self.per_g_l, self.per_cm = -0.5 * shrink / depth_cm, 0.5 / depth_cm
        self.per_s = _column([-0.5 / point.elapsed_s for point in ordered])
        doubts = [record.readings[point.reading_index].time_doubt_s or 0.0 for point in ordered]
        # Anywhere up to as far as the clock was off, to either side.
        self.clock_s = _column([abs(doubt) / sqrt(3.0) for doubt in doubts])
        self.per_c = _column([-0.5 * _quicker_per_c(record, point) for point in ordered])
        taken = [settled[point.reading_index] for point in ordered]
        self.liquid_g_cm3 = [path.weighted / path.fluidity for path in taken]
        self.division_is_density = scale is HydrometerScale.RELATIVE_DENSITY
        self.unit_g_l = unit_g_l
        self.blanks = BlankReadings.of(record, ordered, interpolated)
        self.rules = ReadingRules.of(record, method, ordered, mass.mass_g)
        self._room = np.empty((3, self.readings, 0))

    def variates(self, draws: int, seed: int = SEED, block: int = 0) -> Variates:
        """The errors of so many runs: one block of a seed, the first of which is kept."""
        kept = block == 0 and seed == SEED and draws <= BLOCK_DRAWS
        made = _kept_variates if kept else draw_variates
        return made(seed, block, self.readings, len(self.sieves_g), draws)

    def run(self, by: Variates, doubt: InputUncertainties, between_run_sd_pct: float) -> DrawnRuns:
        """The runs that these errors give when they have these sizes; good until this model's next."""
        record = self.record
        density = record.particle_density_g_cm3 + doubt.particle_density_g_cm3 * by.shared("density")
        mass_g = self.mass.mass_g + doubt.mass_g * by.shared("mass")
        if self.mass.derived:
            mass_g *= 1.0 + doubt.moisture_of_mass_pct / 100.0 * by.shared("moisture")
        litres = record.volume_ml / 1000.0 * (1.0 + doubt.volume_pct / 100.0 * by.shared("volume"))
        log_d, noise, step = self._room_for(by.draws)
        self._reading_noise(by, doubt, noise, step)
        self._log_diameters(by, doubt, density, noise, log_d, step)
        if self.blanks is not None:
            self.blanks.take_off(noise, by.blank, doubt, step)
        self._percent_finer(
            density, 100.0 * litres / mass_g, doubt.blank_g_l * by.shared("blank"), noise, step
        )
        return DrawnRuns(
            self.rules,
            doubt,
            log_d,
            non_rising_draws(noise),
            self._retained_pct(by, doubt, mass_g),
            between_run_sd_pct * by.shared("clay"),
            between_run_sd_pct * by.shared("sand"),
            by.shared("clay off"),
            by.shared("sand off"),
            doubt.sieve_opening_pct / 100.0 * by.shared("opening"),
        )

    def _room_for(self, draws: int) -> Floats:
        """(3, n, draws) for diameters, percents and steps between; taking it anew costs more than the sums."""
        if self._room.shape[2] != draws:
            self._room = np.empty((3, self.readings, draws))
        return self._room

    def _reading_noise(self, by: Variates, doubt: InputUncertainties, noise: Floats, step: Floats) -> None:
        """(n, draws) own error of each reading, scale division included. [g/L at 2.65 g/cm³]"""
        division_g_l = doubt.scale_division_g_l
        if self.division_is_density:
            division_g_l = doubt.scale_division_density * self.unit_g_l
        np.multiply(by.reading, doubt.reading_g_l, out=noise)
        np.multiply(by.division, division_g_l, out=step)
        noise += step

    def _log_diameters(
        self,
        by: Variates,
        doubt: InputUncertainties,
        density: Floats,
        noise: Floats,
        log_d: Floats,
        step: Floats,
    ) -> None:
        """(n, draws) natural logarithm of the diameter in µm, by the same integrals as the run itself."""
        nominal = self.record.particle_density_g_cm3
        # The liquids of a run differ by thousandths, so between the lightest and the heaviest a line serves.
        lightest, heaviest = min(self.liquid_g_cm3), max(self.liquid_g_cm3)
        span = heaviest - lightest
        heavier = _column([(liquid - lightest) / span if span else 0.0 for liquid in self.liquid_g_cm3])
        thinner = [-0.5 * np.log((density - liquid) / (nominal - liquid)) for liquid in (lightest, heaviest)]
        per_error = np.hstack(
            [
                self.log_um,
                doubt.depth_cm * self.per_cm,
                doubt.start_s * self.per_s,
                doubt.temperature_c * self.per_c,
                # An edition that takes the start as exact takes clocks as exact too.
                (self.clock_s if doubt.start_s else 0.0) * self.per_s,
                1.0 - heavier,
                heavier,
            ]
        )
        errors = np.stack(
            [
                np.ones(by.draws),
                *(by.shared(name) for name in ("depth", "start", "warmth", "clock")),
                *thinner,
            ]
        )
        np.matmul(per_error, errors, out=log_d)
        np.multiply(noise, self.per_g_l, out=step)
        log_d += step

    def _percent_finer(
        self, density: Floats, percent_per_g_l: Floats, blank_g_l: Floats, noise: Floats, step: Floats
    ) -> None:
        """(n, draws) noise becomes percent finer before smoothing. [%]"""
        scale, nominal = self.record.hydrometer.scale, self.record.particle_density_g_cm3
        heavier = concentration_factor(scale, density) / concentration_factor(scale, nominal)
        percent_per_unit = density_factor(density) * percent_per_g_l
        noise *= percent_per_unit
        held = np.hstack([self.measured_g_l, np.ones_like(self.measured_g_l)])
        np.matmul(held, np.stack([heavier * percent_per_g_l, blank_g_l * percent_per_unit]), out=step)
        noise += step

    def _retained_pct(self, by: Variates, doubt: InputUncertainties, mass_g: Floats) -> Floats:
        """(m, draws) cumulative on the sieves, each weighed with its own error. [%]"""
        if self.record.sieving is None or not self.sieves_g:
            return by.sieve
        weighed_g = _column(self.sieves_g) + doubt.sieve_mass_g * by.sieve
        own_g = self.record.sieving.portion_oven_dry_mass_g
        of_g = mass_g if own_g is None else own_g + doubt.mass_g * by.shared("sieved")
        return 100.0 * np.cumsum(weighed_g, axis=0) / of_g


def _column(values: Sequence[float]) -> Floats:
    return np.array(values, dtype=np.float64)[:, np.newaxis]


def _quicker_per_c(record: RunRecord, point: SizePoint) -> float:
    """Relative gain of settling speed per C of warmth. [1/C]"""
    middle_c = half_degree_inside_c(point.temperature_c)
    colder, warmer = (
        (record.particle_density_g_cm3 - solution_density_g_cm3(t, record.dispersant_g_l))
        / solution_viscosity_mpa_s(t, record.dispersant_g_l)
        for t in (middle_c - 0.5, middle_c + 0.5)
    )
    return log(warmer / colder)
