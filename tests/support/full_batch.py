"""A whole batch of invented soils, read to the end, with faults planted in it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import timedelta
from typing import Any

import numpy as np
from django.utils import timezone

from batches.models import Batch
from batches.planning.rules import start_soak, unweighed_chosen
from tests.support import factories
from tests.support.simulator import FOUR, Bench, Room, Soil, blank_true_g_l, read_off, true_reading

SLOTS_S = (30, 60, 5400, 86400)
SOILS: Mapping[str, Soil] = {
    "loam": Soil(((0.42, 140.0, 0.6), (0.38, 14.0, 0.8), (0.20, 0.5, 0.9))),
    "silt loam": Soil(((0.20, 120.0, 0.5), (0.64, 18.0, 0.8), (0.16, 0.5, 0.9))),
    "sandy loam": Soil(((0.62, 220.0, 0.6), (0.26, 16.0, 0.8), (0.12, 0.5, 0.9))),
    "clay loam": Soil(((0.26, 130.0, 0.6), (0.42, 12.0, 0.8), (0.32, 0.5, 0.9))),
}
ROOM = Room(mean_c=20.0, swing_c=0.0, phase=0.0)
DAY = Bench(ROOM, noise_g_l=0.15, zero_error_g_l=0.0, meniscus_g_l=1.0, dispersant_g_l=5.0, method=FOUR)
MASSES_G: Mapping[str, float] = {"loam": 50.0, "silt loam": 50.0, "sandy loam": 80.0, "clay loam": 40.0}
"""Air-dry portions, as they are advised for these textures. [g]"""
MOISTURE = 0.2 / 9.8


def readings(name: str, random: np.random.Generator) -> dict[int, str]:
    """What is read on the stem in one cylinder with this soil. [g/L]"""
    soil, mass_g = SOILS[name], MASSES_G[name] / (1 + MOISTURE)
    return {
        slot: f"{read_off(true_reading(soil, DAY, mass_g, 2.65, float(slot)), DAY.noise_g_l, random):.1f}"
        for slot in SLOTS_S
    }


def blank_readings(random: np.random.Generator) -> dict[int, str]:
    """What is read in the blank. [g/L]"""
    return {slot: f"{read_off(blank_true_g_l(DAY, 20.0), 0.0, random):.1f}" for slot in SLOTS_S}


def full_batch(
    the_client: Any,
    clerk: Any,
    technician: Any,
    bench: Any,
    *,
    soils: Sequence[str],
    exchanged: Sequence[tuple[int, int]] = (),
    masses_g: Mapping[int, str] | None = None,
    plant: Callable[[int, dict[int, str]], dict[int, str]] | None = None,
    felt: bool = True,
    seed: int = 1,
) -> Batch:
    """
    A batch of these soils with the duplicates of the rule, waiting for the worker.

    Parameters
    ----------
    exchanged : lines of the client's list whose readings were written to each other's cylinder.
    masses_g : line: mass as it was typed, whatever was weighed.
    plant : changes the readings of a line's first portion.
    """
    random = np.random.default_rng(seed)
    factories.more_cylinders(bench, len(soils) + 5)
    now = timezone.now()
    received_at = now - timedelta(days=6)
    job = factories.job(the_client, clerk, at=received_at, samples=len(soils))
    portions = []
    for line, (sample, soil) in enumerate(zip(job.samples.order_by("line"), soils, strict=True), start=1):
        texture = {"field_texture": soil} if felt else {}
        prepared = factories.prepared(sample, technician, at=received_at, **texture)
        typed = factories.MASSES_G | {"portion_g": (masses_g or {}).get(line, f"{MASSES_G[soil]:.2f}")}
        portions.append(factories.portion(prepared, technician, bench, **typed))
    planned_at = now - timedelta(days=4)
    batch = factories.batch_with_duplicates(portions, technician, bench, at=planned_at, filled=False)
    for duplicate in unweighed_chosen(batch):
        typed = factories.MASSES_G | {"portion_g": f"{MASSES_G[soils[duplicate.sample.line - 1]]:.2f}"}
        factories.stored("weighing", technician, portion=duplicate.pk, balance=bench.balance.pk, **typed)
    start_soak(batch, by=technician, at=planned_at)
    batch.disperse(by=technician, at=planned_at + timedelta(hours=16), mixing_minutes=5)
    _read(batch, technician, list(soils), exchanged, plant, random)
    batch.refresh_from_db()
    return batch


def _read(batch: Batch, technician: Any, soils: list[str], exchanged: Any, plant: Any, random: Any) -> None:
    """Every cylinder read; a duplicate as its soil is, whatever is planted in the first portion."""
    of_line: dict[int, dict[int, str]] = {}
    for line, soil in enumerate(soils, start=1):
        read = readings(soil, random)
        of_line[line] = read if plant is None else plant(line, read)
    for one, other in exchanged:
        of_line[one], of_line[other] = of_line[other], of_line[one]
    started_at = timezone.now() - timedelta(days=3)
    for run in batch.runs.order_by("position"):
        if run.is_blank:
            read = blank_readings(random)
        elif run.is_duplicate:
            read = readings(soils[run.sample.line - 1], random)
        else:
            read = of_line[run.sample.line]
        factories.read_run(run, technician, read, started_at=started_at + timedelta(minutes=2 * run.position))
