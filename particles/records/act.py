"""
The base of everything somebody did: who, when, and where it was done in a batch, in which batch.

Nobody signs a batch they worked in. Who worked in one is not a list that somebody keeps: it is every
concrete subclass of `Act` with a `batch_path`, so that a new kind of act counts from its first row.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from enum import StrEnum
from typing import Any, ClassVar

from django.conf import settings
from django.db import models

from particles.records.person import Person


class Side(StrEnum):
    """The side of the signature on which an act stands: nobody stands on both in one batch."""

    BENCH = "bench"
    """Work that a reviewer judges."""
    REVIEW = "review"
    """Judgement of that work."""


class Act(models.Model):
    """Something one person did at one moment."""

    batch_path: ClassVar[str] = ""
    """Relations that lead from the act to the batch it was done in, as in a queryset; '' for acts in no batch."""
    side: ClassVar[Side] = Side.BENCH

    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        abstract = True

    @classmethod
    def done_in(cls, batch: Any) -> models.QuerySet[Any]:
        """
        Rows of this kind of act that were done in a batch.

        Parameters
        ----------
        batch : a batch, or an expression that gives its primary key.
        """
        return cls._default_manager.filter(**{cls.batch_path: batch})


class ReasonedAct(Act):
    """An act that says why."""

    reason = models.CharField(max_length=300)

    class Meta:
        abstract = True


def done(by: Person, at: datetime) -> dict[str, Any]:
    """Fields of an act that name who did it and when."""
    return {"by": by, "at": at}


def kinds_of_act(base: type[Act] = Act) -> Iterator[type[Act]]:
    """Every concrete kind of act below `base`, each once, abstract ones passed through."""
    for kind in base.__subclasses__():
        if not kind._meta.abstract:
            yield kind
        yield from kinds_of_act(kind)


def acts_in_batches(side: Side) -> list[type[Act]]:
    """Kinds of act on one side that are done in a batch, in order of their names."""
    found = {kind for kind in kinds_of_act() if kind.batch_path and kind.side is side}
    return sorted(found, key=lambda kind: kind._meta.label)
