"""What the laboratory only remembers stays in the laboratory."""

from __future__ import annotations

from dataclasses import replace

import pytest

from particles.distribution import METHOD_EDITIONS, MethodEdition
from particles.distribution.explained.notes import UNCONFIRMED
from reports.content.build import may_be_printed, printed_sources
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
