"""A row that takes the place of an earlier one, which stays on record."""

from __future__ import annotations

from typing import Self

from django.db import models

from particles.records.act import ReasonedAct
from particles.records.refusals import AlreadyThere, NotPossible


class Superseding(ReasonedAct):
    """A later record; the first of a chain supersedes what the portion or the batch itself holds."""

    supersedes = models.OneToOneField(
        "self", on_delete=models.PROTECT, related_name="superseded_by", null=True, blank=True
    )
    reason = models.CharField(max_length=300, help_text="What was wrong with the earlier one.")

    class Meta:
        abstract = True

    @property
    def in_words(self) -> str:
        """The record in words, by which two records are compared."""
        raise NotImplementedError

    def keep(self, *, earlier: str) -> Self:
        """Save it, unless it says no more than the earlier record in words."""
        if self.in_words == earlier:
            raise NotPossible(f"This is what is on record already: {earlier}. Nothing was corrected.")
        self.save(force_insert=True)
        return self


def require_due(newest: Superseding | None, *, seen: int | None, reason: str, what: str) -> None:
    """Refuse a correction made from an old page or without a reason; `seen` is the newest one that the page knew."""
    if newest is not None and newest.pk != seen:
        raise AlreadyThere(
            f"{newest.by} has corrected {what} meanwhile: {newest.in_words}. Read it, then correct again."
        )
    if not reason.strip():
        raise NotPossible("Say what was wrong with the earlier record; both stay.")
