"""Small invented batches behind which one cause lies."""

from __future__ import annotations

from dataclasses import replace

from particles.distribution import RunRecord
from particles.distribution.causes.cause import Cause
from particles.distribution.causes.evidence import BatchEvidence, ByHand, ControlOutcome, RunEvidence
from particles.distribution.causes.find import find_causes
from particles.distribution.causes.remedies import exchanged
from tests.support.runs import NINE, figures, good_run, with_values

CLAYEY = (40.0, 39.0, 38.0, 37.0, 36.0, 35.0, 34.5, 34.0, 30.0)
SANDY = (20.0, 15.0, 12.0, 10.0, 9.0, 8.0, 7.5, 7.0, 6.0)
LOAMY = (40.0, 36.0, 31.0, 26.0, 21.0, 18.5, 17.5, 16.5, 12.0)


def run_of(
    label: str, record: RunRecord, hand: ByHand | None = None, asked_g: float | None = None, **more: object
) -> RunEvidence:
    """One run of the small batch, weighed air-dry with 1 % of moisture."""
    named = replace(record, label=label, oven_dry_mass_g=None, moisture_pct=1.0)
    if named.air_dry_mass_g is None:
        named = replace(named, air_dry_mass_g=40.4)
    return RunEvidence(named, figures(named), hand, asked_g, **more)  # type: ignore[arg-type]


def small_batch(*runs: RunEvidence, controls: tuple[ControlOutcome, ...] = ()) -> BatchEvidence:
    """The runs in the order of their cylinders."""
    return BatchEvidence(runs, controls)


CLAY_FELT, SAND_FELT, LOAM_FELT = (
    ByHand("clay", 5.0, 65.0),
    ByHand("loamy sand", 80.0, 5.0),
    ByHand("loam", 25.0, 20.0),
)


def sound() -> tuple[RunEvidence, RunEvidence, RunEvidence]:
    """Three runs that agree with their hands and with what was asked for."""
    return (
        run_of("cylinder 1", with_values(*CLAYEY), CLAY_FELT, 40.4),
        run_of("cylinder 2", with_values(*SANDY), SAND_FELT, 40.4),
        run_of("cylinder 3", good_run(), LOAM_FELT, 40.4),
    )


def exchanged_batch(*slots: int) -> BatchEvidence:
    """The first two runs of the sound batch with some readings in each other's row; all without slots."""
    one, other, third = sound()
    first, second = exchanged(one.record, other.record, slots or range(9))
    return small_batch(
        replace(one, record=first, distribution=figures(first)),
        replace(other, record=second, distribution=figures(second)),
        third,
    )


def causes(batch: BatchEvidence) -> list[Cause]:
    """Causes of a small batch under the nine readings."""
    return list(find_causes(batch, NINE))


def every_small_batch() -> list[BatchEvidence]:
    """Batches that between them use every wording of the causes."""
    one, other, third = sound()
    light = replace(third.record, air_dry_mass_g=33.0)
    return [
        exchanged_batch(),
        exchanged_batch(4),
        exchanged_batch(6, 7, 8),
        small_batch(one, other, replace(third, by_hand=ByHand("clay", 5.0, 65.0))),
        small_batch(one, other, replace(third, record=light, distribution=figures(light))),
    ]
