"""
Faults of sieving and calculation that the arithmetic must catch, each under its number of the bench's list.

Records are invented (`tests/support/runs.py`); what must happen is *common practice* unless a test names a source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from particles.distribution import (
    METHOD_EDITIONS,
    Correction,
    DistributionError,
    EditionError,
    Pycnometer,
    SieveMass,
    Sieving,
    TemperatureLine,
    compute_distribution,
    round_to_total,
    usda_class,
    validate_edition,
)
from particles.distribution.inputs.pycnometer import density_by_pycnometer_g_cm3
from particles.distribution.sieves.gravel import LEAST_SAMPLE_G
from tests.support.runs import NINE, figures, good_run, only, severities, sieved, with_readings, with_values

GOOD = good_run()
SAND_G, WASHED_G = 5.7, 6.0


def test_bench_fault_79_more_on_the_sieves_than_was_put_on_them_stops() -> None:
    """Bench fault 79."""
    assert severities(replace(GOOD, sieving=sieved(SAND_G, 5.8, 0.3)), "sieve_gain") == ["stop"]
    assert severities(replace(GOOD, sieving=sieved(41.0, 42.0, 1.0)), "washed_above_portion") == ["stop"]


def test_bench_fault_80_a_loss_above_the_limit_stops_and_is_not_shared_out() -> None:
    """Bench fault 80: 2 % is unsatisfactory."""
    lossy = replace(GOOD, sieving=sieved(SAND_G, 6.5, 0.3))
    assert severities(lossy, "sieve_loss") == ["stop"]
    assert figures(lossy).curve[2].percent_finer == pytest.approx(100.0 - 100.0 * SAND_G / 40.0)


def test_bench_fault_81_a_small_loss_is_shown_and_counts_on_the_start_mass() -> None:
    """Bench fault 81."""
    record = replace(GOOD, sieving=Sieving(6.0, (SieveMass(53.0, 5.64),), 0.3))
    assert severities(record, "sieve_loss_small") == ["note"]
    assert figures(record).curve[0].percent_finer == pytest.approx(100.0 - 100.0 * 5.64 / 40.0)


def test_bench_fault_82_passing_below_zero_is_shown_and_stops_and_masses_below_zero_are_refused() -> None:
    """Bench fault 82."""
    too_much = replace(GOOD, sieving=sieved(41.0, 42.0, 1.0))
    assert figures(too_much).curve[2].percent_finer == pytest.approx(-2.5), "never clipped"
    assert not figures(too_much).certifiable
    with pytest.raises(DistributionError, match="Negative mass"):
        figures(replace(GOOD, sieving=Sieving(6.0, (SieveMass(53.0, -0.1),), 0.3)))


def test_bench_fault_83_fines_count_once_as_what_is_not_on_the_sieves() -> None:
    """Bench fault 83: washed fines and pan together are start less sand, compared with the hydrometer's."""
    record = replace(GOOD, sieving=sieved(SAND_G, WASHED_G, 0.3))
    washed_out_and_pan_g = 40.0 - WASHED_G + 0.3
    assert figures(record).curve[2].percent_finer == pytest.approx(100.0 * washed_out_and_pan_g / 40.0)
    assert severities(record, "join_accepted") == ["note"]


@pytest.mark.parametrize(("sand_g", "severity"), [(4.1, "warn"), (3.0, "stop")])
def test_bench_faults_86_and_87_a_step_between_sieve_and_hydrometer_is_told(
    sand_g: float, severity: str
) -> None:
    """Bench faults 86 and 87: which sand is reported is the method's rule, and the step stays in sight."""
    record = replace(GOOD, sieving=sieved(sand_g, sand_g + 0.3, 0.3))
    assert severities(record, "join_apart") == [severity]
    fractions = figures(record).fractions
    assert fractions is not None
    assert fractions.sand_by == "sieve"


def test_bench_fault_87_neither_side_of_a_step_is_moved_to_the_other() -> None:
    """Bench fault 87: the drawn curve holds both, what is read off it never rises."""
    answer = figures(replace(GOOD, sieving=sieved(9.0, 9.3)))
    passing = 100.0 - 100.0 * 9.0 / 40.0
    assert answer.curve[2].percent_finer == pytest.approx(passing)
    assert answer.curve[3].percent_finer == answer.points[1].percent_finer > passing
    assert answer.curve[3].read_pct == pytest.approx(passing)


