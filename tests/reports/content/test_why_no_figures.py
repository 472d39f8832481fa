"""A client reads why there are no figures in a sentence of the program, by what was found; notes stay inside."""

from __future__ import annotations

from collections.abc import Sequence
from types import SimpleNamespace
from typing import Any

import pytest

from batches.review.signed import SignedFinding
from particles.distribution import CATALOGUE
from particles.distribution.findings.catalogue.row import Row
from reports.content.build import WITHOUT_FIGURES, _qualifiers
from reports.content.changes import changes_between
from reports.content.reasons import JUDGED, NEXT, NO_FIGURES, WHY, why_no_figures

NOTE = "everything is ok here today"


class _Answers(list[Any]):
    def order_by(self, name: str) -> _Answers:
        return self


def _answer(key: str, kind: str, choice: str, labels: Sequence[str]) -> Any:
    return SimpleNamespace(key=key, kind=kind, choice=choice, labels=labels, note=NOTE)


def _printed(*answers: Any, findings: tuple[SignedFinding, ...] = ()) -> tuple[str, list[str]]:
    """Reason that is printed of a run withheld by a reviewer, and the other sentences."""
    run = SimpleNamespace(title="B-1", batch=SimpleNamespace(cause_answers=_Answers(answers)))
    signed: Any = SimpleNamespace(
        result=SimpleNamespace(run=run),
        findings=findings,
        without_figures=NOTE,
        qualifier="",
        is_reported=False,
    )
    first, *others = _qualifiers(signed)
    assert first.title == WITHOUT_FIGURES
    return first.sentence, [row.sentence for row in others]


@pytest.mark.parametrize("row", CATALOGUE.values(), ids=lambda row: row.code)
def test_every_kind_of_finding_has_its_sentence(row: Row) -> None:
    said = why_no_figures([row.code])
    assert said.startswith(f"{NO_FIGURES} ")
    assert said.endswith(NEXT)
    assert WHY[row.code].endswith(".")
    assert row.code not in said or "_" not in row.code


def test_no_sentence_is_kept_for_a_kind_that_is_not_found() -> None:
    assert set(WHY) == set(CATALOGUE)


def test_the_cause_it_was_decided_for_comes_before_its_stops_and_no_note_is_printed() -> None:
    stop = SignedFinding("sieve_loss", "stop", "Much was lost.")
    told, others = _printed(
        _answer("a", "runs_exchanged", "without figures", ["B-1", "B-2"]), findings=(stop,)
    )
    assert told == f"{NO_FIGURES} {WHY['runs_exchanged']} {WHY['sieve_loss']} {NEXT}"
    assert others == ["Much was lost."]
    assert NOTE not in told


def test_only_the_newest_answer_counts_and_only_for_its_own_runs() -> None:
    told, _ = _printed(
        _answer("a", "runs_exchanged", "without figures", ["B-1"]),
        _answer("a", "runs_exchanged", "figures stand", []),
        _answer("b", "hand_disagrees", "without figures", ["B-2"]),
        _answer("c", "join_apart", "repeat", ["B-1"]),
    )
    assert told == f"{NO_FIGURES} {JUDGED} {NEXT}"


def test_kinds_of_one_family_are_said_once() -> None:
    said = why_no_figures(["sieve_loss", "sieve_gain", "no_blank"])
    assert said == f"{NO_FIGURES} {WHY['sieve_loss']} {WHY['no_blank']} {NEXT}"


@pytest.mark.parametrize(
    ("code", "sentence", "told"),
    [
        ("run_void", "The run is void: the cylinder broke (my fault (again)).", "The run is void: the cylinder broke."),
        ("seen", "Spill, at the 40 s reading (ask Tom).", "Spill, at the 40 s reading."),
        ("seen", "Foam at the stem.", "Foam at the stem."),
        ("join_apart", "A step (of 9 points).", "A step (of 9 points)."),
    ],
)  # fmt: skip
def test_what_somebody_at_the_bench_noted_is_left_out(code: str, sentence: str, told: str) -> None:
    _, others = _printed(findings=(SignedFinding(code, "stop", sentence),))
    assert others == [told]


def test_an_amended_certificate_does_not_quote_the_note_of_an_older_one() -> None:
    def content(sentence: str) -> dict[str, Any]:
        row = {"title": WITHOUT_FIGURES, "severity": "stop", "sentence": sentence}
        return {"samples": [{"lab_number": "26-1", "reported": False, "qualifiers": [row]}]}

    old, new = content(f"No figures are reported: {NOTE}"), content(why_no_figures([]))
    assert changes_between(old, new) == ["sample 26-1: why no figures are reported is said in other words"]
    reported = {"samples": [{"lab_number": "26-1", "reported": True, "qualifiers": []}]}
    assert changes_between(old, reported) == ["sample 26-1: figures are reported now"]
