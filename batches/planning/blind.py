"""
Who is told which portions are duplicates: whoever judges, and nobody who weighs or reads.

`labsite/decisions/0015-what-the-bench-must-not-know.md` says how far that goes.
"""

from __future__ import annotations

from typing import Any

from batches.planning.models import CLOSED, Batch, BatchState

AT_THE_BENCH = ("batches.plan", "batches.read")
OF_THE_BAG = frozenset(
    {"density_unusual", "density_assumed", "density_without_record", "density_apart"}
    | {"portion_too_light", "portion_too_heavy", "portion_off_advice"}
)
"""Findings that rest on the bag, its density or texture by hand: two runs that share one are of one bag."""
HANDED_OVER = (*CLOSED, BatchState.SUBMITTED)


def works_at_the_bench(person: Any) -> bool:
    """Whether a role of the person weighs or reads."""
    return any(person.has_perm(permission) for permission in AT_THE_BENCH)


def is_told(person: Any, batch: Batch) -> bool:
    """Whether a page tells this person which runs of a batch are duplicates; of an open one, nobody at the bench."""
    if not person.has_perm("batches.see_duplicates"):
        return False
    return batch.state in HANDED_OVER or not works_at_the_bench(person)
