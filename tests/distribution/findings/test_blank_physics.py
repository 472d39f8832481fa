"""
A blank that serves by physics: what is found, from both sides, and the bench faults 64 to 69 and 72.

Numbers are written here and not read from the code. One reading of a 152H has a standard deviation of
√(0.3² + 0.5²/12) = 0.333 g/L. Runs and blanks are invented.
"""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from particles.distribution import (
    METHOD_EDITIONS,
    BlankReading,
    DistributionError,
    Finding,
    RunRecord,
    Seen,
    Sight,
    blank_step,
    record_digest,
    record_from_plain,
    record_to_plain,
)
from tests.support.runs import NINE, figures, good_run, with_reading, with_readings
from tests.support.simulator import Bench, Room, blank_true_g_l, clean_run, random_soil, read_off

ABOUT_BLANK = "blank_"


def _blank(record: RunRecord) -> list[Finding]:
    return [each for each in figures(record).findings if each.code.startswith(ABOUT_BLANK)]


def _codes(record: RunRecord) -> list[str]:
    return [each.code for each in _blank(record)]


def _series(*values: float, shifted_s: float = 0.0, temperature_c: float = 21.0) -> tuple[BlankReading, ...]:
    read = zip(NINE.schedule_s, values, strict=True)
    return tuple(BlankReading(t + shifted_s, temperature_c, value, t) for t, value in read)


def _beside(*values: float, shifted_s: float = 0.0) -> RunRecord:
    """The good run beside a blank with these readings at its nine slots."""
    return good_run(blanks=_series(*values, shifted_s=shifted_s))


def test_minutes_between_blank_and_reading_do_not_matter_by_themselves() -> None:
    """The blank of a batch of 24 started 4 min apart: up to 92 min away, at one temperature."""
    for shifted_s in (-5520.0, 0.0, 5520.0):
        assert _codes(_beside(*[4.5] * 9, shifted_s=shifted_s)) == []
    assert _codes(with_readings(blank_gap_s=7000.0)) == []


@pytest.mark.parametrize(("moved_c", "said"), [(0.5, []), (0.6, ["blank_temperature_moved"])])
def test_bench_fault_66_a_blank_an_hour_away_is_told_when_the_temperature_moved(
    moved_c: float, said: list[str]
) -> None:
    """Bench fault 66: a warning beyond 0.5 °C, once for a run, and none for the hour alone."""
    away = with_readings(blank_gap_s=3600.0, blank_temperature_c=21.0 - moved_c)
    assert _codes(away) == said
    series = tuple(
        BlankReading(t + (3600.0 if t < 80_000.0 else -3600.0), 21.0 - moved_c, 4.5) for t in NINE.schedule_s
    )
    assert _codes(good_run(blanks=series)) in ([], said)
    alone = good_run(blanks=tuple(b for b in series if b.at_s > 10_000.0))
    assert set(said) <= set(_codes(alone))


@pytest.mark.parametrize(
    ("apart_c", "said"),
    [
        (1.0, []),
        (1.1, ["blank_temperature_apart"]),
        (2.0, ["blank_temperature_apart"]),
        (2.1, ["blank_temperature_far_apart"]),
    ],
)
def test_bench_fault_69_side_by_side_the_difference_is_corrected_and_a_wide_one_told_once(
    apart_c: float, said: list[str]
) -> None:
    """Bench fault 69: corrected by about 0.3 g/L a degree at 21 °C; one finding, however many slots."""
    record = with_readings(blank_temperature_c=21.0 - apart_c)
    assert _codes(record) == said
    plain, corrected = figures(good_run()), figures(record)
    rises = [
        b.concentration_g_l - a.concentration_g_l for a, b in zip(plain.points, corrected.points, strict=True)
    ]
    assert rises == pytest.approx([0.30 * apart_c] * 9, abs=0.03)


def test_bench_fault_65_a_blank_forgotten_at_24_h_is_told_and_served_by_its_earlier_readings() -> None:
    """Bench fault 65: computed from the same blank, flagged, and with a larger uncertainty."""
    whole, without = _beside(*[4.5] * 9), good_run(blanks=_series(*[4.5] * 9)[:8])
    assert _codes(without) == ["blank_not_read"]
    [told] = _blank(without)
    assert (told.reading_index, told.number) == (8, pytest.approx(22.0))
    assert figures(without).fractions is not None
    [sure], [unsure] = (
        [figures(each, draws=4000).fractions.clay.standard_uncertainty_pct] for each in (whole, without)
    )
    assert unsure > sure + 0.005
    assert _codes(with_reading(8, blank_reading=None)) == ["blank_missing"], "no blank at all serves nothing"


