"""Results of a method that reports by time: each under its own name, with its real diameter."""

from __future__ import annotations

from collections.abc import Sequence

from particles.distribution.answer import NamedReading, SizePoint


def spoken_time(elapsed_s: float) -> str:
    """40 s, 5 min, 2 h: the true time in the largest unit that keeps it a short number."""
    for unit, seconds in (("h", 3600.0), ("min", 60.0)):
        if elapsed_s >= seconds:
            return f"{elapsed_s / seconds:.4g} {unit}"
    return f"{elapsed_s:.4g} s"


def named_readings(points: Sequence[SizePoint]) -> tuple[NamedReading, ...]:
    """
    Silt and clay at the first time, clay at the last, and what lies between, as measured.

    Parameters
    ----------
    points : (n,) in order of elapsed time. Fewer than two give nothing.
    """
    if len(points) < 2:
        return ()
    first, last = points[0], points[-1]
    early, late = spoken_time(first.elapsed_s), spoken_time(last.elapsed_s)
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
