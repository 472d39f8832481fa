"""A block of drawn runs and how sand, silt and clay are read off them, by the rules of the run itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log

import numpy as np

from particles.distribution.answer import CurvePoint, SizePoint
from particles.distribution.curve.bend import Bend, bend_at
from particles.distribution.curve.beyond_last import day_line_ends
from particles.distribution.curve.joined import run_curve, settled_curve
from particles.distribution.curve.sand_at_limit import fall_spans_limit
from particles.distribution.method.edition import InputUncertainties, MethodEdition
from particles.distribution.record import ClayExtrapolation, Interpolation, RunRecord
from particles.distribution.sieves.stack import sand_sieve
from particles.distribution.triple import SandSiltClay, with_silt_between
from particles.distribution.uncertainty.drawn_curve import Floats, read_off_draws

_CLEAR = 1e-6
"""How far, in log diameter, each drawn point stays below the one above it, from the finest sieve on."""


@dataclass(frozen=True, slots=True)
class ReadingRules:
    """How one run is read off, the same in every draw."""

    method: MethodEdition
    sand_sieve: int | None
    """Place in the stack of the sieve that gives sand; None: the hydrometer gives it."""
    sieves_log_um: tuple[float, ...]
    """(m,) natural logarithm of the openings in µm."""
    sand_by_fall: bool
    """Whether what lies between that sieve and the limit is the hydrometer's own fall between them."""
    below_sieves: int
    """First reading, in falling order of diameter, that lies below the finest sieve."""
    day_line: tuple[int, int] | None
    """Places of the readings at 1.5 h and 24 h, when the line through them serves beyond the last point."""
    curve: tuple[CurvePoint, ...]
    """Joined curve of the run itself, for limits other than the edition's."""
    clay_bend: Bend
    """Bend of the points at the edition's clay limit."""
    sand_bend: Bend
    """Bend at its sand limit, less that at the sieve when the fall between the two counts."""

    @classmethod
    def of(
        cls, record: RunRecord, method: MethodEdition, ordered: Sequence[SizePoint], portion_g: float
    ) -> ReadingRules:
        """The rules of a run with these points, in falling order of diameter."""
        stack = record.sieving.sieves if record.sieving else ()
        sieve = sand_sieve(record.sieving, method.sand_sieve_openings_um)
        finest_um = stack[-1].opening_um if stack else float("inf")
        ends = day_line_ends(ordered) if method.clay_extrapolation is ClayExtrapolation.DAY_LINE else None
        limit_um, on_line, rule = method.sand_limit_um, ordered, method.interpolation
        curve = run_curve(record, ordered, portion_g)
        by_fall = sieve is not None and fall_spans_limit(ordered, stack, sieve.opening_um, limit_um)
        settled = settled_curve(ordered)
        sand_bend = _bend(settled if sieve is None or by_fall else curve, limit_um, rule)
        if sieve is not None and by_fall:
            sand_bend = sand_bend.minus(_bend(settled, sieve.opening_um, rule))
        if ends is not None and ordered[-1].diameter_um > method.clay_limit_um:
            on_line = [*ordered[: ordered.index(ends[0]) + 1], *ordered[ordered.index(ends[1]) :]]
        return cls(
            method,
            None if sieve is None else stack.index(sieve),
            tuple(log(each.opening_um) for each in stack),
            by_fall,
            sum(point.diameter_um >= finest_um for point in ordered),
            None if ends is None else (ordered.index(ends[0]), ordered.index(ends[1])),
            curve,
            _bend(settled_curve(on_line), method.clay_limit_um, rule),
            sand_bend,
        )

    def joined_bend(self, limit_um: float) -> Bend:
        """Bend of the joined curve at a limit."""
        return _bend(self.curve, limit_um, self.method.interpolation)


def _bend(curve: Sequence[CurvePoint], limit_um: float, rule: Interpolation) -> Bend:
    return bend_at([p.diameter_um for p in curve], [p.read_pct for p in curve], limit_um, rule)


