"""A block of drawn runs and how sand, silt and clay are read off them, by the rules of the run itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log

import numpy as np

from .clay_line import day_line_ends
from .drawn_curve import Floats, read_off_draws
from .methods import InputUncertainties, MethodEdition
from .quantities import ClayExtrapolation, CurvePoint, Interpolation, RunRecord, SizePoint
from .reading_off import NO_BEND, Bend, bend_at
from .run_curve import run_curve
from .sieving import sand_sieve

_CLEAR = 1e-6
"""How far, in log diameter, a drawn point stays below the finest sieve that its run has above it."""


@dataclass(frozen=True, slots=True)
class ReadingRules:
    """What decides how a run is read off; the same in every draw."""

    method: MethodEdition
    sand_sieve: int | None
    """Place in the stack of the sieve that gives sand; None: the hydrometer gives it."""
    sieves_log_um: tuple[float, ...]
    """(m,) natural logarithm of the openings in µm."""
    below_sieves: int
    """First reading, in falling order of diameter, that lies below the finest sieve."""
    day_line: tuple[int, int] | None
    """Places of the readings at 1.5 h and 24 h, when the line through them serves beyond the last point."""
    curve: tuple[CurvePoint, ...]
    """Joined curve of the run itself, for limits other than the edition's."""
    clay_bend: Bend
    """Of the points at the edition's clay limit."""
    sand_bend: Bend
    """At its sand limit; none when a sieve gives sand."""

    @classmethod
    def of(
        cls, record: RunRecord, method: MethodEdition, ordered: Sequence[SizePoint], portion_g: float
    ) -> ReadingRules:
        """The rules of a run with these points, in falling order of diameter."""
        stack = record.sieving.sieves if record.sieving else ()
        sieve = sand_sieve(record.sieving, method.sand_sieve_openings_um) if record.sieving else None
        finest_um = stack[-1].opening_um if stack else float("inf")
        ends = day_line_ends(ordered) if method.clay_extrapolation is ClayExtrapolation.DAY_LINE else None
        on_line, rule = ordered, method.interpolation
        if ends is not None and ordered[-1].diameter_um > method.clay_limit_um:
            on_line = [*ordered[: ordered.index(ends[0]) + 1], *ordered[ordered.index(ends[1]) :]]
        return cls(
            method,
            None if sieve is None else stack.index(sieve),
            tuple(log(each.opening_um) for each in stack),
            sum(point.diameter_um >= finest_um for point in ordered),
            None if ends is None else (ordered.index(ends[0]), ordered.index(ends[1])),
            run_curve(record, ordered, portion_g),
            _settled_bend(on_line, method.clay_limit_um, rule),
            NO_BEND if sieve is not None else _settled_bend(ordered, method.sand_limit_um, rule),
        )

    def joined_bend(self, limit_um: float) -> Bend:
        """Of the joined curve at a limit."""
        sizes, percents = [p.diameter_um for p in self.curve], [p.percent_finer for p in self.curve]
        return bend_at(sizes, percents, limit_um, self.method.interpolation)


def _settled_bend(ordered: Sequence[SizePoint], limit_um: float, rule: Interpolation) -> Bend:
    sizes, percents = [p.diameter_um for p in ordered], [p.percent_finer_curve for p in ordered]
    return bend_at(sizes, percents, limit_um, rule)


@dataclass(frozen=True, slots=True)
class DrawnRuns:
    """A block of drawn runs, smoothed."""

    rules: ReadingRules
    doubt: InputUncertainties
    log_d: Floats
    """(n, draws) natural logarithm of the diameter in µm."""
    finer: Floats
    """(n, draws) percent finer, never rising. [%]"""
    retained_pct: Floats
    """(m, draws) on each sieve and those above it, of the sieved portion. [%]"""
    clay_between: Floats
    """(draws,) between-run error of clay. [%]"""
    sand_between: Floats
    clay_off: Floats
    """(draws,) error of reading off clay, in standard deviations. [-]"""
    sand_off: Floats

    def sand_silt_clay(self) -> tuple[Floats, Floats, Floats]:
        """(draws,) each, at the edition's limits, not clipped. [%]"""
        method, sieve = self.rules.method, self.rules.sand_sieve
        clay = self._clay(method.clay_limit_um) + self.clay_between
        clay += self._off_the_line(self.rules.clay_bend, self.clay_off)
        if sieve is not None:
            sand = self.retained_pct[sieve] + self.sand_between
        else:
            finer = read_off_draws(self.log_d, self.finer, method.sand_limit_um, method.interpolation)
            sand = 100.0 - finer + self.sand_between
            sand -= self._off_the_line(self.rules.sand_bend, self.sand_off)
        return sand, 100.0 - sand - clay, clay

    def at_limits(
        self, clay_limit_um: float, sand_limit_um: float, own: tuple[Floats, Floats, Floats]
    ) -> tuple[Floats, Floats, Floats]:
        """`own`, if at these limits, else read off the joined curve as `other_textures.parts_at` does. [%]"""
        method, (sand, silt, clay) = self.rules.method, own
        if (clay_limit_um, sand_limit_um) == (method.clay_limit_um, method.sand_limit_um):
            return sand, silt, clay
        if clay_limit_um != method.clay_limit_um:
            clay = self._joined(clay_limit_um) + self.clay_between
            clay += self._off_the_line(self.rules.joined_bend(clay_limit_um), self.clay_off)
        if sand_limit_um != method.sand_limit_um:
            sand = 100.0 - self._joined(sand_limit_um) + self.sand_between
            sand -= self._off_the_line(self.rules.joined_bend(sand_limit_um), self.sand_off)
        return sand, 100.0 - sand - clay, clay

    def _off_the_line(self, bend: Bend, off: Floats) -> Floats:
        """(draws,) how far the curve lies above the percent read off. [%]"""
        return (
            self.doubt.reading_off_lean * bend.lean_pct + self.doubt.reading_off_share * bend.size_pct * off
        )

    def _clay(self, limit_um: float) -> Floats:
        inside = read_off_draws(self.log_d, self.finer, limit_um, self.rules.method.interpolation)
        if self.rules.day_line is None:
            return inside
        rows = list(self.rules.day_line)
        line = read_off_draws(self.log_d[rows], self.finer[rows], limit_um)
        return np.where(self.log_d[-1] > log(limit_um), line, inside)

    def _joined(self, limit_um: float) -> Floats:
        """(draws,) percent finer on the sieves' curve and, below the finest sieve, the hydrometer's. [%]"""
        rule, openings = self.rules.method.interpolation, self.rules.sieves_log_um
        if not openings:
            return read_off_draws(self.log_d, self.finer, limit_um, rule)
        settled = self.log_d[self.rules.below_sieves :]
        sieved = np.repeat(np.array(openings)[:, np.newaxis], settled.shape[1], axis=1)
        log_d = np.concatenate([sieved, np.minimum(settled, openings[-1] - _CLEAR)])
        finer = np.concatenate([100.0 - self.retained_pct, self.finer[self.rules.below_sieves :]])
        return read_off_draws(log_d, finer, limit_um, rule)
