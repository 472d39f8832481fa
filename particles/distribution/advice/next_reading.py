"""Advice on when to read next so that the diameters bracket the size limits; no result rests on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from particles.distribution.curve.points import depth_at_cm, paths, usable
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import ReadingPoint, RunRecord
from particles.distribution.settling.hydrometer import effective_depth_cm
from particles.distribution.settling.stokes import EIGHTEEN, GRAVITY_M_S2
from particles.distribution.settling.water import solution_density_g_cm3, solution_viscosity_mpa_s
from particles.distribution.spoken import spoken_time

NEAR = 0.10
"""Share of the time before or after a limit, where the schedule has no time on that side of it."""


@dataclass(frozen=True, slots=True)
class NextReading:
    """Advice for one size limit: whether it is bracketed, when it passes, and which times bracket it."""

    limit_name: str
    """'sand' or 'clay'."""
    limit_um: float
    bracketed: bool
    """Whether readings on both sides of the limit are there."""
    passes_at_s: float | None
    """When the limit passes the depth of the last reading, at the last temperature; None without a reading. [s]"""
    take_at_s: tuple[float, ...]
    """Elapsed times still to take for it, rising; empty when bracketed or out of reach. [s]"""
    sentence: str


def next_reading_advice(
    record_so_far: RunRecord, method: MethodEdition, now_elapsed_s: float
) -> tuple[NextReading, ...]:
    """
    Best next times for the sand and for the clay limit, from the current temperature and reading.

    Parameters
    ----------
    record_so_far : with the readings taken until now; slots still to come may be left out.
    now_elapsed_s : time since the end of stirring. [s]

    Returns
    -------
    Sand first, then clay. Scheduled times are preferred; in between, ten percent to either side of the limit.
    """
    taken = [
        (index, point)
        for index, point in enumerate(record_so_far.readings)
        if point.elapsed_s <= now_elapsed_s and usable(record_so_far, point)
    ]
    limits = (("sand", method.sand_limit_um), ("clay", method.clay_limit_um))
    return tuple(_advice(record_so_far, method, taken, now_elapsed_s, name, um) for name, um in limits)


def _advice(
    record: RunRecord,
    method: MethodEdition,
    taken: Sequence[tuple[int, ReadingPoint]],
    now_s: float,
    name: str,
    limit_um: float,
) -> NextReading:
    if not taken:
        sentence = f"Nothing has been read yet; begin with the schedule for the {name} limit."
        first = tuple(s for s in method.schedule_s if s > now_s)[:1]
        return NextReading(name, limit_um, False, None, first, sentence)
    sizes_um = [_diameter_um(record, method, index, point) for index, point in taken]
    above, below = any(d >= limit_um for d in sizes_um), any(d <= limit_um for d in sizes_um)
    passes_s = _passes_at_s(record, taken[-1], limit_um)
    if above and below:
        sentence = f"The {name} limit of {limit_um:g} µm is bracketed."
        return NextReading(name, limit_um, True, passes_s, (), sentence)
    if now_s >= passes_s and not above:
        sentence = (
            f"The {name} limit of {limit_um:g} µm passed at {spoken_time(passes_s)} without a reading before it; "
            "take it from a sieve, or stir again."
        )
        return NextReading(name, limit_um, False, passes_s, (), sentence)
    take_s = ([] if above else [_before(method, now_s, passes_s)]) + [_after(method, now_s, passes_s)]
    spoken = " and ".join(spoken_time(each) for each in take_s)
    sentence = f"The {name} limit of {limit_um:g} µm passes at {spoken_time(passes_s)}; read at {spoken}."
    return NextReading(name, limit_um, False, passes_s, tuple(take_s), sentence)


def _diameter_um(record: RunRecord, method: MethodEdition, index: int, point: ReadingPoint) -> float:
    assert point.reading is not None
    depth_cm = depth_at_cm(record, method, point, point.reading)
    return paths(record)[index].diameter_um(depth_cm, record.particle_density_g_cm3)


def _passes_at_s(record: RunRecord, last: tuple[int, ReadingPoint], limit_um: float) -> float:
    """
    Time at which D = limit at the depth of the last reading, the temperature staying as it is. [s]

    From D² g (rho_s F - W) = 18 L with the integrals F and W so far and their present rates.
    """
    index, point = last
    assert point.reading is not None
    path = paths(record)[index]
    depth_cm = effective_depth_cm(record.hydrometer, point.reading)
    viscosity = solution_viscosity_mpa_s(point.at_c, record.dispersant_g_l)
    liquid = solution_density_g_cm3(point.at_c, record.dispersant_g_l)
    needed = EIGHTEEN * depth_cm / (GRAVITY_M_S2 * (limit_um * 1e-6) ** 2)
    so_far = record.particle_density_g_cm3 * path.fluidity - path.weighted
    return point.elapsed_s + (needed - so_far) * viscosity / (record.particle_density_g_cm3 - liquid)


def _before(method: MethodEdition, now_s: float, passes_s: float) -> float:
    planned = [s for s in method.schedule_s if now_s <= s <= passes_s]
    return planned[-1] if planned else max(now_s, (1.0 - NEAR) * passes_s)


def _after(method: MethodEdition, now_s: float, passes_s: float) -> float:
    planned = [s for s in method.schedule_s if s >= max(now_s, passes_s)]
    return planned[0] if planned else max(now_s, (1.0 + NEAR) * passes_s)
