"""Faults in readings and times, planted into clean runs; sizes in their docstrings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from particles.distribution import ReadingState
from tests.support.simulator import Simulated, clean_run, nets, points_of, with_points

Random = np.random.Generator


def _slipped(reading: float, random: Random) -> float:
    kind = int(random.integers(0, 3))
    if kind == 0 and reading >= 10.0:
        text = f"{reading:g}"
        return float(text[1] + text[0] + text[2:])
    if kind == 1:
        return reading + 10.0
    return reading * 10.0 if reading > 0.0 else reading + 10.0


def rising(run: Simulated, random: Random) -> Simulated | None:
    """One reading set above the one before it, from 0.5 to 6 g/L."""
    k, rise = int(random.integers(1, len(points_of(run)))), float(random.uniform(0.5, 6.0))
    points, held = points_of(run), nets(run)
    aimed = (points[k].reading or 0.0) + held[k - 1] - held[k] + rise
    points[k] = replace(points[k], reading=round(2.0 * aimed) / 2.0)
    changed = with_points(run, points)
    after = nets(changed)
    return replace(changed, size=after[k] - after[k - 1])


def typo(run: Simulated, random: Random) -> Simulated | None:
    """Digits exchanged, ten too many or a missing decimal point; size: how far outside its neighbours' span."""
    points, held = points_of(run), nets(run)
    k = int(random.integers(0, len(points)))
    typed = _slipped(points[k].reading or 0.0, random)
    if typed == points[k].reading:
        return None
    net = held[k] + typed - (points[k].reading or 0.0)
    high = held[k - 1] if k else max(run.true_mass_g, held[1])
    low = held[k + 1] if k + 1 < len(points) else 0.0
    points[k] = replace(points[k], reading=typed)
    return with_points(run, points, size=max(net - high, low - net))


def stuck(run: Simulated, random: Random) -> Simulated | None:
    """The rest of the run copied from one reading, four values at least; size: the fall that was lost."""
    points, held = points_of(run), nets(run)
    if len(points) < 5:
        return None
    k = int(random.integers(1, len(points) - 3))
    points[k:] = [replace(p, reading=points[k].reading) for p in points[k:]]
    return with_points(run, points, size=held[k] - held[-1])


def gel(run: Simulated, random: Random) -> Simulated | None:
    """From half an hour on every reading lifted; size: how far above the lowest before."""
    points, held = points_of(run), nets(run)
    if len(points) < 5:
        return None
    k, lift = int(random.integers(5, len(points) - 1)), float(random.uniform(1.0, 10.0))
    points[k:] = [replace(p, reading=(p.reading or 0.0) + round(2.0 * lift) / 2.0) for p in points[k:]]
    changed = with_points(run, points)
    after = nets(changed)
    return replace(changed, size=min(after[k:]) - min(held[:k]))


def flocculation(run: Simulated, random: Random) -> Simulated | None:
    """Clay and fine silt gone as flocs of 12 to 40 µm that fall together; size: clay. [%]"""
    if run.soil.clay < 0.1:
        return None
    kept = float(random.uniform(0.0, 0.08))
    floc = (1.0 - kept, float(random.uniform(12.0, 40.0)), float(random.uniform(0.15, 0.4)))
    parts = []
    for share, median, width in run.soil.parts:
        if median < 20.0:
            parts += [(share * kept, median, width), (share * floc[0], floc[1], floc[2])]
        else:
            parts.append((share, median, width))
    soil = replace(run.soil, parts=tuple(parts))
    made = clean_run(random, soil=soil, bench=run.bench)
    felt = replace(made.record, field_clayey=run.record.field_clayey)
    return replace(made, record=felt, soil=run.soil, size=100.0 * run.soil.clay)


def flocculation_felt(run: Simulated, random: Random) -> Simulated | None:
    """The same where the hand said clayey."""
    return flocculation(run, random) if run.record.field_clayey else None


def flocculation_unfelt(run: Simulated, random: Random) -> Simulated | None:
    """The same where nobody noted the feel."""
    return flocculation(run, random) if run.record.field_clayey is None else None


def wrong_scale(run: Simulated, random: Random) -> Simulated | None:
    """Relative density typed on a g/L form."""
    points = points_of(run)
    typed = round(1.0 + (points[0].reading or 0.0) * 0.000623, 4)
    points[0] = replace(points[0], reading=typed)
    return with_points(run, points, size=abs(typed - 1.0))


def timer_sieved(run: Simulated, random: Random) -> Simulated | None:
    """Timer started late, sand also sieved; size: by how much. [s]"""
    late = float(random.uniform(10.0, 60.0))
    made = clean_run(random, soil=run.soil, bench=run.bench, timer_late_s=late)
    return replace(made, size=late) if made.record.sieving and made.soil.sand > 0.3 else None


def timer_alone(run: Simulated, random: Random) -> Simulated | None:
    """The same without a sieve."""
    late = float(random.uniform(10.0, 60.0))
    made = clean_run(random, soil=run.soil, bench=run.bench, timer_late_s=late)
    return replace(made, record=replace(made.record, sieving=None), size=late)


def off_scale(run: Simulated, random: Random) -> Simulated | None:
    points = points_of(run)
    points[0] = (
        replace(points[0], reading=None, state=ReadingState.ABOVE_SCALE)
        if random.random() < 0.5
        else replace(points[0], reading=float(random.uniform(60.5, 70.0)))
    )
    return with_points(run, points)


def missed(run: Simulated, random: Random) -> Simulated | None:
    points = points_of(run)
    k = int(random.integers(0, len(points)))
    points[k] = replace(points[k], reading=None, state=ReadingState.MISSED)
    return with_points(run, points)


def off_window(run: Simulated, random: Random) -> Simulated | None:
    """One reading late by 3 to 10 % of its time, 4 s at least."""
    points = points_of(run)
    k = int(random.integers(0, len(points)))
    late = max(6.0, float(random.uniform(0.035, 0.1)) * points[k].elapsed_s)
    points[k] = replace(points[k], elapsed_s=points[k].elapsed_s + late)
    return with_points(run, points)