def test_bench_fault_88_fine_earth_and_whole_sample_are_two_curves() -> None:
    """Bench fault 88."""
    answer = figures(replace(GOOD, gravel_pct=20.0))
    assert len(answer.whole_sample_curve) == len(answer.curve)
    for fine, whole in zip(answer.curve, answer.whole_sample_curve, strict=True):
        assert whole.percent_finer == pytest.approx(0.8 * fine.percent_finer)
    assert any("not part of these figures" in note for note in answer.notes)


@pytest.mark.parametrize("gravel_pct", [100.0, 99.95, 130.0, -1.0])
def test_bench_fault_88_gravel_that_leaves_no_fine_earth_is_refused_beside_its_figures(
    gravel_pct: float,
) -> None:
    """Bench fault 88."""
    with pytest.raises(DistributionError, match="Gravel outside"):
        figures(replace(GOOD, gravel_pct=gravel_pct))
    whole = replace(GOOD, gravel_sieves=(SieveMass(2000.0, 80.0),), whole_sample_dry_mass_g=80.0)
    with pytest.raises(DistributionError, match="no fine earth"):
        figures(whole)


def test_bench_fault_89_rounding_never_breaks_the_sum() -> None:
    """Bench fault 89: largest remainder."""
    assert round_to_total((33.4, 33.3, 33.3)) == (34.0, 33.0, 33.0)
    assert sum(round_to_total((12.5, 12.5, 75.0))) == 100.0


def test_bench_fault_91_a_soil_on_a_class_line_says_so() -> None:
    """Bench fault 91: clay 27 % is clay loam or finer by the written rules of the Soil Survey Manual, chapter 3."""
    on_it, beside = usda_class(30.0, 43.0, 27.0), usda_class(30.0, 44.0, 26.0)
    assert (on_it.name, on_it.on_the_line) == ("clay loam", True)
    assert (beside.name, beside.on_the_line) == ("loam", False)


def test_bench_fault_92_size_limits_that_name_no_system_are_refused_or_get_no_class() -> None:
    """Bench fault 92."""
    other = replace(NINE, sand_limit_um=63.0, sand_sieve_openings_um=(63.0, 63.0))
    validate_edition(other)
    answer = figures(GOOD, method=other)
    assert answer.texture is None
    assert any("USDA triangle holds for limits of 2 and 50 µm only" in note for note in answer.notes)
    with pytest.raises(EditionError, match="no silt can be told"):
        validate_edition(replace(NINE, sand_limit_um=2.1, sand_sieve_openings_um=(2.1, 2.1)))


@pytest.mark.parametrize("density", [1.5, 2.19, 3.21, 5.0])
@pytest.mark.parametrize("measured", [True, False])
def test_bench_fault_93_a_density_no_soil_has_stops_without_its_record(
    density: float, measured: bool
) -> None:
    """Bench fault 93."""
    record = replace(GOOD, particle_density_g_cm3=density, particle_density_measured=measured)
    assert severities(record, "density_without_record") == ["stop"]
    document = replace(record, particle_density_document="certificate 12")
    assert severities(document, "density_without_record") == ([] if measured else ["stop"])


@pytest.mark.parametrize("density", [2.2, 2.65, 3.2])
def test_bench_fault_93_a_density_of_soil_needs_no_record(density: float) -> None:
    """Bench fault 93."""
    assert severities(replace(GOOD, particle_density_g_cm3=density), "density_without_record") == []


