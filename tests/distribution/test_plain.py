"""To JSON and back, the digest, and a core that stands alone."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import pytest

from particles.distribution import (
    ENGINE_VERSION,
    METHOD_EDITIONS,
    ClayExtrapolation,
    DepthTable,
    Hydrometer,
    InputUncertainties,
    Interpolation,
    MethodEdition,
    QualityLimits,
    ReadingPoint,
    RunRecord,
    SieveMass,
    Sieving,
    SizePoint,
    TemperatureLine,
    compute_distribution,
    edition_from_plain,
    edition_to_plain,
    from_plain,
    record_digest,
    record_from_plain,
    record_to_plain,
    to_plain,
)
from particles.distribution.errors import NotANumberError
from particles.distribution.plain import record_digest as digest_with_engine
from particles.distribution.record import stored_name
from tests.support.runs import NINE, STEM_152H, TWO, good_run, sieved, with_reading

GOOD = good_run()
FIRST_NINE = METHOD_EDITIONS["hydrometer-nine-2026-1"]
TABLE = replace(STEM_152H, depth=DepthTable((0.0, 30.0, 60.0), (16.3, 11.4, 6.5)))
RECORDS = [GOOD, replace(GOOD, hydrometer=TABLE, sieving=sieved()), replace(GOOD, oven_dry_mass_g=None)]


@pytest.mark.parametrize("record", RECORDS, ids=["plain", "table and sieves", "no mass"])
@pytest.mark.parametrize("method", [NINE, TWO], ids=["nine", "two"])
def test_there_and_back_without_loss(record: RunRecord, method: object) -> None:
    assert record_from_plain(json.loads(json.dumps(record_to_plain(record)))) == record
    answer = compute_distribution(record, method)  # type: ignore[arg-type]
    assert from_plain(json.loads(json.dumps(to_plain(answer), allow_nan=False))) == answer


@pytest.mark.parametrize("code", METHOD_EDITIONS)
def test_editions_there_and_back(code: str) -> None:
    edition = METHOD_EDITIONS[code]
    assert edition.code == code
    assert edition_from_plain(json.loads(json.dumps(edition_to_plain(edition)))) == edition


def test_unknown_field_is_refused() -> None:
    with pytest.raises(KeyError, match="colour"):
        from_plain({"colour": "grey"})


def test_digest_follows_record_and_method() -> None:
    digest = record_digest(GOOD, NINE)
    assert len(digest) == 64
    assert record_digest(replace(GOOD), NINE) == digest
    assert record_digest(replace(GOOD, oven_dry_mass_g=40), NINE) == digest
    assert record_digest(with_reading(8, reading=12.1), NINE) != digest
    assert record_digest(GOOD, replace(NINE, dispersion_sd_pct=1.6)) != digest
    assert record_digest(record_from_plain(record_to_plain(GOOD)), NINE) == digest


def test_engine_version_is_recorded() -> None:
    assert compute_distribution(GOOD, NINE, draws=0).engine_version == ENGINE_VERSION == "1.4.0"


def test_records_and_editions_of_engine_1_0_0_keep_their_digest() -> None:
    """The digests that engine 1.0.0 gave these two records."""
    plain_run = "9890e29d2d039d1ba3aaaaf7cf1d93106c31c661cd13f3f99a566d8f3d4d3030"
    sieved_run = "fca57f30b539a5e51c488a54eeca16a5f740c93b6eb66289733ce2941329c162"
    assert digest_with_engine(GOOD, FIRST_NINE, "1.0.0") == plain_run
    assert digest_with_engine(replace(GOOD, sieving=sieved()), FIRST_NINE, "1.0.0") == sieved_run


LATER_IN_RECORD = [
    {"gravel_sieves": (SieveMass(2000.0, 4.0),)},
    {"whole_sample_dry_mass_g": 100.0},
    {"hydrometer": replace(STEM_152H, scale_corrections=((0.0, 0.1), (60.0, 0.1)))},
    {"sieving": replace(sieved(), portion_oven_dry_mass_g=50.0)},
]


@pytest.mark.parametrize("changes", LATER_IN_RECORD, ids=lambda changes: next(iter(changes)))
def test_later_fields_count_in_the_digest_once_they_say_something(changes: dict[str, object]) -> None:
    base = replace(GOOD, sieving=sieved())
    record = replace(base, **changes)
    assert record_digest(record, NINE) != record_digest(base, NINE)
    assert record_from_plain(json.loads(json.dumps(record_to_plain(record)))) == record


@pytest.mark.parametrize(
    "changes",
    [
        {"interpolation": Interpolation.MONOTONE_CUBIC},
        {"clay_extrapolation": ClayExtrapolation.DAY_LINE},
        {"limits": QualityLimits(join_stop_pct=6.0)},
        {"windows": ((30.0, 1.0),)},
        {"also_systems": ("BELGIUM",)},
    ],
    ids=lambda changes: next(iter(changes)),
)
def test_settings_of_an_edition_count_and_survive(changes: dict[str, object]) -> None:
    edition = replace(NINE, **changes)
    assert record_digest(GOOD, edition) != record_digest(GOOD, NINE)
    assert edition_from_plain(json.loads(json.dumps(edition_to_plain(edition)))) == edition


def test_what_engine_1_0_0_stored_still_loads() -> None:
    record, edition = record_to_plain(replace(GOOD, sieving=sieved())), edition_to_plain(FIRST_NINE)
    answer = to_plain(compute_distribution(GOOD, NINE, draws=0))
    for kept, kind in (
        (record, RunRecord),
        (record["hydrometer"], Hydrometer),
        (record["sieving"], Sieving),
        (edition, MethodEdition),
        (edition["uncertainties"], InputUncertainties),
    ):
        for each in fields(kind):
            if "since" in each.metadata:
                del kept[stored_name(each)]
    for name in ("whole_sample_curve", "sand_fractions", "other_textures"):
        del answer[name]
    del answer["texture"]["subclass"]
    assert record_from_plain(record) == replace(GOOD, sieving=sieved())
    assert edition_from_plain(edition) == FIRST_NINE
    assert from_plain(answer) == compute_distribution(GOOD, NINE, draws=0)


STORED = {
    "label": "invented",
    "hydrometer": {
        "identity": "H-01",
        "scale": "152H",
        "depth": {"intercept_cm": 16.295, "slope_cm_per_unit": 0.1641},
        "meniscus_correction": 0.5,
        "insertion_displacement_cm": 1.2,
    },
    "readings": [{"elapsed_s": 30.0, "temperature_c": 21.0, "state": "read", "reading": 40.0}],
    "oven_dry_mass_g": 40.0,
    "particle_density_measured": True,
    "dispersant_g_l": 5.0,
}
"""A record as engine 1.3.0 kept it, with what its correction needs still to come."""
THIRD = METHOD_EDITIONS["hydrometer-nine-2026-3"]
"""The edition it was computed by."""
SEPARATE = {
    **STORED,
    "correction": "zero, meniscus and temperature corrections",
    "zero_correction_g_l": 4.5,
    "temperature_correction": {"intercept_g_l": -4.85, "slope_g_l_per_c": 0.25},
}
COMPOSITE = {
    **STORED,
    "correction": "constant composite correction",
    "readings": [{**STORED["readings"][0], "composite_correction_g_l": 4.25}],  # type: ignore[index]
}


@pytest.mark.parametrize(
    ("stored", "digest", "taken"),
    [
        (
            SEPARATE,
            "730294db394ff1a4e39c9720ef70c6f61ec51b96cd76dbd61373866a38e38dc2",
            4.5 + 4.85 - 0.25 * 21.0,
        ),
        (COMPOSITE, "b1d795599088da8fcddd58df13d4c06f4c41a692ed7af9b35b9ec623b947cbe0", 4.25),
    ],
    ids=["separate", "composite"],
)
def test_a_record_stored_under_earlier_names_reads_and_digests_the_same(
    stored: dict[str, Any], digest: str, taken: float
) -> None:
    """Corrections are in graduations of the stem; the names they are stored under say g/L."""
    record = record_from_plain(stored)
    assert digest_with_engine(record, THIRD, "1.3.0") == digest
    point = compute_distribution(record, NINE, draws=0).points[0]
    assert point.correction_graduations == pytest.approx(taken)
    kept = record_to_plain(record)
    assert {name: kept[name] for name in stored if name not in ("hydrometer", "readings")} == {
        name: value for name, value in stored.items() if name not in ("hydrometer", "readings")
    }
    assert kept["readings"][0] | stored["readings"][0] == kept["readings"][0]


def test_a_result_keeps_the_names_it_was_stored_under() -> None:
    distribution = compute_distribution(GOOD, NINE, draws=0)
    stored = to_plain(distribution)
    assert stored["points"][0]["correction_g_l"] == distribution.points[0].correction_graduations == 4.5
    assert from_plain(stored) == distribution


def test_an_edition_stored_under_earlier_names_reads_and_digests_the_same() -> None:
    stored = edition_to_plain(THIRD)
    assert stored["uncertainties"]["reading_off_lean"] == THIRD.uncertainties.reading_off_bias == 1.0
    stored["uncertainties"] |= {"reading_off_lean": 0.8}
    edition = edition_from_plain(stored)
    assert edition.uncertainties.reading_off_bias == 0.8
    digest = "8dfc8af09c43a8b061771a290805aa3da5e7ddef52f5166249b72c12e7537d2a"
    assert digest_with_engine(GOOD, edition, "1.3.0") == digest


@pytest.mark.parametrize("kind", [RunRecord, ReadingPoint, TemperatureLine, SizePoint, InputUncertainties])
def test_no_two_fields_are_stored_under_one_name(kind: type) -> None:
    names = [stored_name(each) for each in fields(kind)]
    assert len(set(names)) == len(names)


def test_a_number_that_is_none_is_named_as_it_is_stored() -> None:
    record = with_reading(2, composite_correction_graduations=float("nan"))
    with pytest.raises(NotANumberError, match="readings/2/composite_correction_g_l"):
        compute_distribution(record, NINE, draws=0)


def test_the_core_loads_neither_django_nor_the_apps() -> None:
    program = (
        "import sys, particles.distribution as core\n"
        "core.compute_distribution\n"
        "loaded = {name.split('.')[0] for name in sys.modules}\n"
        "print(sorted(loaded & {'django', 'labsite', 'batches', 'reports', 'jsonschema', 'scipy'}))\n"
        "print(sorted(n for n in sys.modules if n.startswith('particles.') and not "
        "n.startswith('particles.distribution')))\n"
    )
    root = Path(__file__).parents[2]
    result = subprocess.run(
        [sys.executable, "-c", program], cwd=root, capture_output=True, text=True, check=True
    )
    assert result.stdout == "[]\n[]\n"
