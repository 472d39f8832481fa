"""To JSON and back, the digest, and a core that stands alone."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from particles.distribution import (
    ENGINE_VERSION,
    METHOD_EDITIONS,
    DepthTable,
    RunRecord,
    compute_distribution,
    edition_from_plain,
    edition_to_plain,
    from_plain,
    record_digest,
    record_from_plain,
    record_to_plain,
    to_plain,
)

from .runs import NINE, STEM_152H, TWO, good_run, sieved, with_reading

GOOD = good_run()
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
    assert compute_distribution(GOOD, NINE, draws=0).engine_version == ENGINE_VERSION == "1.0.0"


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