@dataclass(frozen=True, slots=True)
class DrawnRuns:
    """A block of drawn runs, smoothed."""

    rules: ReadingRules
    sizes: InputUncertainties
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
    opening_errors: Floats
    """(draws,) error of the sieves' openings, in their natural logarithm."""

    def sand_silt_clay(self) -> SandSiltClay[Floats]:
        """Fractions of every draw at the edition's limits, (draws,) each, not clipped. [%]"""
        method, sieve = self.rules.method, self.rules.sand_sieve
        clay = self._clay(method.clay_limit_um) + self.clay_between
        clay += self._off_the_line(self.rules.clay_bend, self.clay_off)
        sand = self._settled_sand() if sieve is None else self._sieved_sand(sieve)
        sand += self.sand_between
        sand -= self._off_the_line(self.rules.sand_bend, self.sand_off)
        return with_silt_between(sand, clay)

    def at_limits(
        self, clay_limit_um: float, sand_limit_um: float, own: SandSiltClay[Floats]
    ) -> SandSiltClay[Floats]:
        """
        Fractions of every draw at any limits, (draws,) each, not clipped. [%]

        Parameters
        ----------
        own : those at the edition's limits, taken where a limit is the edition's. Any other limit is read off the
            joined curve as `other_systems.parts_at` does. [%]
        """
        method, sand, clay = self.rules.method, own.sand, own.clay
        if (clay_limit_um, sand_limit_um) == (method.clay_limit_um, method.sand_limit_um):
            return own
        if clay_limit_um != method.clay_limit_um:
            clay = self._joined(clay_limit_um) + self.clay_between
            clay += self._off_the_line(self.rules.joined_bend(clay_limit_um), self.clay_off)
        if sand_limit_um != method.sand_limit_um:
            sand = 100.0 - self._joined(sand_limit_um) + self.sand_between
            sand -= self._off_the_line(self.rules.joined_bend(sand_limit_um), self.sand_off)
        return with_silt_between(sand, clay)

    def _off_the_line(self, bend: Bend, off: Floats) -> Floats:
        """How far each draw's curve lies above the percent read off, (draws,). [%]"""
        return (
            self.sizes.reading_off_bias * bend.bias_pct
            + self.sizes.reading_off_share * bend.magnitude_pct * off
        )

    def _settled_sand(self) -> Floats:
        method = self.rules.method
        return 100.0 - read_off_draws(self.log_d, self.finer, log(method.sand_limit_um), method.interpolation)

    def _sieved_sand(self, sieve: int) -> Floats:
        """Sand of every draw, (draws,): what stayed on the sieve and what lies between it and the limit. [%]"""
        if not self.rules.sand_by_fall:
            return 100.0 - self._joined(self.rules.method.sand_limit_um)
        opening: Floats = self.rules.sieves_log_um[sieve] + self.opening_errors
        at_sieve = read_off_draws(self.log_d, self.finer, opening, self.rules.method.interpolation)
        sand: Floats = self.retained_pct[sieve] + at_sieve - (100.0 - self._settled_sand())
        return sand

    def _clay(self, limit_um: float) -> Floats:
        inside = read_off_draws(self.log_d, self.finer, log(limit_um), self.rules.method.interpolation)
        if self.rules.day_line is None:
            return inside
        rows = list(self.rules.day_line)
        line = read_off_draws(self.log_d[rows], self.finer[rows], log(limit_um))
        return np.where(self.log_d[-1] > log(limit_um), line, inside)

    def _joined(self, limit_um: float) -> Floats:
        """Percent finer of every draw, (draws,), on the sieves' curve and below it on the hydrometer's. [%]"""
        rule, openings = self.rules.method.interpolation, self.rules.sieves_log_um
        if not openings:
            return read_off_draws(self.log_d, self.finer, log(limit_um), rule)
        settled, passing = self.log_d[self.rules.below_sieves :], 100.0 - self.retained_pct
        sieved = np.array(openings)[:, np.newaxis] + self.opening_errors
        highest = sieved[-1] - _CLEAR * np.arange(1, len(settled) + 1)[:, np.newaxis]
        log_d = np.concatenate([sieved, np.minimum(settled, highest)])
        # As in `joined_curve`, no more is finer than a point below the sieves than passed the finest of them.
        finer = np.concatenate([passing, np.minimum(self.finer[self.rules.below_sieves :], passing[-1])])
        return read_off_draws(log_d, finer, log(limit_um), rule)
