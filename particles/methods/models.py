"""Method editions as the database keeps them."""

from __future__ import annotations

from datetime import datetime
from functools import cached_property, lru_cache
from typing import Any

from django.db import models

from particles.distribution import (
    METHOD_EDITIONS,
    MethodEdition,
    edition_from_plain,
    edition_to_plain,
    validate_edition,
)
from particles.records.history import audited, never_changed
from particles.records.refusals import AlreadyThere


@audited
class MethodEditionRecord(models.Model):
    """
    A method edition with its values frozen.

    A used edition never changes: the database refuses updates, so a result computed
    years ago still finds the limits that were in force.
    """

    code = models.CharField(max_length=60, unique=True)
    title = models.CharField(max_length=200)
    values = models.JSONField()
    entered_at = models.DateTimeField()

    class Meta:
        ordering = ["code"]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return self.title

    @cached_property
    def edition(self) -> MethodEdition:
        """The edition as the core's value."""
        return edition_from_plain(self.values)

    @staticmethod
    @lru_cache(maxsize=64)
    def known(pk: int) -> MethodEditionRecord:
        """The edition with this key, read once in each process: the database refuses every change of it."""
        return MethodEditionRecord.objects.get(pk=pk)

    @classmethod
    def enter_own(cls, plain: dict[str, Any], *, at: datetime) -> MethodEditionRecord:
        """
        Enter a laboratory's own edition from its plain JSON form.

        Raises
        ------
        ValueError : not the form of an edition, or one that contradicts itself (EditionError).
        AlreadyThere : the code is taken; a used edition never changes.
        """
        try:
            edition = edition_from_plain(plain)
        except (TypeError, KeyError, AttributeError) as error:
            raise ValueError(f"This is not the form of a method edition: {error}.") from error
        validate_edition(edition)
        if cls.objects.filter(code=edition.code).exists():
            raise AlreadyThere(
                f"The code {edition.code} is taken; an edition never changes. Give it a new code."
            )
        return cls.objects.create(
            code=edition.code, title=edition.title, values=edition_to_plain(edition), entered_at=at
        )

    @classmethod
    def offered(cls) -> models.QuerySet[MethodEditionRecord]:
        """Editions for new work: those that no other follows."""
        followed = {values.get("follows", "") for values in cls.objects.values_list("values", flat=True)}
        return cls.objects.exclude(code__in=followed)

    def family(self) -> set[str]:
        """Codes of the editions that follow one another with this one, itself included: one method over the years."""
        follows = {
            code: values.get("follows", "")
            for code, values in MethodEditionRecord.objects.values_list("code", "values")
        }
        found = {self.code}
        while True:
            akin = {code for code, earlier in follows.items() if code in found or earlier in found}
            akin |= {follows[code] for code in akin if follows[code] in follows}
            if akin <= found:
                return found
            found |= akin

    @classmethod
    def roots(cls) -> dict[int, str]:
        """
        Code of the first edition of each edition's family, by primary key: one name for a method over the years.

        An edition that follows none that is kept is a first one.
        """
        rows = list(cls.objects.values_list("pk", "code", "values__follows"))
        follows = {code: earlier or "" for _, code, earlier in rows}

        def root(code: str) -> str:
            while follows.get(follows[code]) is not None:
                code = follows[code]
            return code

        return {pk: root(code) for pk, code, _ in rows}

    @classmethod
    def enter_shipped(cls, *, at: datetime) -> None:
        """Write the editions that come with the program; those already there stay as they are."""
        for code, edition in METHOD_EDITIONS.items():
            cls.objects.get_or_create(
                code=code,
                defaults={"title": edition.title, "values": edition_to_plain(edition), "entered_at": at},
            )
