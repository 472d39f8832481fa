"""The core and a second, scalar path give the same figures on thousands of random runs."""

from __future__ import annotations

import ast
from dataclasses import replace
from math import isclose
from pathlib import Path

import numpy as np
import pytest

from particles.distribution import (
    METHOD_EDITIONS,
    BlankReading,
    Correction,
    DepthLine,
    DepthTable,
    Hydrometer,
    HydrometerScale,
    MethodEdition,
    ReadingPoint,
    ReadingState,
    RunRecord,
    SieveMass,
    Sieving,
    compute_distribution,
)
from particles.second import independent
from particles.second.independent import NotCoveredError, recalculate
from tests.support.runs import NINE, good_run, sieved, with_reading

RUNS = 3_000
LEVELS = (-6.0, 10.0, 25.0, 40.0, 62.0)


def _instrument(random: np.random.Generator) -> Hydrometer:
    dense = random.random() < 0.3
    unit, base = (0.000623, 1.0) if dense else (1.0, 0.0)
    corrections: tuple[tuple[float, float], ...] = ()
    if random.random() < 0.3:
        corrections = tuple(
            (base + unit * g, float(unit * random.normal(0.0, 0.3))) for g in (-10.0, 20.0, 70.0)
        )
    line = DepthLine(float(random.uniform(15.5, 17.0)), float(random.uniform(0.155, 0.175)) / unit)
    table = DepthTable(
        tuple(base + unit * g for g in LEVELS),
        tuple(16.3 - 0.164 * g + float(random.normal(0, 0.05)) for g in LEVELS),
    )
    return Hydrometer(
        "H-21",
        HydrometerScale.RELATIVE_DENSITY if dense else HydrometerScale.GRAMS_PER_LITRE,
        table if random.random() < 0.3 else line,
        float(unit * random.uniform(0.0, 1.0)),
        float(random.uniform(0.8, 1.4)),
        base - 5.0 * unit,
        base + 60.0 * unit,
        corrections,
    )


def _readings(
    random: np.random.Generator, stem: Hydrometer, method: MethodEdition
) -> tuple[ReadingPoint, ...]:
    unit, base = (0.000623, 1.0) if stem.scale is HydrometerScale.RELATIVE_DENSITY else (1.0, 0.0)
    value, points = float(random.uniform(5.0, 60.0)), []
    for nominal in method.schedule_s:
        value = value * float(random.uniform(0.6, 1.03)) + float(random.normal(0.0, 0.4))
        # A value such as 1.02 on a 152H is refused as a relative density before anything is computed.
        value = 1.5 if 0.9 < value < 1.1 else value
        gone, blank = random.random() < 0.05, random.random() > 0.05
        points.append(
            ReadingPoint(
                nominal * float(random.uniform(0.97, 1.03)),
                float(random.uniform(17.0, 26.0)),
                ReadingState.ABOVE_SCALE if gone else ReadingState.READ,
                None if gone else base + unit * min(value, 60.9),
                base + unit * float(random.uniform(1.5, 6.0)) if blank else None,
                float(random.uniform(17.0, 26.0)) if blank and random.random() < 0.9 else None,
            )
        )
    return tuple(points)


def _blanks(random: np.random.Generator, stem: Hydrometer, method: MethodEdition) -> tuple[BlankReading, ...]:
    """A blank read at any times, of a level that stays, steps, or has one reading off; invented."""
    unit, base = (0.000623, 1.0) if stem.scale is HydrometerScale.RELATIVE_DENSITY else (1.0, 0.0)
    times_s = sorted(float(each) for each in random.uniform(-3600.0, 90_000.0, int(random.integers(1, 12))))
    step, alone = float(random.choice((0.0, 0.0, 2.0, -4.0))), random.random() < 0.5
    place = int(random.integers(0, len(times_s)))
    read = []
    for k, at_s in enumerate(times_s):
        off = step if k == place or (k > place and not alone) else 0.0
        g_l = 5.5 + off + float(random.normal(0.0, 0.3))
        # As above: such a value on a 152H is refused as a relative density.
        value = base + unit * (1.5 if 0.9 < g_l < 1.1 else g_l)
        read.append(BlankReading(at_s, float(random.uniform(17.0, 26.0)), value))
    return tuple(read)