def test_a_blank_read_an_hour_before_or_after_the_last_reading_is_not_forgotten() -> None:
    for at_s in (86_400.0 - 7200.0, 86_400.0 + 7200.0):
        late = BlankReading(at_s, 21.0, 4.5)
        assert _codes(good_run(blanks=(*_series(*[4.5] * 9)[:8], late))) == []


WITHOUT_SOIL = "(the cylinder without soil, whose readings are subtracted)"


@pytest.mark.parametrize(
    ("values", "step", "said"),
    [
        (
            [4.5] * 7 + [6.0] * 2,
            (7, 1.5),
            f"From its 8th reading on, the blank {WITHOUT_SOIL} stands +1.50 g/L",
        ),
        (
            [4.5] * 4 + [5.5] * 5,
            (4, 1.0),
            f"From its 5th reading on, the blank {WITHOUT_SOIL} stands +1.00 g/L",
        ),
        ([4.5] * 8 + [2.5], (8, -2.0), f"From its 9th reading on, the blank {WITHOUT_SOIL} stands -2.00 g/L"),
        (
            [4.5] * 3 + [6.5] + [4.5] * 5,
            None,
            f"The 4th reading of the blank {WITHOUT_SOIL} lies +2.00 g/L off",
        ),
    ],
)
def test_bench_fault_67_a_blank_that_moves_at_one_temperature_is_one_finding(
    values: list[float], step: tuple[int, float] | None, said: str
) -> None:
    """Bench fault 67: contamination, evaporation or a dirty stem, once, with the slot and by how much."""
    for shifted_s in (0.0, 2400.0):
        record = _beside(*values, shifted_s=shifted_s)
        [found] = _blank(record)
        assert (found.code, found.severity) == ("blank_moved", "warn")
        assert found.sentence.startswith(said), "the same words beside every run"
        assert blank_step(record, NINE) == (None if step is None else (step[0], pytest.approx(step[1])))


def test_what_moves_a_blank_is_told_once_where_earlier_editions_told_it_three_times() -> None:
    record = _beside(*[4.5] * 4, *[6.5] * 5)
    points = zip(record.readings, record.blanks, strict=True)
    alone = replace(record, blanks=(), readings=tuple(replace(p, blank_reading=b.reading) for p, b in points))
    before = figures(alone, method=METHOD_EDITIONS["hydrometer-nine-2026-3"]).findings
    assert {each.code for each in before} >= {"blank_drift", "blank_trend"}
    assert _codes(alone) == _codes(record) == ["blank_moved"]


def test_a_blank_moves_by_what_reading_noise_does_and_nothing_is_said() -> None:
    """3 × 1.13 × 0.333 √(1 + 1.57/9) = 1.22 g/L for one of nine, 3 × 1.1 × 0.333 √(2/4) = 0.78 for halves."""
    assert _codes(_beside(*[4.5] * 8, 5.70)) == []
    assert _codes(_beside(*[4.5] * 8, 5.74)) == ["blank_moved"]
    assert _codes(_beside(*[4.5] * 5, *[5.26] * 4)) == []
    assert _codes(_beside(*[4.5] * 5, *[5.29] * 4)) == ["blank_moved"]


def test_bench_fault_68_a_blank_of_plain_water_stops_the_run() -> None:
    """Bench fault 68: 5 g/L of dispersant show 4.3 g/L at 21 °C, water -0.8."""
    assert "blank_without_dispersant" in _codes(_beside(*[-0.5] * 9))
    assert not figures(_beside(*[-0.5] * 9)).certifiable


@pytest.mark.parametrize("dispersant_g_l", [0.0, 0.5, 1.0])
def test_a_blank_far_above_its_recipe_is_found_at_little_or_no_dispersant(dispersant_g_l: float) -> None:
    """Water shows -0.8 g/L at 21 °C on this stem, 1 g/L of dispersant 0.2: 4.5 is more than 2.5 above either."""
    found = [each.code for each in _blank(good_run(dispersant_g_l=dispersant_g_l))]
    assert found == ["blank_level"]
    assert _codes(replace(_beside(*[0.5] * 9), dispersant_g_l=dispersant_g_l)) == []


