"""Whatever stands beside figures says what it means for them; no qualifier leaves a client guessing."""

from __future__ import annotations

import re
from dataclasses import asdict, replace
from types import SimpleNamespace
from typing import Any

import pytest

from batches.review.signed import SignedFinding
from particles.distribution import CATALOGUE, Severity
from particles.distribution.findings.catalogue.row import Row
from reports.content.build import _qualifiers, _remark
from reports.content.changes import changes_between
from reports.content.context import QualifierRow
from reports.content.effects import (
    AT_A_STOP,
    EFFECTS,
    NO_FAULT,
    NO_FIGURES_TO_MOVE,
    OWN_WORDS,
    REMARKS,
    WORKED_OUT,
)
from tests.distribution.curve.test_sand_fractions import SANDY
from tests.support.example_context import ONE_SAMPLE
from tests.support.runs import figures, with_values

PRINTED = [row for row in CATALOGUE.values() if row.client is not None]
SAYS_HOW = re.compile(
    r"too (high|low|coarse)|less certain|moves no|Nothing is wrong|moves nothing|less than|may differ|touched|"
    r"may have moved|coarser size|border between|a little below nothing|off, up or down"
)
"""Words by which an effect says what may move, which way, or that nothing does."""


def _shown(row: Row, severity: Severity, *, reported: bool) -> QualifierRow:
    signed: Any = SimpleNamespace(
        findings=(SignedFinding(row.code, severity.value, "A sentence."),),
        without_figures="",
        qualifier="",
        is_reported=reported,
    )
    (shown,) = _qualifiers(signed)
    return shown


@pytest.mark.parametrize("row", PRINTED, ids=lambda row: row.code)
def test_every_code_that_can_be_printed_says_what_it_means_for_the_figures(row: Row) -> None:
    for severity in row.severities:
        if severity is Severity.STOP:
            assert _shown(row, severity, reported=False).effect == AT_A_STOP
            continue
        assert _shown(row, severity, reported=False).effect == NO_FIGURES_TO_MOVE
        effect = _shown(row, severity, reported=True).effect
        assert SAYS_HOW.search(effect), effect
        assert effect.endswith(".")
        assert "_" not in effect


def test_no_sentence_is_kept_for_a_code_that_never_stands_beside_figures() -> None:
    assert set(EFFECTS) == {row.code for row in PRINTED if set(row.severities) != {Severity.STOP}}


@pytest.mark.parametrize("effect", sorted({*EFFECTS.values(), *(effect for _, _, effect in REMARKS)}))
def test_no_number_is_invented(effect: str) -> None:
    assert set(re.findall(r"\d+", effect)) <= {"2"}, "2 mm, the size of fine earth, and no other"


def test_what_agrees_is_not_left_to_look_like_a_fault() -> None:
    agreed = _shown(CATALOGUE["join_accepted"], Severity.NOTE, reported=True)
    assert agreed.effect.startswith("Nothing is wrong and no figure moves")


def test_a_reservation_in_the_laboratorys_words_says_that_the_interval_leaves_it_out() -> None:
    signed: Any = SimpleNamespace(
        findings=(), without_figures="", qualifier="Roots were cut.", is_reported=True
    )
    (shown,) = _qualifiers(signed)
    assert (shown.sentence, shown.effect) == ("Roots were cut.", OWN_WORDS)


def test_every_note_of_a_run_is_named_for_what_it_is_about() -> None:
    run = replace(
        with_values(18.0, 16.0, 14.5, 12.5, 10.5, 9.5, 9.0, 8.5, 7.0),
        sieving=replace(SANDY, portion_oven_dry_mass_g=51.0),
    )
    named = {_remark(note).title: _remark(note).effect for note in figures(run).notes}
    assert named[WORKED_OUT] == NO_FAULT
    assert "sand from another portion" in named
    assert "note on these figures" not in named
    assert all(effect.endswith(".") for effect in named.values())


def test_a_certificate_from_before_effects_were_said_is_not_amended_for_them_alone() -> None:

    before, after = asdict(ONE_SAMPLE), asdict(ONE_SAMPLE)
    for row in before["samples"][0]["qualifiers"]:
        del row["effect"]
    assert changes_between(before, after) == []
