"""What the review says in few words: what is asked for, what moved, whose figures, and of nothing no number."""

from __future__ import annotations

from typing import Any

import pytest
from django.utils import timezone

from batches.causes.kept import AnsweredCause
from batches.causes.rows import CauseRow, EffectRow
from batches.models import Batch, LastLook
from batches.review_page.strip import asked_for
from particles.distribution.answer import Severity
from particles.distribution.causes.cause import Cause, Effect, Needs
from particles.distribution.triple import SandSiltClay

LOAM = SandSiltClay(40.0, 40.0, 20.0)


def a_cause(needs: Needs, *effects: Effect) -> Cause:
    return Cause(
        kind="soak_short", severity=Severity.WARN, sentence="Invented.", next_step="", labels=("A",),
        effects=effects, needs=needs,
    )  # fmt: skip


def row_of(*effects: Effect) -> CauseRow:
    rows = tuple(EffectRow(effect, None, "Invented client") for effect in effects)
    return CauseRow(a_cause(Needs.NOTE, *effects), None, (), rows, None, of_runs=9)


@pytest.mark.parametrize(
    ("needs", "said"),
    [
        ((), ""),
        ((Needs.DECISION,), "1 decision is asked for"),
        ((Needs.NOTE, Needs.NOTE), "2 notes are asked for"),
        ((Needs.DECISION, Needs.NOTE), "1 decision and 1 note are asked for"),
    ],
)
def test_of_what_is_not_asked_for_no_number_is_said(needs: tuple[Needs, ...], said: str) -> None:
    assert asked_for([AnsweredCause(a_cause(each), ()) for each in needs]) == said


def test_an_effect_is_said_by_what_it_does() -> None:
    lost = Effect("A", LOAM, None, "loam", "")
    moved = Effect("A", LOAM, SandSiltClay(42.0, 39.0, 19.0), "loam", "loam")
    nothing = Effect("A", LOAM, LOAM, "loam", "loam")
    assert (row_of(lost).effect_in_short, row_of(lost).moves) == (
        "no figures left",
        "1 would have no figures left",
    )
    assert row_of(moved, lost).effect_in_short == "up to 2.0 points, no figures left"
    assert row_of(moved, lost).moves.startswith("moves sand by +2.0 points at most in 1 of the figures")
    assert (row_of(nothing).effect_in_short, row_of(nothing).moves) == ("moves no figure", "")


@pytest.mark.django_db(transaction=True)
def test_what_moved_by_less_than_is_printed_is_only_counted(
    submitted_batch: Batch, qa_officer: Any, as_person: Any
) -> None:
    client, address = as_person(qa_officer), f"/review/{submitted_batch.number}/"
    client.get(address)
    look = LastLook.objects.get()
    [(title, now)] = look.seen.items()
    for off, listed in ((0.01, False), (3.0, True)):
        seen = {title: [now[0] + off, now[1] - off, *now[2:]]}
        LastLook.objects.update(seen=seen, before=None, before_at=None, at=timezone.now())
        shown = client.get(address).content.decode()
        assert ("Figures that moved" in shown) is listed
        assert ("1 moved by less than a percent" in shown) is not listed
