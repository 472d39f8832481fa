"""Faults in blanks and temperatures, planted into clean runs; sizes in their docstrings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.support.simulator import (
    Simulated,
    blank_true_g_l,
    clean_run,
    nets,
    points_of,
    random_bench,
    read_off,
    with_points,
)

Random = np.random.Generator


def negative(run: Simulated, random: Random) -> Simulated | None:
    """All blanks too high by 1 to 8 g/L; size: how far the true last reading goes below zero."""
    high = float(random.uniform(1.0, 8.0))
    points = [
        replace(p, blank_reading=(p.blank_reading or 0.0) + round(2.0 * high) / 2.0) for p in points_of(run)
    ]
    return with_points(run, points, size=round(2.0 * high) / 2.0 - nets(run)[-1])


def blank_high(run: Simulated, random: Random) -> Simulated | None:
    """The same, by how much the blank is too high against its own lot. [g/L]"""
    made = negative(run, random)
    assert made is not None
    return replace(
        made, size=(made.record.readings[0].blank_reading or 0.0) - (points_of(run)[0].blank_reading or 0.0)
    )


def blank_without_dispersant(run: Simulated, random: Random) -> Simulated | None:
    """Blank of plain water; size: what the dispersant should have given. [g/L of dispersant]"""
    points = [
        replace(
            p,
            blank_reading=read_off(
                blank_true_g_l(run.bench, p.blank_temperature_c or 20.0, 0.0), run.bench.noise_g_l, random
            ),
        )
        for p in points_of(run)
    ]
    return with_points(run, points, size=run.bench.dispersant_g_l)


def blank_missing(run: Simulated, random: Random) -> Simulated | None:
    points = points_of(run)
    k = int(random.integers(0, len(points)))
    points[k] = replace(points[k], blank_reading=None)
    return with_points(run, points)


def blank_other_lot(run: Simulated, random: Random) -> Simulated | None:
    """Another blank cylinder from some slot on; size: difference of the two. [g/L]"""
    points = points_of(run)
    k, apart = (
        int(random.integers(1, len(points))),
        float(random.uniform(0.5, 4.0)) * random.choice((-1.0, 1.0)),
    )
    step = round(2.0 * apart) / 2.0
    points[k:] = [replace(p, blank_reading=(p.blank_reading or 0.0) + step) for p in points[k:]]
    return with_points(run, points, size=abs(step))


def _swinging(random: Random, most_c: float = 4.0) -> Simulated:
    bench = random_bench(random)
    bench = replace(bench, room=replace(bench.room, swing_c=float(random.uniform(0.5, most_c))))
    return clean_run(random, bench=bench)


def _moved_c(run: Simulated) -> float:
    warm = [run.bench.room.at_c(p.elapsed_s) for p in run.record.readings]
    return max(warm) - min(warm)


def blank_wrong_sign(run: Simulated, random: Random) -> Simulated | None:
    """Blank that moves against its temperature; size: range of temperature. [C]"""
    run = _swinging(random, 6.0)
    points = points_of(run)
    first = points[0].blank_temperature_c or 20.0
    level = blank_true_g_l(run.bench, first)
    points = [
        replace(
            p,
            blank_reading=read_off(
                2.0 * level - blank_true_g_l(run.bench, p.blank_temperature_c or 20.0),
                run.bench.noise_g_l,
                random,
            ),
        )
        for p in points
    ]
    return with_points(run, points, size=_moved_c(run))


def blank_copied(run: Simulated, random: Random) -> Simulated | None:
    """First blank copied to every slot; size: range of temperature. [C]"""
    run = _swinging(random, 6.0)
    points = [replace(p, blank_reading=run.record.readings[0].blank_reading) for p in points_of(run)]
    return with_points(run, points, size=_moved_c(run))


def temperature_copied(run: Simulated, random: Random) -> Simulated | None:
    """First temperature of the suspension copied, the blank's read; size: range of temperature. [C]"""
    run = _swinging(random)
    points = [replace(p, temperature_c=run.record.readings[0].temperature_c) for p in points_of(run)]
    return with_points(run, points, size=_moved_c(run))


def both_temperatures_copied(run: Simulated, random: Random) -> Simulated | None:
    """Temperature of both cylinders copied, only the blank's reading can tell; size: range. [C]"""
    run = _swinging(random, 8.0)
    first = run.record.readings[0]
    points = [
        replace(p, temperature_c=first.temperature_c, blank_temperature_c=first.blank_temperature_c)
        for p in points_of(run)
    ]
    return with_points(run, points, size=_moved_c(run))


def fahrenheit(run: Simulated, random: Random) -> Simulated | None:
    points = [replace(p, temperature_c=round(32.0 + 1.8 * p.at_c, 1)) for p in points_of(run)]
    return with_points(run, points)


def temperature_jump(run: Simulated, random: Random) -> Simulated | None:
    """One temperature wrong by 1 to 8 C; size: by how much. [C]"""
    points = points_of(run)
    k, wrong = int(random.integers(0, len(points))), float(random.uniform(1.0, 8.0))
    points[k] = replace(points[k], temperature_c=round(points[k].at_c + wrong, 1))
    return with_points(run, points, size=wrong)


def sample_blank_apart(run: Simulated, random: Random) -> Simulated | None:
    """Blank in a colder place; size: by how much. [C]"""
    cold = float(random.uniform(0.5, 4.0))
    points = [
        replace(p, blank_temperature_c=round((p.blank_temperature_c or 20.0) - cold, 1))
        for p in points_of(run)
    ]
    return with_points(run, points, size=cold)
