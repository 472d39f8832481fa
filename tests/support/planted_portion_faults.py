"""Faults in mass, moisture, density and sieving, planted into clean runs; sizes in their docstrings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from particles.distribution import SieveMass
from tests.support.simulator import Simulated, clean_run, nets

LEAST_SEEN_LOSS_G = 0.2
"""Smaller ones are within what eight weighings of 0.02 g can do."""
Random = np.random.Generator


def _mass(run: Simulated, air_dry_g: float) -> Simulated:
    return replace(run, record=replace(run.record, air_dry_mass_g=round(air_dry_g, 2)))


def mass_tare(run: Simulated, random: Random) -> Simulated | None:
    """Beaker weighed with the soil; size: mass of the two. [g]"""
    made = _mass(run, (run.record.air_dry_mass_g or 0.0) + float(random.uniform(20.0, 150.0)))
    return replace(made, size=made.record.air_dry_mass_g or 0.0)


def mass_ten_times(run: Simulated, random: Random) -> Simulated | None:
    return _mass(run, (run.record.air_dry_mass_g or 0.0) * float(random.choice((10.0, 0.1))))


def mass_in_mg(run: Simulated, random: Random) -> Simulated | None:
    return _mass(run, (run.record.air_dry_mass_g or 0.0) * float(random.choice((1000.0, 0.001))))


def more_than_portion(run: Simulated, random: Random) -> Simulated | None:
    """Mass too small; size: soil in suspension beyond the portion. [g/L]"""
    made = _mass(run, (run.record.air_dry_mass_g or 0.0) * float(random.uniform(0.4, 0.95)))
    wrong_g = (made.record.air_dry_mass_g or 0.0) / (1.0 + (run.record.moisture_pct or 0.0) / 100.0)
    return replace(made, size=nets(run)[0] - wrong_g)


def moisture_nonsense(run: Simulated, random: Random) -> Simulated | None:
    moisture = float(random.choice((-2.0, 0.0, 18.0, 60.0)))
    return replace(run, record=replace(run.record, moisture_pct=moisture))


def density_implausible(run: Simulated, random: Random) -> Simulated | None:
    density = float(random.choice((0.265, 1.2, 2.2, 2.35, 3.1, 4.0, 26.5)))
    return replace(run, record=replace(run.record, particle_density_g_cm3=density))


def _sieved(run: Simulated, random: Random) -> Simulated:
    while run.record.sieving is None or run.record.sieving.washed_dry_mass_g < 2.0:
        run = clean_run(random)
    return run


def sieve_gain(run: Simulated, random: Random) -> Simulated | None:
    """Too much on the stack; size: beyond what went on it, of what limits and weighing allow. [-]"""
    run = _sieved(run, random)
    stack = run.record.sieving
    assert stack is not None
    more = float(random.uniform(0.1, 3.0))
    first = replace(stack.sieves[0], retained_g=round(stack.sieves[0].retained_g + more, 2))
    changed = replace(stack, sieves=(first, *stack.sieves[1:]))
    held = sum(s.retained_g for s in changed.sieves) + stack.pan_g
    noise_g = 3.0 * 0.02 * (len(changed.sieves) + 2) ** 0.5
    beyond = (held - stack.washed_dry_mass_g) / max(0.1, 0.002 * stack.washed_dry_mass_g, noise_g)
    return replace(run, record=replace(run.record, sieving=changed), size=beyond)


def sieve_loss(run: Simulated, random: Random) -> Simulated | None:
    """Sand lost, more than weighing could lose; size: of what went on the stack. [%]"""
    run = _sieved(run, random)
    stack = run.record.sieving
    assert stack is not None
    share = float(random.uniform(0.5, 10.0))
    less = tuple(replace(s, retained_g=round(s.retained_g * (1.0 - share / 100.0), 2)) for s in stack.sieves)
    changed = replace(stack, sieves=less)
    held = sum(s.retained_g for s in less) + stack.pan_g
    if stack.washed_dry_mass_g - held < LEAST_SEEN_LOSS_G:
        return None
    lost = 100.0 * (stack.washed_dry_mass_g - held) / stack.washed_dry_mass_g
    return replace(run, record=replace(run.record, sieving=changed), size=lost)


def sieve_order(run: Simulated, random: Random) -> Simulated | None:
    """An opening typed ten times too small or two exchanged."""
    run = _sieved(run, random)
    stack = run.record.sieving
    assert stack is not None
    sieves = list(stack.sieves)
    k = int(random.integers(0, len(sieves) - 1))
    sieves[k], sieves[k + 1] = (
        SieveMass(sieves[k + 1].opening_um, sieves[k].retained_g),
        SieveMass(sieves[k].opening_um, sieves[k + 1].retained_g),
    )
    return replace(run, record=replace(run.record, sieving=replace(stack, sieves=tuple(sieves))))


def join_step(run: Simulated, random: Random) -> Simulated | None:
    """Washed sand of a part of the portion only; size: step between sieve and hydrometer. [%]"""
    run = _sieved(run, random)
    stack = run.record.sieving
    assert stack is not None
    share = float(random.uniform(0.0, 0.6))
    less = tuple(replace(s, retained_g=round(s.retained_g * (1.0 - share), 2)) for s in stack.sieves)
    sand = sum(s.retained_g for s in stack.sieves)
    changed = replace(stack, sieves=less, washed_dry_mass_g=round(stack.washed_dry_mass_g - share * sand, 2))
    step = 100.0 * share * sand / run.true_mass_g
    return replace(run, record=replace(run.record, sieving=changed), size=step)
