"""
Entries as they were typed and received, and what became of each.

An entry is kept before anybody judges it. What became of it is a row of its own, so the
entry itself never changes. The tablet names each entry; the same name with the same
content is the same entry however often it is sent, and with other content it is kept
beside the first one and refused.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import IntegrityError, models

from particles.records.act import Act
from particles.records.history import audited, never_changed
from particles.records.person import Person
from particles.records.written_once import WrittenOnce

PLACES = ("run", "portion", "sample", "batch", "seen")


def content_sha256(kind: str, content: dict[str, Any]) -> str:
    """Digest of the kind and the content of an entry, the same for any order of its names."""
    canonical = json.dumps([kind, content], sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(canonical.encode()).hexdigest()


@audited
class Entry(models.Model):
    """One act as a person typed it, kept before it is judged."""

    entry_id = models.UUIDField(help_text="Given by the device that took it.")
    kind = models.CharField(max_length=24)
    content = models.JSONField(help_text="As typed.")
    content_sha256 = models.CharField(max_length=64)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    device = models.CharField(max_length=200, blank=True)
    received_at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "entries"
        constraints = [
            models.UniqueConstraint(
                fields=["entry_id", "content_sha256", "by"], name="an_entry_is_kept_once"
            ),
        ]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"{self.kind} entry {self.entry_id}"

    @classmethod
    def keep(
        cls, entry_id: UUID, kind: str, content: dict[str, Any], *, by: Person, at: datetime, device: str = ""
    ) -> Entry:
        """
        Store an entry, or find it; safe to call any number of times.

        Outside a transaction it is one statement, and committed when this returns: nearly every entry is new, so it
        is inserted first and looked for when the database refuses a second one.
        """
        same = {"entry_id": entry_id, "content_sha256": content_sha256(kind, content), "by_id": by.pk}
        entry = cls(**same, kind=kind, content=content, received_at=at, device=device[:200])
        try:
            entry.save(force_insert=True)
        except IntegrityError:
            found = cls.objects.filter(**same).first()
            if found is None:
                raise
            return found
        return entry

    @staticmethod
    def of_name(entry_id: UUID) -> list[Judged]:
        """Every entry of one name with what became of it, in the order in which they were kept."""
        return [
            Judged(each["pk"], each["verdict__outcome"], each["verdict__sentence"] or "")
            for each in _OF_NAME(name=entry_id)
        ]

    @property
    def as_typed(self) -> list[tuple[str, str]]:
        """Names and values a person typed or chose, without those the page added to say where they belong."""
        return [(k, v) for k, v in self.content.items() if v and k not in PLACES]

    def judge(self, outcome: str, *, at: datetime, sentence: str = "") -> EntryVerdict:
        """Keep the verdict on this entry, which has none; the database takes no second one."""
        return EntryVerdict.objects.create(entry=self, outcome=outcome, sentence=sentence, at=at)


@dataclass(frozen=True)
class Judged:
    """One entry beside others of its name: what became of it."""

    pk: int
    outcome: str | None
    """None before it is judged."""
    sentence: str

    @property
    def is_stored(self) -> bool:
        """Whether what it says is stored."""
        return self.outcome == EntryVerdict.Outcome.STORED

    def is_first_of_its_name(self, named: Iterable[Judged]) -> bool:
        """Whether none of the others of this name was kept before it or has been stored."""
        # The lower number may have been committed later; what is stored already came first all the same.
        return not any(each.pk != self.pk and (each.pk < self.pk or each.is_stored) for each in named)


def _of_name(name: UUID) -> models.QuerySet[Entry, Any]:
    of_name = Entry.objects.filter(entry_id=name).order_by("pk")
    return of_name.values("pk", "verdict__outcome", "verdict__sentence")


_OF_NAME = WrittenOnce(_of_name, name=UUID(int=1))


@audited
class EntryVerdict(models.Model):
    """The verdict on an entry: stored or refused, with the sentence that was said to it."""

    class Outcome(models.TextChoices):
        """The two ways of an entry."""

        STORED = "stored"
        REFUSED = "refused"

    entry = models.OneToOneField(Entry, on_delete=models.PROTECT, related_name="verdict")
    outcome = models.CharField(max_length=8, choices=Outcome.choices)
    sentence = models.TextField(blank=True, help_text="Why it was refused, as shown to the person.")
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(outcome="stored") | ~models.Q(sentence=""), name="a_refusal_says_why"
            )
        ]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"{self.entry}: {self.outcome}"


class EnteredAct(Act):
    """An act that was typed: it names the entry as received, of which it is what the laboratory keeps."""

    entry = models.OneToOneField(Entry, on_delete=models.PROTECT, related_name="+")

    class Meta:
        abstract = True
