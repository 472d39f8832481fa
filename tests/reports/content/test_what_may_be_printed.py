"""What the laboratory only remembers stays in the laboratory."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pytest

from batches.review.signed import SignedFinding
from particles.distribution import CATALOGUE, METHOD_EDITIONS, MethodEdition
from particles.distribution.explained.notes import UNCONFIRMED
from particles.distribution.findings.catalogue.row import Row
from reports.content.build import _qualifiers, may_be_printed, printed_sources
from tests.distribution.curve.test_sand_fractions import SANDY
from tests.support.runs import figures, with_values


def test_a_subclass_by_remembered_rules_is_not_printed() -> None:
    run = replace(with_values(18.0, 16.0, 14.5, 12.5, 10.5, 9.5, 9.0, 8.5, 7.0), sieving=SANDY)
    distribution = figures(run)
    assert distribution.texture is not None
    assert distribution.texture.subclass == "fine sandy loam"
    kept_back = [note for note in distribution.notes if UNCONFIRMED in note]
    assert len(kept_back) == 1
    assert not may_be_printed(kept_back[0])
    assert [note for note in distribution.notes if may_be_printed(note)]


@pytest.mark.parametrize("edition", METHOD_EDITIONS.values(), ids=lambda edition: edition.code)
def test_no_edition_prints_a_source_that_was_only_remembered(edition: MethodEdition) -> None:
    assert printed_sources(edition)
    assert not any("memory" in source for source in printed_sources(edition))


@pytest.mark.parametrize("row", CATALOGUE.values(), ids=lambda row: row.code)
def test_no_code_of_the_program_leaves_in_place_of_a_phrase(row: Row) -> None:
    """“joined”, “remark” and “sieve loss small” once stood on certificates: codes with their underscores taken out."""
    finding = SignedFinding(row.code, row.severities[-1], "A sentence.")
    printed = _qualifiers(
        SimpleNamespace(findings=(finding,), without_figures="", qualifier="", is_reported=True)
    )
    if row.client is None:
        assert printed == ()
        return
    (shown,) = printed
    assert shown.title == row.client
    assert shown.title not in {"joined", "remark", "sieve loss small"}
    assert "_" not in shown.title
