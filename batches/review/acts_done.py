"""Every act that was fetched with the runs of a batch, each with the person who did it, in one query."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from django.contrib.auth import get_user_model

from batches.planning.models import Run


def acts_of(runs: Iterable[Run]) -> Iterator[Any]:
    """Acts that were fetched with these runs, on both sides of the signature."""
    for run in runs:
        if hasattr(run, "run_start"):
            yield run.run_start
        yield from (*run.readings.all(), *run.replunges.all())
        for void in run.voids.all():
            yield from (void, getattr(void, "lifted", None))
        for observation in run.observations.all():
            yield from (observation, getattr(observation, "taken_back_by", None))
        if run.portion is not None:
            yield from _of_portion(run.portion)
        for result in run.results.all():
            yield from (*result.decisions.all(), *result.pair_reviews.all())
            yield from (getattr(flag, "review", None) for flag in result.flags.all())


def _of_portion(portion: Any) -> Iterator[Any]:
    yield portion
    yield from portion.weighings.all()
    yield from portion.sieve_masses.all()
    yield from portion.density_corrections.all()
    yield from portion.sample.preparations.all()
    yield from portion.sample.pretreatment_decisions.all()


def name_people(acts: Iterable[Any], known: Mapping[int, Any] | None = None) -> None:
    """Name whoever did these acts, of those `known` or fetched at once, so that no page asks for each."""
    done = [act for act in acts if act is not None]
    if not done:
        return
    people = (
        known if known is not None else get_user_model()._default_manager.in_bulk({a.by_id for a in done})
    )
    for act in done:
        if act.by_id in people:  # else the record was altered behind the database's back, which others tell
            act.by = people[act.by_id]
