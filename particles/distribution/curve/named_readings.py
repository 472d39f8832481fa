"""Figures under their own names: those of a method that reports by time, and what is known alone of a run."""

from __future__ import annotations

from collections.abc import Sequence

from particles.distribution.answer import NamedReading, SizePoint
from particles.distribution.curve.fractions import TakenFractions
from particles.distribution.method.edition import MethodEdition
from particles.distribution.spoken import spoken_time

AT_LIMIT_RATIO = 1.05
"""A point within it, as a ratio of diameters, lies at a limit: the figure moves by a point or so. [-]"""


def named_readings(points: Sequence[SizePoint]) -> tuple[NamedReading, ...]:
    """
    Silt and clay at the first time, clay at the last, and what lies between, as measured.

    Parameters
    ----------
    points : (n,) in order of elapsed time. One gives what it holds by itself.
    """
    if not points:
        return ()
    first, last = points[0], points[-1]
    early, late = spoken_time(first.elapsed_s), spoken_time(last.elapsed_s)
    if len(points) == 1:
        return (
            NamedReading(f"in suspension at {early}", first.percent_finer, first.diameter_um),
            NamedReading(f"settled at {early}", 100.0 - first.percent_finer),
        )
    between = [
        NamedReading(f"in suspension at {spoken_time(p.elapsed_s)}", p.percent_finer, p.diameter_um)
        for p in points[1:-1]
    ]
    return (
        NamedReading(f"silt and clay at {early}", first.percent_finer, first.diameter_um),
        *between,
        NamedReading(f"clay at {late}", last.percent_finer, last.diameter_um),
        NamedReading(f"silt between {early} and {late}", first.percent_finer - last.percent_finer),
        NamedReading(f"sand by the {early} reading", 100.0 - first.percent_finer),
    )


def known_alone(
    points: Sequence[SizePoint], method: MethodEdition, taken: TakenFractions
) -> tuple[NamedReading, ...]:
    """
    What is known of sand or clay where the three together are not; empty when they are.

    Sand as weighed or read off; else what a reading at the sand limit leaves, under its own size.
    """
    if taken.fractions is not None:
        return ()
    known: list[NamedReading] = []
    if taken.sand_pct is not None:
        by = "hydrometer" if taken.weighed is None else "sieve"
        known.append(NamedReading(f"sand above {method.sand_limit_um:g} µm, by {by}", taken.sand_pct))
    else:
        known += [
            NamedReading(
                f"coarser than {point.diameter_um:.1f} µm, by the {spoken_time(point.elapsed_s)} reading",
                100.0 - point.percent_finer,
            )
            for point in points
            if 1.0 / AT_LIMIT_RATIO <= point.diameter_um / method.sand_limit_um <= AT_LIMIT_RATIO
        ]
    if taken.clay.at is not None:
        known.append(
            NamedReading(f"clay below {method.clay_limit_um:g} µm, by hydrometer", taken.clay.at.percent)
        )
    return tuple(known)