def random_run(random: np.random.Generator) -> tuple[RunRecord, MethodEdition]:
    """A run the core can compute: any instrument, gaps in readings and blanks, sieved or not; invented."""
    codes = ("hydrometer-nine-2026-4", "hydrometer-four-2026-4", "hydrometer-engineering-2026-4")
    inserted = (None, 60.0, 120.0)[int(random.integers(0, 3))]
    fill = bool(random.random() < 0.5)
    edition = METHOD_EDITIONS[codes[int(random.integers(0, 3))]]
    method = replace(edition, still_inserted_until_s=inserted, interpolate_missing_blank=fill)
    stem = _instrument(random)
    air_dry, mass_g = bool(random.random() < 0.5), float(random.uniform(20.0, 100.0))
    stack = None
    if random.random() < 0.5:
        kept = tuple(SieveMass(um, float(random.uniform(0.0, 4.0))) for um in (1000.0, 250.0, 106.0, 53.0))
        own = float(random.uniform(20.0, 60.0)) if random.random() < 0.3 else None
        stack = Sieving(sum(s.retained_g for s in kept) + 0.3, kept, 0.3, own)
    points = _readings(random, stem, method)
    return (
        RunRecord(
            "invented",
            stem,
            tuple(replace(p, reading=None) if p.state is ReadingState.ABOVE_SCALE else p for p in points),
            oven_dry_mass_g=None if air_dry else mass_g,
            air_dry_mass_g=mass_g if air_dry else None,
            moisture_pct=float(random.uniform(0.1, 9.0)) if air_dry else None,
            particle_density_g_cm3=float(random.uniform(2.3, 3.1)),
            dispersant_g_l=float(random.uniform(0.0, 8.0)),
            volume_ml=float(random.uniform(995.0, 1005.0)),
            sieving=stack,
            blanks=_blanks(random, stem, method) if random.random() < 0.5 else (),
            blank_dispersant_g_l=float(random.uniform(0.0, 8.0)) if random.random() < 0.3 else None,
        ),
        method,
    )


def _same(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return isclose(one, other, rel_tol=1e-9, abs_tol=1e-9)


def test_three_thousand_random_runs_agree() -> None:
    random, compared, with_fractions = np.random.default_rng(20260105), 0, 0
    for _ in range(RUNS):
        record, method = random_run(random)
        core, second = compute_distribution(record, method, draws=0), recalculate(record, method)
        mine = {point.reading_index: point for point in core.points}
        assert {point.reading_index for point in second.points} == set(mine)
        for point in second.points:
            for name in (
                "concentration_g_l",
                "effective_depth_cm",
                "diameter_um",
                "percent_finer",
                "percent_finer_curve",
            ):
                assert _same(getattr(point, name), getattr(mine[point.reading_index], name)), (name, record)
                compared += 1
        parts = core.fractions
        assert _same(second.clay_pct, parts.clay.value_pct if parts else None) or parts is None
        if parts is not None:
            assert _same(second.sand_pct, parts.sand.value_pct)
            assert _same(second.silt_pct, parts.silt.value_pct)
            with_fractions += 1
        else:
            assert second.silt_pct is None
    assert compared > 80_000
    assert with_fractions > 1_000


def test_the_second_path_takes_nothing_but_dataclasses_from_the_core() -> None:
    trees = [
        ast.parse(path.read_text(encoding="utf-8")) for path in Path(independent.__file__).parent.glob("*.py")
    ]
    imported = {
        str(node.module) for tree in trees for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)
    }
    taken = {module for module in imported if module.startswith("particles.distribution")}
    assert taken == {"particles.distribution.method.edition", "particles.distribution.record"}


def test_a_difference_would_be_seen() -> None:
    record = replace(good_run(), sieving=sieved())
    shifted = with_reading(3, record, reading=26.5)
    assert recalculate(record, NINE).points[3] != recalculate(shifted, NINE).points[3]
    as_weighed = replace(NINE, sand_at_limit=False)
    assert recalculate(record, as_weighed).sand_pct == pytest.approx(100 * 5.7 / 40.0)
    assert (recalculate(record, NINE).sand_pct or 0.0) > 100 * 5.7 / 40.0 + 1.0


def test_what_it_does_not_know_it_refuses() -> None:
    with pytest.raises(NotCoveredError, match="measured blank only"):
        recalculate(replace(good_run(), correction=Correction.NONE), NINE)
    with pytest.raises(NotCoveredError, match="no mass"):
        recalculate(replace(good_run(), oven_dry_mass_g=None), NINE)
