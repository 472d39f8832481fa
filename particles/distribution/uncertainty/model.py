"""
Whole runs drawn anew: every uncertain input moved by its own error, then the same smoothing as the run itself.

Standard variates are drawn without their size, always in the same order, so that one input can be looked
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
from particles.distribution.inputs.between_run import BetweenRunSds
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
"""Seed of all runs unless the caller names another; recorded with every result."""
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
    "temperature",
    "start",
    "depth",
    "clay",
    "sand",
    "clay reading off",
    "sand reading off",
    "sieved",
    "opening",
    "clock",
)
"""Inputs with one error for the whole run, in the order their variates are drawn in."""


@dataclass(frozen=True, slots=True, eq=False)
class Variates:
    """Errors of one block of draws, each in standard deviations; read only."""

    normal: Floats
    """(shared, then n readings, then n blanks, then m sieves; draws). Readings in falling order of diameter."""
    division: Floats
    """(n, draws) even from -0.5 to 0.5 of a division."""

    def shared(self, name: str) -> Floats:
        """Errors of one input that the whole run shares, (draws,)."""
        row: Floats = self.normal[SHARED.index(name)]
        return row

    @property
    def draws(self) -> int:
        """Number of draws in the block."""
        return int(self.division.shape[1])

    @property
    def reading(self) -> Floats:
        """Errors of the readings, (n, draws)."""
        return self.normal[len(SHARED) : len(SHARED) + len(self.division)]

    @property
    def blank(self) -> Floats:
        """Errors of the blanks read for the readings, (n, draws)."""
        return self.normal[len(SHARED) + len(self.division) : len(SHARED) + 2 * len(self.division)]

    @property
    def sieve(self) -> Floats:
        """Errors of the masses on the sieves, (m, draws)."""
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
    """
    The parts of one record that drawn runs are made from; everything that no draw changes is computed once.

    A model keeps buffers that its drawn runs are computed in, since taking them anew costs more than the sums. A
    `DrawnRuns` of `run` is a view of them, good only until the same model's next `run`; read off it, or copy, before.
    One model therefore serves one thread.
    """

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
        # as depth, time and temperature move by a few percent at most.
        self.per_g_l, self.per_cm = -0.5 * shrink / depth_cm, 0.5 / depth_cm
        self.per_s = _column([-0.5 / point.elapsed_s for point in ordered])
        clocks_off_s = [record.readings[point.reading_index].time_doubt_s or 0.0 for point in ordered]
        # Anywhere up to as far as the clock was off, to either side.
        self.clock_s = _column([abs(off_s) / sqrt(3.0) for off_s in clocks_off_s])
        self.per_c = _column([-0.5 * _quicker_per_c(record, point) for point in ordered])
        taken = [settled[point.reading_index] for point in ordered]
        self.liquid_g_cm3 = [path.weighted / path.fluidity for path in taken]
        self.division_is_density = scale is HydrometerScale.RELATIVE_DENSITY
        self.unit_g_l = unit_g_l
        self.blanks = BlankReadings.of(record, method, ordered, interpolated)
        self.rules = ReadingRules.of(record, method, ordered, mass.mass_g)
        self._buffers = np.empty((3, self.readings, 0))

    def variates(self, draws: int, seed: int = SEED, block: int = 0) -> Variates:
        """Errors of one block of draws of a seed, the first of which is kept for the next run."""
        kept = block == 0 and seed == SEED and draws <= BLOCK_DRAWS
        made = _kept_variates if kept else draw_variates
        return made(seed, block, self.readings, len(self.sieves_g), draws)

    def run(self, errors: Variates, sizes: InputUncertainties, between: BetweenRunSds) -> DrawnRuns:
        """
        The runs that these errors give when they have these sizes, in this model's buffers until its next `run`.

        Parameters
        ----------
        errors : one block of draws, in standard deviations.
        sizes : standard uncertainty of each input.
        between : the same of sand and of clay between runs. [percentage points]
        """
        record = self.record
        density = record.particle_density_g_cm3 + sizes.particle_density_g_cm3 * errors.shared("density")
        mass_g = self.mass.mass_g + sizes.mass_g * errors.shared("mass")
        if self.mass.derived:
            mass_g *= 1.0 + sizes.moisture_of_mass_pct / 100.0 * errors.shared("moisture")
        litres = record.volume_ml / 1000.0 * (1.0 + sizes.volume_pct / 100.0 * errors.shared("volume"))
        log_d, noise, step = self._buffers_for(errors.draws)
        self._reading_noise(errors, sizes, noise, step)
        self._log_diameters(errors, sizes, density, noise, log_d, step)
        if self.blanks is not None:
            self.blanks.add_errors(noise, errors.blank, sizes, step)
        self._percent_finer(
            density, 100.0 * litres / mass_g, sizes.blank_g_l * errors.shared("blank"), noise, step
        )
        return DrawnRuns(
            self.rules,
            sizes,
            log_d,
            non_rising_draws(noise),
            self._retained_pct(errors, sizes, mass_g),
            between.clay_pct * errors.shared("clay"),
            between.sand_pct * errors.shared("sand"),
            errors.shared("clay reading off"),
            errors.shared("sand reading off"),
            sizes.sieve_opening_pct / 100.0 * errors.shared("opening"),
        )

    def _buffers_for(self, draws: int) -> Floats:
        """Buffers for diameters, percents and the steps between, (3, n, draws), taken anew only for other draws."""
        if self._buffers.shape[2] != draws:
            self._buffers = np.empty((3, self.readings, draws))
        return self._buffers

    def _reading_noise(
        self, errors: Variates, sizes: InputUncertainties, noise: Floats, step: Floats
    ) -> None:
        """Own error of each reading, scale division included, (n, draws). [g/L at 2.65 g/cm³]"""
        division_g_l = sizes.scale_division_g_l
        if self.division_is_density:
            division_g_l = sizes.scale_division_density * self.unit_g_l
        np.multiply(errors.reading, sizes.reading_g_l, out=noise)
        np.multiply(errors.division, division_g_l, out=step)
        noise += step

    def _log_diameters(
        self,
        errors: Variates,
        sizes: InputUncertainties,
        density: Floats,
        noise: Floats,
        log_d: Floats,
        step: Floats,
    ) -> None:
        """Natural logarithm of each diameter in µm, (n, draws), by the same integrals as the run itself."""
        nominal = self.record.particle_density_g_cm3
        # The liquids of a run differ by thousandths, so between the lightest and the heaviest a line serves.
        lightest, heaviest = min(self.liquid_g_cm3), max(self.liquid_g_cm3)
        span = heaviest - lightest
        heavier = _column([(liquid - lightest) / span if span else 0.0 for liquid in self.liquid_g_cm3])
        thinner = [-0.5 * np.log((density - liquid) / (nominal - liquid)) for liquid in (lightest, heaviest)]
        per_error = np.hstack(
            [
                self.log_um,
                sizes.depth_cm * self.per_cm,
                sizes.start_s * self.per_s,
                sizes.temperature_c * self.per_c,
                # An edition that takes the start as exact takes clocks as exact too.
                (self.clock_s if sizes.start_s else 0.0) * self.per_s,
                1.0 - heavier,
                heavier,
            ]
        )
        held = np.stack(
            [
                np.ones(errors.draws),
                *(errors.shared(name) for name in ("depth", "start", "temperature", "clock")),
                *thinner,
            ]
        )
        np.matmul(per_error, held, out=log_d)
        np.multiply(noise, self.per_g_l, out=step)
        log_d += step

    def _percent_finer(
        self, density: Floats, percent_per_g_l: Floats, blank_g_l: Floats, noise: Floats, step: Floats
    ) -> None:
        """Turn noise into percent finer before smoothing, (n, draws), in place. [%]"""
        scale, nominal = self.record.hydrometer.scale, self.record.particle_density_g_cm3
        heavier = concentration_factor(scale, density) / concentration_factor(scale, nominal)
        percent_per_unit = density_factor(density) * percent_per_g_l
        noise *= percent_per_unit
        held = np.hstack([self.measured_g_l, np.ones_like(self.measured_g_l)])
        np.matmul(held, np.stack([heavier * percent_per_g_l, blank_g_l * percent_per_unit]), out=step)
        noise += step

    def _retained_pct(self, errors: Variates, sizes: InputUncertainties, mass_g: Floats) -> Floats:
        """Cumulative percent on the sieves, (m, draws), each weighed with its own error. [%]"""
        if self.record.sieving is None or not self.sieves_g:
            return errors.sieve
        weighed_g = _column(self.sieves_g) + sizes.sieve_mass_g * errors.sieve
        own_g = self.record.sieving.portion_oven_dry_mass_g
        of_g = mass_g if own_g is None else own_g + sizes.mass_g * errors.shared("sieved")
        return 100.0 * np.cumsum(weighed_g, axis=0) / of_g


def _column(values: Sequence[float]) -> Floats:
    return np.array(values, dtype=np.float64)[:, np.newaxis]


def _quicker_per_c(record: RunRecord, point: SizePoint) -> float:
    """Relative gain of settling speed per C of temperature. [1/C]"""
    middle_c = half_degree_inside_c(point.temperature_c)
    colder, warmer = (
        (record.particle_density_g_cm3 - solution_density_g_cm3(t, record.dispersant_g_l))
        / solution_viscosity_mpa_s(t, record.dispersant_g_l)
        for t in (middle_c - 0.5, middle_c + 0.5)
    )
    return log(warmer / colder)
