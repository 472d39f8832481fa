"""An invented run that raises nothing, and ways to spoil it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from particles.distribution import (
    METHOD_EDITIONS,
    DepthLine,
    Hydrometer,
    HydrometerScale,
    MethodEdition,
    ReadingPoint,
    RunRecord,
    SieveMass,
    Sieving,
    SizeDistribution,
    compute_distribution,
)

NINE = METHOD_EDITIONS["hydrometer-nine-2026-4"]
TWO = METHOD_EDITIONS["two-reading-2026-1"]
READINGS = (40.0, 36.0, 31.0, 26.0, 21.0, 18.5, 17.5, 16.5, 12.0)
STEM_152H = Hydrometer("H-01", HydrometerScale.GRAMS_PER_LITRE, DepthLine(16.295, 0.1641), 0.5, 1.2)


def good_run(**changes: Any) -> RunRecord:
    """Loam-like readings at a steady 21 C with a steady blank; invented."""
    readings = tuple(
        ReadingPoint(t, 21.0, reading=reading, blank_reading=4.5, blank_temperature_c=21.0, blank_gap_s=60.0)
        for t, reading in zip(NINE.schedule_s, READINGS, strict=True)
    )
    record = RunRecord(
        "invented",
        STEM_152H,
        readings,
        oven_dry_mass_g=40.0,
        particle_density_measured=True,
        dispersant_g_l=5.0,
    )
    return replace(record, **changes)


def with_reading(index: int, record: RunRecord | None = None, **changes: Any) -> RunRecord:
    """The run with one slot changed."""
    record = record or good_run()
    readings = list(record.readings)
    readings[index] = replace(readings[index], **changes)
    return replace(record, readings=tuple(readings))


def with_readings(**changes: Any) -> RunRecord:
    """The run with every slot changed."""
    record = good_run()
    return replace(record, readings=tuple(replace(point, **changes) for point in record.readings))


def with_values(*values: float) -> RunRecord:
    """The run with other readings."""
    record = good_run()
    paired = zip(record.readings, values, strict=True)
    return replace(record, readings=tuple(replace(point, reading=value) for point, value in paired))


def sieved(
    sand_g: float = 5.7, washed_g: float = 6.0, pan_g: float = 0.3, opening_um: float = 53.0
) -> Sieving:
    """Sand of the good run on three sieves."""
    shares = zip((500.0, 250.0, opening_um), (0.2, 0.3, 0.5), strict=True)
    return Sieving(washed_g, tuple(SieveMass(size, sand_g * share) for size, share in shares), pan_g)


def figures(record: RunRecord, **options: Any) -> SizeDistribution:
    """Computed without draws unless asked for."""
    return compute_distribution(record, options.pop("method", NINE), **{"draws": 0, **options})


EXACT_BENCH = replace(
    NINE,
    uncertainties=replace(
        NINE.uncertainties,
        reading_g_l=0.05,
        scale_division_g_l=0.05,
        blank_g_l=0.02,
        sieve_mass_g=0.001,
        mass_g=0.001,
        depth_cm=0.0,
        start_s=0.0,
        particle_density_g_cm3=0.0,
        temperature_c=0.0,
        sieve_opening_pct=0.0,
    ),
)
"""Read so well that the limits decide alone and not the noise: one reading has 0.052 g/L."""


def severities(record: RunRecord, code: str, method: MethodEdition = NINE) -> list[str]:
    """Those of the findings with this code, in the order of the result."""
    return [str(found.severity) for found in figures(record, method=method).findings if found.code == code]


def at_times(record: RunRecord, elapsed_s: dict[int, float]) -> RunRecord:
    """The run with some slots read at other times. [s]"""
    return replace(
        record,
        readings=tuple(
            replace(point, elapsed_s=elapsed_s.get(k, point.elapsed_s))
            for k, point in enumerate(record.readings)
        ),
    )


def only(record: RunRecord, *slots: int) -> RunRecord:
    """The run with these slots alone."""
    return replace(record, readings=tuple(record.readings[slot] for slot in slots))