def test_bench_fault_93_the_weighings_must_give_the_density_and_a_bad_set_is_refused() -> None:
    """
    Bench fault 93.

    Weighings of a quartz of 2.65 g/cm³, worked backwards from Archimedes in water of 20 C, 0.998207 g/cm³ (IAPWS,
    fixtures/reference/water.json): 25 g take the place of 25 / 2.65 · 0.998207 g.
    """
    weighed = Pycnometer(25.0, 150.0, 175.0 - 25.0 / 2.65 * 0.998207, 20.0)
    assert density_by_pycnometer_g_cm3(weighed) == pytest.approx(2.65, abs=1e-5)
    for density, found in ((2.65, []), (2.66, []), (2.6, ["stop"])):
        record = replace(GOOD, particle_density_g_cm3=density, particle_density_weighings=weighed)
        assert severities(record, "density_apart") == found
    for bad in (Pycnometer(25.0, 150.0, 175.0, 20.0), Pycnometer(25.0, 150.0, 172.0, 20.0)):
        with pytest.raises(DistributionError, match="give"):
            figures(replace(GOOD, particle_density_weighings=bad))


def test_bench_fault_94_no_correction_stands_on_top_of_another() -> None:
    """Bench fault 94."""
    for record in (
        replace(GOOD, temperature_correction=TemperatureLine(-4.85, 0.25)),
        replace(GOOD, zero_correction_graduations=1.0),
        with_readings(composite_correction_graduations=4.0),
    ):
        with pytest.raises(DistributionError, match="Keep one rule"):
            figures(record)


def test_bench_fault_95_both_stems_refer_to_water_of_20_c() -> None:
    """Bench fault 95: with suspension and blank at one temperature nothing is corrected, whatever it is."""
    at_67_f = with_readings(temperature_c=19.4, blank_temperature_c=19.4)
    plain = [point.concentration_g_l for point in figures(GOOD).points]
    assert [point.concentration_g_l for point in figures(at_67_f).points] == pytest.approx(plain)


def test_bench_fault_96_an_earlier_edition_computes_as_it_did() -> None:
    """Bench fault 96: a record of two slots is certified by the edition it was begun under, and stopped by the next."""
    before, now = (METHOD_EDITIONS[f"hydrometer-nine-2026-{number}"] for number in (3, 4))
    record = only(GOOD, 0, 8)
    assert figures(record, method=before).certifiable
    assert not figures(record, method=now).certifiable
    assert figures(record, method=before).fractions == figures(record, method=now).fractions


def test_bench_fault_97_no_figure_is_without_uncertainty() -> None:
    """Bench fault 97."""
    with pytest.raises(EditionError, match="zero, which nothing read or weighed is"):
        validate_edition(replace(NINE, uncertainties=replace(NINE.uncertainties, reading_g_l=0.0)))
    fractions = compute_distribution(GOOD, NINE, draws=500).fractions
    assert fractions is not None
    assert all((each.standard_uncertainty_pct or 0.0) > 0.5 for each in fractions.estimates)


@pytest.mark.parametrize(
    "record",
    [
        with_values(*(4.5,) * 9),
        with_values(*(4.55,) * 9),
        replace(GOOD, dispersant_g_l=0.0, readings=with_readings(reading=0.0, blank_reading=0.0).readings),
    ],
    ids=["every reading is the blank", "0.05 g/L above it", "all zero without dispersant"],
)
def test_a_record_that_shows_no_soil_is_never_certified(record: object) -> None:
    assert severities(record, "nothing_in_suspension") == ["stop"]  # type: ignore[arg-type]
    sand = replace(record, sieving=sieved(39.8, 39.9, 0.1))  # type: ignore[type-var]
    assert severities(sand, "nothing_in_suspension") == [], "a pure sand weighed on its sieve"  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("air_dry_g", "moisture_pct", "found"),
    [
        (40.8, 2.0, []),
        (50.0, 2.0, ["stop"]),
        (40.0, 5.0, ["stop"]),
        (41.5, 2.0, ["stop"]),
        (41.2, 2.0, []),
    ],
)
def test_three_masses_that_disagree_stop(air_dry_g: float, moisture_pct: float, found: list[str]) -> None:
    """Bench fault 24: 40 g oven-dry beside what the other two leave, 4 standard deviations of 0.14 g apart or less."""
    record = replace(GOOD, air_dry_mass_g=air_dry_g, moisture_pct=moisture_pct)
    assert severities(record, "masses_disagree") == found


