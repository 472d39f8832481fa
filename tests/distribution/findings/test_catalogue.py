"""The catalogue of findings holds every code, every word, every severity and every limit, and nothing besides."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np
import pytest

from particles.distribution import (
    METHOD_EDITIONS,
    USDA_CLASSES,
    BatchRun,
    ClayExtrapolation,
    DistributionError,
    Finding,
    MethodEdition,
    ReadingState,
    RunRecord,
    Seen,
    Severity,
    SieveMass,
    Sight,
    batch_findings,
    compute_distribution,
    portion_apart_findings,
)
from particles.distribution.causes import exchanges, find, singles
from particles.distribution.causes.evidence import BatchEvidence
from particles.distribution.findings.catalogue import (
    CATALOGUE,
    client_words,
    finding,
    limit_value,
    row_of,
)
from particles.distribution.findings.catalogue import imported as imported_rows
from particles.distribution.findings.catalogue import laboratory as laboratory_rows
from particles.distribution.findings.catalogue import sheets as sheet_rows
from particles.distribution.findings.catalogue.listed import as_markdown, limits_in_words
from particles.distribution.findings.catalogue.row import CatalogueError, Row, Wording
from particles.distribution.findings.needed import with_left_out
from tests.distribution.findings.test_findings import BY_MINUTES, CASES
from tests.support.caused import every_small_batch
from tests.support.planted_batch_faults import BATCH_FAULTS
from tests.support.planted_faults import FAULTS
from tests.support.planted_sheets import sheet_findings
from tests.support.runs import NINE, STEM_152H, good_run, only, sieved, with_reading, with_values
from tests.support.simulator import clean_batch, clean_run

ROOT = Path(__file__).parents[3]
OUTSIDE_THE_CORE = {row.code for row in laboratory_rows.ROWS} | {"duplicate_outside_limit"}
"""Codes that need the records of a laboratory: tests/batches and tests/particles hold their cases."""
NINE_ALSO = replace(
    NINE, also_systems=("WRB_FAO", "GERMANY_KA5", "BELGIUM", "ISSS"), confirmed_systems=("ISSS",)
)
DAY_LINE = replace(NINE, clay_extrapolation=ClayExtrapolation.DAY_LINE, interpolate_missing_blank=True)
PRECISE = replace(NINE, uncertainties=replace(NINE.uncertainties, reading_g_l=0.05, scale_division_g_l=0.1))
FOUR = METHOD_EDITIONS["hydrometer-four-2026-4"]


@cache
def _sources() -> dict[Path, ast.Module]:
    """Every module of the program but the catalogue and the migrations."""
    files = (
        path for app in ("particles", "batches", "reports", "labsite") for path in (ROOT / app).rglob("*.py")
    )
    kept = (path for path in files if not {"catalogue", "migrations"} & set(path.relative_to(ROOT).parts))
    return {path: ast.parse(path.read_text(encoding="utf-8")) for path in kept}


def _calls(name: str) -> Iterator[tuple[Path, ast.Call]]:
    for path, tree in _sources().items():
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == name:
                yield path, node


def _words_in_sources() -> set[str]:
    return {
        node.value
        for tree in _sources().values()
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }


def _records() -> Iterator[tuple[RunRecord, MethodEdition]]:
    """Runs that between them raise everything one run can raise."""
    good = good_run()
    for *_, record in CASES:
        yield from ((record, method) for method in (NINE, NINE_ALSO, DAY_LINE, FOUR, BY_MINUTES))
    yield good, METHOD_EDITIONS["two-reading-2026-1"]
    for sight in Sight:
        yield from ((replace(good, seen=(Seen(sight, slot_s),)), NINE) for slot_s in (None, 60.0))
    yield with_reading(1, time_doubt="it slept"), NINE
    yield with_reading(0, reading=120.0), NINE
    beyond = tuple(replace(point, reading=None, state=ReadingState.ABOVE_SCALE) for point in good.readings)
    yield from ((replace(good, readings=beyond, sieving=each), NINE) for each in (None, sieved()))
    yield with_values(9, 8, 7, 6, 5, 5, 5, 5, 5), NINE
    yield from (
        (good_run(sieving=sieved(sand_g, sand_g + 0.3)), NINE) for sand_g in np.arange(0.0, 12.0, 0.25)
    )
    for sand_g in np.arange(0.0, 12.0, 0.25):
        late = replace(
            good, readings=good.readings[1:], sieving=sieved(sand_g, sand_g + 0.3, opening_um=50.0)
        )
        yield late, NINE
    for mass_g in np.arange(30.0, 36.0, 0.25):
        yield replace(good, oven_dry_mass_g=mass_g), PRECISE
        yield replace(good, sieving=sieved(mass_g, mass_g + 0.2, 0.2)), PRECISE
    yield replace(good, particle_density_g_cm3=1.6), DAY_LINE
    fewer = replace(
        good, gravel_pct=5.0, gravel_sieves=(SieveMass(4000.0, 20.0),), whole_sample_dry_mass_g=100.0
    )
    yield fewer, NINE
    for fault in FAULTS:
        random = np.random.default_rng([21, *fault.name.encode()])
        made = [fault.plant(clean_run(random), random) for _ in range(12)]
        yield from ((run.record, run.method) for run in made if run is not None)


@cache
def _produced() -> tuple[tuple[Finding, ...], frozenset[tuple[str, str]]]:
    """Every finding of those runs, batches and portions, and every wording (code, variant) they took."""
    taken: set[tuple[str, str]] = set()
    look_up = Row.wording

    def looked_up(row: Row, variant: str) -> Wording:
        taken.add((row.code, variant))
        return look_up(row, variant)

    with patch.object(Row, "wording", looked_up):
        found = tuple(_findings())
    return found, frozenset(taken)


def _findings() -> list[Finding]:
    found: list[Finding] = []
    for record, method in _records():
        try:
            found += compute_distribution(record, method, draws=0).findings
        except DistributionError:
            continue
    for fault in BATCH_FAULTS:
        random = np.random.default_rng([4, *fault.name.encode()])
        for _ in range(8):
            runs, _size = fault.plant(clean_batch(random, 5), random)
            method = runs[0].method
            known = [BatchRun(run.record, compute_distribution(run.record, method, draws=0)) for run in runs]
            found += [each.finding for each in batch_findings(known, method)]
    fewer, second_s = only(good_run(), 0, 8), NINE.schedule_s[1]
    for left_out_s in ((second_s,), NINE.schedule_s):
        said = compute_distribution(fewer, NINE, draws=0).findings
        found += with_left_out(said, fewer, NINE, left_out_s)
    found += sheet_findings()
    for batch in every_small_batch():
        found += _made_by(batch)
    for texture in USDA_CLASSES:
        for mass_g in (5.0, 12.0, 23.0, 35.0, 47.0, 66.0, 90.0, 150.0):
            found += portion_apart_findings(mass_g, texture, NINE, STEM_152H)
    return found


def _made_by(batch: BatchEvidence) -> list[Finding]:
    """Findings that the causes of a batch are told in."""
    made: list[Finding] = []

    def kept(*code: Any, **values: Any) -> Finding:
        made.append(finding(*code, **values))
        return made[-1]

    with (
        patch.object(find, "finding", kept),
        patch.object(singles, "finding", kept),
        patch.object(exchanges, "finding", kept),
    ):
        find.find_causes(batch, NINE)
    return [each for each in made if each.code not in OUTSIDE_THE_CORE]


def test_every_code_that_is_used_has_a_row() -> None:
    named = [
        call.args[0].value
        for _, call in _calls("finding")
        if call.args and isinstance(call.args[0], ast.Constant)
    ]
    assert len(named) >= 60
    assert set(named) <= set(CATALOGUE)


def test_nothing_else_makes_a_finding_or_gives_a_flag_its_words() -> None:
    """Only the catalogue calls `Finding`; a flag is only ever the copy of a finding."""
    assert [path.name for path, _ in _calls("Finding")] == []
    flags = list(_calls("Flag"))
    assert len(flags) == 1
    code = {each.arg: each.value for each in flags[0][1].keywords}["code"]
    assert not isinstance(code, ast.Constant)


def test_every_row_is_used() -> None:
    assert set(CATALOGUE) - _words_in_sources() == set()


@pytest.mark.parametrize("code", sorted(set(CATALOGUE) - OUTSIDE_THE_CORE))
def test_every_severity_and_every_wording_is_produced(code: str) -> None:
    row, (found, taken) = row_of(code), _produced()
    made = [each for each in found if each.code == code]
    assert {each.severity for each in made} == set(row.severities)
    assert all(each.unit in {row.unit, *(w.unit for w in row.wordings.values())} for each in made)
    assert {variant for of, variant in taken if of == code} == set(row.wordings)


@pytest.mark.parametrize("code", sorted(OUTSIDE_THE_CORE))
def test_every_code_outside_the_core_has_a_test_that_names_it(code: str) -> None:
    tests = (path for path in (ROOT / "tests").rglob("test_*.py") if path != Path(__file__))
    assert any(code in path.read_text(encoding="utf-8") for path in tests)


@pytest.mark.parametrize(
    ("code", "limit"), [(row.code, limit) for row in CATALOGUE.values() for limit in row.limits]
)
def test_every_limit_exists(code: str, limit: str) -> None:
    assert limit_value(limit) is not None


@pytest.mark.parametrize(
    "limit", ["limits.nothing", "edition.nothing", "findings.fall:NOTHING", "nowhere:LIMIT"]
)
def test_a_limit_that_does_not_exist_is_no_limit(limit: str) -> None:
    with pytest.raises((AttributeError, ImportError)):
        limit_value(limit)


@pytest.mark.parametrize("code", CATALOGUE)
def test_a_row_is_whole(code: str) -> None:
    kept = row_of(code)
    assert kept.title
    assert kept.source
    assert kept.wordings
    assert kept.severities == tuple(sorted(kept.severities, key=list(Severity).index))
    assert bool(kept.unit) <= bool(kept.number)
    for words in (kept.title, kept.client or kept.title):
        assert "_" not in words
        assert not words.endswith(".")


def test_a_client_reads_short_phrases_that_can_stand_in_one_cell() -> None:
    for row in CATALOGUE.values():
        assert row.client is None or (len(row.client) <= 36 and not set(row.client) & set(",;:")), row.code


def test_what_stops_a_certified_figure_can_be_printed() -> None:
    """Only what never stands at a result of a run has no words for a client."""
    never = {code for code in CATALOGUE if client_words(code) is None}
    stops = {row.code for row in CATALOGUE.values() if Severity.STOP in row.severities}
    on_no_certificate = {row.code for row in (*imported_rows.ROWS, *sheet_rows.ROWS)}
    assert never & stops == on_no_certificate & stops, "they are about sheets and figures of others"


def test_no_two_codes_are_printed_alike() -> None:
    printed = [row.client for row in CATALOGUE.values() if row.client is not None]
    titles = [row.title for row in CATALOGUE.values()]
    assert len(printed) == len(set(printed))
    assert len(titles) == len(set(titles))


def test_a_client_reads_nothing_of_memory() -> None:
    for row in CATALOGUE.values():
        if row.client is not None:
            assert "memory" not in row.client
            assert not any("memory" in wording.sentence for wording in row.wordings.values())


def test_a_finding_in_the_words_of_its_row() -> None:
    made = finding("sieve_loss", number=2.5, lost_g=0.15)
    assert made == Finding(
        code="sieve_loss",
        severity=Severity.STOP,
        sentence="0.15 g (2.5 %) of the mass put on the stack was lost in sieving.",
        next_step="Sieve again; the loss is not shared out.",
        number=2.5,
        unit="%",
    )


@pytest.mark.parametrize(
    ("code", "given", "said"),
    [
        ("sieve_lost", {}, "no row"),
        ("sieve_loss", {"severity": Severity.NOTE, "lost_g": 1.0}, "never note"),
        ("rising_reading", {"variant": "within_noise"}, "needs the fields"),
        ("reading_missed", {"number": 30.0}, "never None"),
        ("sieve_loss", {}, "needs the fields"),
        ("sieve_loss", {"lost_g": 1.0, "gained_g": 1.0}, "needs the fields"),
        ("gravel_apart", {"variant": "both"}, "no wording"),
    ],
)
def test_a_finding_the_catalogue_does_not_know_is_refused(
    code: str, given: dict[str, object], said: str
) -> None:
    with pytest.raises(CatalogueError, match=said):
        finding(code, **{"number": 1.0, **given})  # type: ignore[arg-type]


def test_a_finding_takes_keywords_only() -> None:
    with pytest.raises(TypeError):
        Finding("sieve_loss", Severity.STOP, "", "")  # type: ignore[call-arg]


def test_the_list_in_the_guide_is_that_of_the_catalogue() -> None:
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    _, _, rest = guide.partition("<!-- findings: begin -->\n")
    listed, marker, _ = rest.partition("<!-- findings: end -->")
    assert marker, "the list has lost its marks"
    assert listed == as_markdown(), "print it anew: python -m particles.distribution.findings.catalogue"


def test_every_limit_is_told_with_its_unit() -> None:
    assert limits_in_words(row_of("blank_unusual")) == ("blank usual 0 to 9 g/L",)
    assert limits_in_words(row_of("gel_suspected")) == (
        "rise stop 1 g/L",
        "noise stop 4 standard deviations",
        "gel from 1800 s",
    )
