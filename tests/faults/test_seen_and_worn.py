"""Bench faults 62, 73, 74 and 85: what a person sees at a cylinder, and worn or exchanged tools that figures show."""

from __future__ import annotations

from dataclasses import replace

import pytest

from particles.distribution import Seen, Severity, SieveMass, Sieving, Sight
from tests.support.runs import figures, good_run, severities


def test_fault_62_another_hydrometer_within_a_run_shows_on_the_blank_that_was_read_with_it() -> None:
    """Bench fault 62: a stem that shows 2 g/L more, from 30 min on in sample and blank alike; the step cancels."""
    good = good_run()
    points = tuple(
        replace(p, reading=(p.reading or 0.0) + 2.0, blank_reading=(p.blank_reading or 0.0) + 2.0)
        if k >= 4
        else p
        for k, p in enumerate(good.readings)
    )
    changed = figures(replace(good, readings=points))
    moved = [found for found in changed.findings if found.code == "blank_moved"]
    assert [found.severity for found in moved] == [Severity.WARN]
    assert moved[0].reading_index == 4
    assert moved[0].number == pytest.approx(2.0)


@pytest.mark.parametrize("sight", [Sight.BUMPED, Sight.DOUBTFUL])
def test_fault_73_a_bumped_bench_is_kept_and_told_beside_the_figures(sight: Sight) -> None:
    """Bench fault 73."""
    told = figures(replace(good_run(), seen=(Seen(sight, 60.0, note="centrifuge next door"),)))
    (found,) = [each for each in told.findings if each.code == "seen"]
    assert found.severity is (Severity.WARN if sight is Sight.DOUBTFUL else Severity.NOTE)
    assert "centrifuge next door" in found.sentence
    assert told.fractions is not None


@pytest.mark.parametrize("sight", [Sight.FOAM, Sight.ROOTS, Sight.ALCOHOL])
def test_fault_74_foam_roots_and_the_drop_of_alcohol_are_on_record(sight: Sight) -> None:
    """Bench fault 74."""
    assert severities(replace(good_run(), seen=(Seen(sight, 30.0),)), "seen")


def test_fault_85_a_torn_sieve_shows_where_sieve_and_hydrometer_meet() -> None:
    """Bench fault 85: half of the sand that the finest sieve should hold went through its tear into the pan."""
    sound, torn = (
        Sieving(7.0, (SieveMass(500.0, 1.2), SieveMass(250.0, 2.0), SieveMass(53.0, fine_g)), pan_g)
        for fine_g, pan_g in ((3.4, 0.4), (0.4, 3.4))
    )
    assert severities(good_run(sieving=sound), "join_apart") == []
    assert severities(good_run(sieving=torn), "join_apart") != []
