"""How sieve and hydrometer meet: judged where both reach, by what reading and settling can do on the portion."""

from __future__ import annotations

from dataclasses import replace

import pytest

from particles.distribution import CurvePoint, Finding, RunRecord, Severity, grading, percent_finer_at_size
from particles.distribution.curve.reading_off import joined_curve
from particles.distribution.plain import from_plain, to_plain
from tests.support.runs import NINE, figures, good_run, sieved


def _join(record: RunRecord) -> Finding:
    (found,) = [each for each in figures(record).findings if each.code.startswith("join_")]
    return found


def _hydrometer_at_53_pct(record: RunRecord) -> float:
    (at,) = percent_finer_at_size(figures(replace(record, sieving=None)).curve, (53.0,))
    assert at is not None
    return at


def _apart(record: RunRecord, step_pct: float) -> RunRecord:
    """Sieved so that it passes so much more than the hydrometer shows."""
    mass_g = record.oven_dry_mass_g
    assert mass_g is not None
    sand_g = (100.0 - _hydrometer_at_53_pct(record) - step_pct) / 100.0 * mass_g
    return replace(record, sieving=sieved(sand_g, sand_g + 0.3))


@pytest.mark.parametrize(
    ("step_pct", "code", "severity"),
    [
        (2.9, "join_accepted", Severity.NOTE),
        (-2.9, "join_accepted", Severity.NOTE),
        (4.5, "join_apart", Severity.WARN),
        (-4.5, "join_apart", Severity.WARN),
        (8.0, "join_apart", Severity.STOP),
    ],
)
def test_steps_on_40_g(step_pct: float, code: str, severity: Severity) -> None:
    found = _join(_apart(good_run(), step_pct))
    assert (found.code, found.severity) == (code, severity)
    assert found.number == pytest.approx(step_pct)


def test_a_step_that_noise_can_make_on_a_light_portion_is_no_fault_there() -> None:
    """Half the soil: the same reading noise is twice the percentage, beyond the customary 5 points too."""
    heavy = good_run()
    half = tuple(
        replace(p, reading=p.blank_reading + (p.reading - p.blank_reading) / 2.0)
        for p in heavy.readings
        if p.reading is not None and p.blank_reading is not None
    )
    light = replace(heavy, readings=half, oven_dry_mass_g=20.0)
    found = _join(_apart(light, 5.5))
    assert (found.code, found.severity) == ("join_accepted", Severity.NOTE)
    assert "can do as much" in found.sentence
    assert _join(_apart(heavy, 5.5)).code == "join_apart"
    assert _join(_apart(light, 12.0)).severity is Severity.STOP


def test_no_line_is_extended_to_the_sieve() -> None:
    """The first reading, at 1 min, lies below it: less on the sieve than any line would give proves nothing."""
    late = replace(good_run(), readings=good_run().readings[1:])
    assert _join(replace(late, sieving=sieved(1.0, 1.3))).code == "join_not_compared"


def test_more_below_the_first_reading_than_passed_the_sieve_is_seen_without_a_line() -> None:
    late = replace(good_run(), readings=good_run().readings[1:])
    found = _join(replace(late, sieving=sieved(12.0, 12.3)))
    first = figures(late).points[0]
    assert (found.code, found.severity) == ("join_apart", Severity.STOP)
    assert found.number == pytest.approx(100.0 - 100.0 * 12.0 / 40.0 - first.percent_finer_curve)
    assert f"{first.diameter_um:.1f} µm" in found.sentence


def test_another_portion_may_lie_as_far_apart_as_two_portions_do() -> None:
    """1.5 points between runs, so 2.1 between two portions, beside reading and settling."""
    record = _apart(good_run(), 5.5)
    assert record.sieving is not None
    own = replace(record, sieving=replace(record.sieving, portion_oven_dry_mass_g=40.0))
    assert _join(record).code == "join_apart"
    assert _join(own).code == "join_accepted"
    sure = replace(own, between_run_sd_pct=0.2)
    assert _join(sure).code == "join_apart"


def test_a_late_timer_is_named_only_beside_a_step() -> None:
    for step_pct, named in ((4.5, True), (2.9, False)):
        codes = {finding.code for finding in figures(_apart(good_run(), step_pct)).findings}
        assert ("timer_suspected" in codes) is named
    late = replace(good_run(), readings=good_run().readings[1:], sieving=sieved(1.0, 1.3))
    assert "timer_suspected" not in {finding.code for finding in figures(late).findings}


def test_a_point_above_what_passed_the_sieve_stays_and_is_read_at_what_passed() -> None:
    """More left on the sieves than the hydrometer leaves room for: nothing is clipped, both values are kept."""
    answer = figures(replace(good_run(), sieving=sieved(9.0, 9.3)))
    passing = 100.0 - 100.0 * 9.0 / 40.0
    first = answer.curve[3]
    assert first.percent_finer == answer.points[1].percent_finer_curve == pytest.approx(78.75)
    assert (first.held_pct, first.read_pct) == (pytest.approx(passing), pytest.approx(passing))
    read = [point.read_pct for point in answer.curve]
    assert read == sorted(read, reverse=True)
    (held,) = [found for found in answer.findings if found.code == "curve_held"]
    assert held.number == pytest.approx(78.75 - passing)
    assert "78.8 %" in held.sentence
    assert from_plain(to_plain(answer)).curve == answer.curve


def test_what_is_read_off_is_the_curve_that_never_rises() -> None:
    """The case of five points at 75, 67, 59, 49 and 43 % below a sieve that passes 40."""
    sieve = [CurvePoint(53.0, 40.0, "sieve")]
    sizes_um = (45.0, 30.0, 20.0, 10.0, 5.0)
    settled = [
        CurvePoint(size_um, percent, "hydrometer")
        for size_um, percent in zip(sizes_um, (75.0, 67.0, 59.0, 49.0, 43.0), strict=True)
    ]
    curve = joined_curve(sieve, [*settled, CurvePoint(2.0, 30.0, "hydrometer")])
    assert [point.percent_finer for point in curve] == [40.0, 75.0, 67.0, 59.0, 49.0, 43.0, 30.0]
    assert [point.read_pct for point in curve] == [40.0] * 6 + [30.0]
    assert percent_finer_at_size(curve, (20.0,)) == (40.0,)
    assert grading(curve).d30_um == pytest.approx(2.0)


def test_a_curve_below_what_passed_is_not_spoken_of() -> None:
    answer = figures(replace(good_run(), sieving=sieved()))
    assert all(point.held_pct is None for point in answer.curve)
    assert "curve_held" not in {found.code for found in answer.findings}


def test_a_careful_laboratory_gets_the_customary_limits_back() -> None:
    """With less noise stated in the edition, a step of 3.5 points counts on 40 g too."""
    calm = replace(NINE.uncertainties, reading_g_l=0.1, scale_division_g_l=0.2)
    careful = replace(NINE, uncertainties=calm)
    codes = [
        {finding.code for finding in figures(_apart(good_run(), 3.5), method=method).findings}
        for method in (NINE, careful)
    ]
    assert "join_apart" not in codes[0]
    assert "join_apart" in codes[1]