@pytest.mark.parametrize(("cold_c", "warm_c", "said"), [(19.4, 22.6, []), (19.3, 22.7, ["blank_copied"])])
def test_bench_fault_72_a_blank_copied_all_day_is_one_finding(
    cold_c: float, warm_c: float, said: list[str]
) -> None:
    """Bench fault 72: one figure although a gram of move was due; not told as a wrong slope besides."""
    warm = [cold_c] * 4 + [21.0] + [warm_c] * 4
    blanks = tuple(BlankReading(t, at_c, 4.5, t) for t, at_c in zip(NINE.schedule_s, warm, strict=True))
    points = zip(good_run().readings, warm, strict=True)
    run = good_run(
        readings=tuple(replace(p, temperature_c=at_c, blank_temperature_c=at_c) for p, at_c in points),
        blanks=blanks,
    )
    found = _codes(run)
    assert found == said or (not said and found == ["blank_moved"])


def test_bench_fault_94_the_blank_carries_the_temperature_and_nothing_is_corrected_twice() -> None:
    """Bench fault 94: both cylinders at 24 °C, reading and blank fall alike and the net stays."""
    cold = [point.concentration_g_l for point in figures(good_run()).points]
    fall_g_l = 0.98  # of a 152H in water from 21 to 24 °C, glass included; from water by Tanaka 2001
    warm = with_readings(temperature_c=24.0, blank_temperature_c=24.0, blank_reading=4.5 - fall_g_l)
    lowered = replace(
        warm, readings=tuple(replace(p, reading=(p.reading or 0.0) - fall_g_l) for p in warm.readings)
    )
    assert [p.concentration_g_l for p in figures(lowered).points] == pytest.approx(cold, abs=1e-9)


def test_bench_fault_95_the_reference_temperature_cancels_beside_a_blank() -> None:
    """Bench fault 95: a stem true at 67 °F shows 0.2 g/L more in both cylinders, and the net is the same."""
    plain = [point.concentration_g_l for point in figures(_beside(*[4.5] * 9)).points]
    off = _beside(*[4.7] * 9)
    off = replace(off, readings=tuple(replace(p, reading=(p.reading or 0.0) + 0.2) for p in off.readings))
    assert [p.concentration_g_l for p in figures(off).points] == pytest.approx(plain, abs=1e-9)


def _well_run_batch(random: np.random.Generator, cylinders: int, every: int) -> list[RunRecord]:
    """Samples started 4 min apart behind one blank, which is read at its own slots, or at every so many of them."""
    room = Room(
        float(random.uniform(19.0, 23.0)), float(random.uniform(0.1, 1.0)), float(random.uniform(0, 2 * pi))
    )
    bench = Bench(room, 0.25, float(random.normal(0.0, 0.4)), 0.8, 5.0, NINE)
    slots = [t for k, t in enumerate(NINE.schedule_s) if k % every == 0]
    read = []
    for slot_s in slots:
        warm_c = room.at_c(slot_s)
        shown = read_off(blank_true_g_l(bench, warm_c), bench.noise_g_l, random)
        read.append(BlankReading(slot_s, round(warm_c + float(random.normal(0.0, 0.05)), 1), shown, slot_s))
    runs = []
    for place in range(1, cylinders):
        behind_s = 240.0 * place
        later = replace(
            bench, room=Room(room.mean_c, room.swing_c, room.phase + behind_s * 2.0 * pi / 86400.0 * 0.8)
        )
        run = clean_run(random, random_soil(random), later, label=f"cylinder {place}").record
        blanks = tuple(replace(each, at_s=each.at_s - behind_s) for each in read)
        points = (
            replace(p, blank_reading=None, blank_temperature_c=None, blank_gap_s=None) for p in run.readings
        )
        runs.append(replace(run, readings=tuple(points), blanks=blanks))
    return runs


@pytest.mark.parametrize("every", [1, 2])
def test_a_batch_of_24_well_run_raises_no_warning_about_its_blank(every: int) -> None:
    """Six batches of 23 cylinders started 4 min apart, the blank read at nine slots or at five: 0 of 132 runs."""
    random = np.random.default_rng([13, every])
    told = [
        each.code
        for _ in range(3)
        for record in _well_run_batch(random, 23, every)
        for each in _blank(record)
    ]
    assert told == []