@pytest.mark.parametrize(
    ("moisture_pct", "found"), [(15.0, []), (15.1, ["warn"]), (30.0, ["warn"]), (30.1, ["stop"])]
)
def test_bench_fault_24_soil_with_half_its_mass_in_water_is_not_air_dry(
    moisture_pct: float, found: list[str]
) -> None:
    """Bench fault 24."""
    air_dry_g = 40.0 * (1.0 + moisture_pct / 100.0)
    record = replace(GOOD, oven_dry_mass_g=None, air_dry_mass_g=air_dry_g, moisture_pct=moisture_pct)
    assert severities(record, "moisture_unusual") == found


def test_the_least_sample_for_its_largest_grain_is_that_of_the_standard() -> None:
    """
    EN ISO 17892-4:2016, read at second hand: 100 g below 2 mm, 500 g at 10 mm, 2 kg at 20 mm, 40 kg at 63 mm.

    A second table, IS 2720 part 4 as a public course page prints it, asks for more at each size: 1.5 kg at 10 mm, 6.5
    kg at 19 mm, 25 kg at 40 mm, 60 kg at 75 mm.
    """
    table = dict(LEAST_SAMPLE_G)
    assert [table[size] for size in (2000.0, 10_000.0, 20_000.0, 63_000.0)] == [
        100.0,
        500.0,
        2000.0,
        40_000.0,
    ]
    assert table[10_000.0] < 1500.0
    assert table[20_000.0] < 6500.0
    assert [least for _, least in LEAST_SAMPLE_G] == sorted(least for _, least in LEAST_SAMPLE_G)


@pytest.mark.parametrize(
    ("whole_g", "coarse_g", "found"),
    [
        (60.0, 12.0, ["warn"]),
        (999.0, 200.0, ["warn"]),
        (1000.0, 200.0, []),
        (299.0, 0.0, ["warn"]),
        (300.0, 0.0, []),
    ],
)
def test_a_few_tens_of_grams_with_gravel_of_12_mm_are_told(
    whole_g: float, coarse_g: float, found: list[str]
) -> None:
    """More than a tenth above 6.3 mm: grains up to 12.5 mm, 1 kg; else up to 6.3 mm, 300 g."""
    sieves = (SieveMass(12_500.0, 0.0), SieveMass(6300.0, coarse_g), SieveMass(2000.0, 0.4 * whole_g))
    record = replace(GOOD, gravel_sieves=sieves, whole_sample_dry_mass_g=whole_g)
    assert severities(record, "sample_small_for_grain") == found


def test_what_one_reading_tells_stands_under_its_own_size_and_nothing_else_is_printed() -> None:
    """A reading at 49 µm: 36 of 40 g/L less the blank of 4.5 are 78.75 %, so 21.25 % are coarser."""
    single = only(GOOD, 1)
    size_um = figures(single).points[0].diameter_um
    at_limit = figures(
        replace(single, readings=(replace(single.readings[0], elapsed_s=60.0 * (size_um / 50.0) ** 2),))
    )
    (named,) = at_limit.named_readings
    assert named.value_pct == pytest.approx(21.25)
    assert named.name.startswith("coarser than 50.")
    assert (at_limit.fractions, at_limit.texture) == (None, None)
    assert any("One reading tells" in note for note in at_limit.notes)
    assert figures(only(GOOD, 4)).named_readings == (), "9 µm is no sand limit"


def test_sand_is_given_alone_where_clay_is_not_known() -> None:
    no_clay = only(GOOD, *range(8))
    (named,) = figures(no_clay).named_readings
    whole = figures(GOOD).fractions
    assert whole is not None
    assert named.value_pct == pytest.approx(whole.sand.value_pct)
    assert named.name == "sand above 50 µm, by hydrometer"
    assert figures(GOOD).named_readings == ()


def test_a_method_by_time_says_what_it_does_not_print() -> None:
    two = METHOD_EDITIONS["two-reading-2026-1"]
    notes = figures(only(GOOD, 0, 8), method=two).notes
    assert any("a texture class are not given" in note for note in notes)


def test_old_rules_of_correction_are_told_and_never_certified() -> None:
    record = replace(
        GOOD,
        correction=Correction.SEPARATE,
        zero_correction_graduations=-0.5,
        temperature_correction=TemperatureLine(0.0, 0.0),
    )
    assert severities(record, "meniscus_twice") == ["warn"]
    assert not figures(record).certifiable
