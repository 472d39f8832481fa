"""
Nobody signs a batch they worked in: one rule, derived from the kinds of act, asked in Python and in SQL.

Who worked in a batch is whoever planned it and whoever is named by an act on the bench's side that was done
in it. Both forms below come from the same querysets, `Act.done_in`; a new kind of act counts in both.
"""

from __future__ import annotations

from functools import reduce
from operator import or_
from typing import Any

import pgtrigger
from django.db import connection, models
from django.db.models import Exists
from django.db.models.expressions import RawSQL

from particles.records.act import Act, Side, acts_in_batches

REFUSED = "nobody approves a batch they worked in"


def people_in(batch: Any, side: Side) -> set[int]:
    """Primary keys of everybody who stands on one side of a batch: its workers, or its reviewers."""
    acts = [kind.done_in(batch.pk).order_by().values_list("by", flat=True) for kind in acts_in_batches(side)]
    named = set(acts[0].union(*acts[1:])) if acts else set()
    return named | {batch.planned_by_id} if side is Side.BENCH else named


def stands_in(batch: Any, side: Side, person: Any) -> bool:
    """Whether one person stands on a side of a batch; asks for that person's rows alone, as a reading waits for it."""
    if side is Side.BENCH and batch.planned_by_id == person.pk:
        return True
    acts = [
        kind.done_in(batch.pk).filter(by=person.pk).order_by().values("pk") for kind in acts_in_batches(side)
    ]
    return bool(acts) and acts[0].union(*acts[1:], all=True).exists()


def acts_of(person: int, side: Side) -> Any:
    """
    Whether a person has done any act on one side in any batch, as part of a query that asks for more.

    Who has done none in any batch has done none in this one: a reading need not wait for the longer question.
    """
    return reduce(or_, [Exists(kind._default_manager.filter(by=person)) for kind in acts_in_batches(side)])


def has_reviewed(person: Any, batch: Any) -> bool:
    """Whether somebody stands on the review's side of a batch."""
    return stands_in(batch, Side.REVIEW, person)


class FourEyes(pgtrigger.Trigger):
    """The database refuses an approval by somebody who worked in the batch."""

    when = pgtrigger.Before
    operation = pgtrigger.Update

    def get_func(self, model: models.Model) -> str:
        """Make the rule in SQL when the trigger is installed: by then every kind of act is known."""
        worked = " UNION ALL ".join(_done_by_approver(kind) for kind in acts_in_batches(Side.BENCH))
        return f"""
            IF NEW.state = 'approved'
               AND (NEW.planned_by_id = NEW.approved_by_id OR EXISTS ({worked})) THEN
                RAISE EXCEPTION '{REFUSED}' USING ERRCODE = 'check_violation';
            END IF;
            RETURN NEW;
        """


def _done_by_approver(kind: type[Act]) -> str:
    """Rows of one kind of act, done in the row being approved by whoever approves it, as SQL."""
    rows = kind.done_in(RawSQL("NEW.id", [])).filter(by=RawSQL("NEW.approved_by_id", []))
    text, values = rows.order_by().values("pk").query.get_compiler(connection=connection).as_sql()
    return str(text) % tuple(f"'{value}'" for value in values)