def test_a_step_of_the_blank_is_one_finding_for_each_of_23_cylinders_and_the_same_in_all() -> None:
    """1.5 g/L from 2 h on: 25 flags of three kinds before, one sentence now."""
    random = np.random.default_rng(67)
    told = set()
    for record in _well_run_batch(random, 23, 1):
        moved = tuple(
            replace(b, reading=b.reading + 1.5 * ((b.slot_s or 0.0) >= 7200.0)) for b in record.blanks
        )
        found = _blank(replace(record, blanks=moved))
        assert len(found) == 1
        told.add((found[0].code, found[0].sentence, found[0].reading_index))
    assert len(told) == 1


@pytest.mark.parametrize(
    ("blanks", "dispersant_g_l", "words"),
    [
        ((BlankReading(0.0, 68.0, 4.5),), None, "Temperature of the blank outside"),
        ((BlankReading(0.0, 21.0, 1.0021),), None, "relative density"),
        ((BlankReading(60.0, 21.0, 4.5), BlankReading(30.0, 21.0, 4.5)), None, "order of time"),
        ((), 900.0, "Dispersant in the blank's cylinder"),
        ((BlankReading(float("nan"), 21.0, 4.5),), None, "blanks/0/at_s is not a number"),
    ],
)
def test_readings_of_a_blank_that_cannot_be_are_refused(
    blanks: tuple[BlankReading, ...], dispersant_g_l: float | None, words: str
) -> None:
    with pytest.raises(DistributionError, match=words):
        figures(good_run(blanks=blanks, blank_dispersant_g_l=dispersant_g_l))


def test_bench_fault_64_a_hydrometer_left_in_is_told_and_the_reading_stays() -> None:
    """Bench fault 64: seen at a reading it is a warning; nothing is corrected for it."""
    left_in = good_run(seen=(Seen(Sight.LEFT_IN, 5400.0),))
    [told] = [each for each in figures(left_in).findings if each.code == "seen"]
    assert (told.severity, told.number) == ("warn", 5400.0)
    assert figures(left_in).points == figures(good_run()).points
    at_blank = good_run(seen=(Seen(Sight.LEFT_IN, 5400.0, at_blank=True),))
    assert "blank" in next(each.sentence for each in figures(at_blank).findings if each.code == "seen")


def test_a_blank_in_a_cylinder_of_another_volume_is_brought_to_the_liquid_of_the_run() -> None:
    """
    5 g/L of dispersant in 1,000 mL are 4.42 in 1,130: 0.63 per g/mL of density, 1.606 g/L on the stem per kg/m³.

    0.63 × 0.575 × 0.9982 × 1.606 = 0.58 g/L, taken off too little before: 1.5 points of clay on 40 g in a litre.
    """
    blanks = tuple(BlankReading(t, 21.0, 4.0, t) for t in NINE.schedule_s)
    alike = figures(good_run(blanks=blanks))
    apart = figures(good_run(blanks=blanks, blank_dispersant_g_l=5.0 / 1.13))
    falls = [
        a.concentration_g_l - b.concentration_g_l for a, b in zip(alike.points, apart.points, strict=True)
    ]
    assert falls == pytest.approx([0.581] * 9, abs=0.005)
    assert alike.fractions is not None
    assert apart.fractions is not None
    assert alike.fractions.clay.value_pct - apart.fractions.clay.value_pct == pytest.approx(1.45, abs=0.1)
    assert any("4.42 g/L of dispersant, this one 5.00" in note for note in apart.notes)
    assert _codes(good_run(blanks=blanks, blank_dispersant_g_l=5.0 / 1.13)) == []


def test_earlier_editions_take_the_blank_as_they_did() -> None:
    """A record without the new fields has the digest it had, and the figures of the blank beside each reading."""
    old = METHOD_EDITIONS["hydrometer-nine-2026-3"]
    assert not old.blank_by_physics
    plain = record_to_plain(good_run())
    assert plain["blanks"] == []
    known = {name for name in plain if name not in ("blanks", "blank_dispersant_g_l")}
    assert record_from_plain({name: plain[name] for name in known}) == good_run()
    assert record_digest(good_run(), old) == record_digest(record_from_plain(plain), old)
