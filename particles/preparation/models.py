"""Drying and sieving of a sample, and the decision on its pretreatment."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pgtrigger
from django.db import models, transaction
from django.db.models import Q

from particles.receiving.models import OPEN_FOR_CORRECTION, Sample, SampleState
from particles.records.act import Act, ReasonedAct, done
from particles.records.history import audited, never_changed
from particles.records.person import Person
from particles.records.refusals import AlreadyThere, NotPossible


def open_for_corrections(*, first_while: str) -> pgtrigger.Trigger:
    """The first record of a sample is made in one state; what supersedes it, until review, and of the same sample."""
    names = ", ".join(f"'{state}'" for state in OPEN_FOR_CORRECTION)
    return pgtrigger.Trigger(
        name="open_for_corrections",
        when=pgtrigger.Before,
        operation=pgtrigger.Insert,
        declare=[("present", "text")],
        func=pgtrigger.Func(
            f"""
            SELECT state INTO present FROM particles_sample WHERE id = NEW.sample_id;
            IF NEW.supersedes_id IS NULL AND present <> '{first_while}' THEN
                RAISE EXCEPTION 'this is recorded of a sample that is {first_while}, this one is %', present
                    USING ERRCODE = 'check_violation';
            ELSIF NEW.supersedes_id IS NOT NULL AND present NOT IN ({names}) THEN
                RAISE EXCEPTION 'nothing is corrected of a sample that is %', present
                    USING ERRCODE = 'check_violation';
            ELSIF NEW.supersedes_id IS NOT NULL AND NOT EXISTS (
                SELECT 1 FROM {{meta.db_table}} WHERE id = NEW.supersedes_id AND sample_id = NEW.sample_id
            ) THEN
                RAISE EXCEPTION 'a correction is of the same sample' USING ERRCODE = 'check_violation';
            END IF;
            RETURN NEW;
            """
        ),
    )


@audited
class Preparation(Act):
    """A record of drying, crushing and the 2 mm sieve. A correction supersedes an earlier row; the last one counts."""

    batch_path = "sample__portions__run__batch"

    class Crushing(models.TextChoices):
        """Ways of crushing the air-dry soil."""

        BY_HAND = "by hand"
        MILL = "mill"

    sample = models.ForeignKey(Sample, on_delete=models.PROTECT, related_name="preparations")
    drying_temperature_c = models.DecimalField(max_digits=5, decimal_places=1)
    drying_hours = models.DecimalField(max_digits=6, decimal_places=1)
    crushing = models.CharField(max_length=8, choices=Crushing.choices, default=Crushing.BY_HAND)
    fine_earth_g = models.DecimalField(max_digits=9, decimal_places=1, help_text="Finer than 2 mm.")
    gravel_g = models.DecimalField(
        max_digits=9, decimal_places=1, help_text="Coarser than 2 mm; type 0 if none."
    )
    supersedes = models.OneToOneField(
        "self", on_delete=models.PROTECT, related_name="superseded_by", null=True, blank=True
    )
    # Null, because the history chain hashes a row without its nulls: rows from before keep their link.
    reason = models.CharField(  # noqa: DJ001
        max_length=300, null=True, blank=True, help_text="Why it takes the place of the earlier one."
    )
    entry_name = models.UUIDField(
        unique=True, null=True, blank=True, help_text="Of the entry it was typed in: one entry is one record."
    )

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(fine_earth_g__gt=0), name="fine_earth_positive"),
            models.CheckConstraint(condition=Q(gravel_g__gte=0), name="gravel_not_negative"),
            models.UniqueConstraint(
                fields=["sample"], condition=Q(supersedes__isnull=True), name="a_sample_is_prepared_once"
            ),
            models.CheckConstraint(
                condition=Q(supersedes__isnull=True, reason__isnull=True)
                | Q(supersedes__isnull=False, reason__isnull=False) & ~Q(reason=""),
                name="a_corrected_preparation_says_why",
            ),
        ]
        triggers = [never_changed(), open_for_corrections(first_while=SampleState.ACCEPTED)]

    def __str__(self) -> str:
        return f"preparation of {self.sample}"

    @transaction.atomic
    def correct(self, *, reason: str, by: Person, at: datetime, **recorded: Any) -> Preparation:
        """Supersede this preparation by another one; this one stays on record."""
        sample = self.sample.lock()
        sample.require_open_for_correction()
        newest: Preparation = sample.preparation
        if newest.pk != self.pk:
            raise AlreadyThere(
                f"{newest.by} has corrected the preparation of {sample} meanwhile: {newest.in_words}. "
                "Read it, then correct again."
            )
        if not reason.strip():
            raise NotPossible("Say what was wrong with the earlier preparation; both stay on record.")
        changes = {k: v for k, v in recorded.items() if k != "entry_name" and getattr(self, k) != v}
        if not changes:
            raise NotPossible(f"This is what is on record already: {self.in_words}. Nothing was corrected.")
        corrected: Preparation = sample.preparations.create(
            supersedes=self, reason=reason, **done(by, at), **recorded
        )
        return corrected

    @property
    def gravel_pct(self) -> float:
        """Gravel, coarser than 2 mm, of the whole air-dry sample. [%]"""
        return float(100 * self.gravel_g / (self.gravel_g + self.fine_earth_g))

    @property
    def in_words(self) -> str:
        """The preparation in words."""
        temperature_c, hours, fine_g, gravel_g = (
            f"{each.normalize():f}"
            for each in (self.drying_temperature_c, self.drying_hours, self.fine_earth_g, self.gravel_g)
        )
        return (
            f"dried {hours} h at {temperature_c} °C, crushed by {self.crushing.removeprefix('by ')}, "
            f"{fine_g} g finer and {gravel_g} g coarser than 2 mm"
        )


@audited
class PretreatmentDecision(ReasonedAct):
    """
    A decision on what is removed before dispersion and what is left in, with its evidence.

    The newest one counts for a portion still to be opened. A portion keeps the one it was
    opened under, or what has superseded that one.
    """

    batch_path = "sample__portions__run__batch"

    sample = models.ForeignKey(Sample, on_delete=models.PROTECT, related_name="pretreatment_decisions")
    remove_organic_matter = models.BooleanField()
    remove_carbonates = models.BooleanField()
    remove_soluble_salts = models.BooleanField()
    organic_matter_pct = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    conductivity_ds_m = models.DecimalField(max_digits=6, decimal_places=3, null=True, blank=True)
    fizz = models.CharField(
        max_length=12, choices=[(c, c) for c in ("none", "weak", "strong", "not tried")], default="not tried"
    )
    field_texture = models.CharField(max_length=40, blank=True, help_text="By feel.")
    sand_by_hand_pct = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    clay_by_hand_pct = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    supersedes = models.OneToOneField(
        "self", on_delete=models.PROTECT, related_name="superseded_by", null=True, blank=True
    )
    # Null, because the history chain hashes a row without its nulls: rows from before keep their link.
    why_superseded = models.CharField(  # noqa: DJ001
        max_length=300, null=True, blank=True, help_text="What was wrong with the earlier decision."
    )
    entry_name = models.UUIDField(
        unique=True, null=True, blank=True, help_text="Of the entry it was typed in: one entry is one record."
    )

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="pretreatment_has_a_reason"),
            models.CheckConstraint(
                condition=Q(supersedes__isnull=True, why_superseded__isnull=True)
                | Q(supersedes__isnull=False, why_superseded__isnull=False) & ~Q(why_superseded=""),
                name="a_corrected_decision_says_why",
            ),
            models.CheckConstraint(
                condition=Q(sand_by_hand_pct__isnull=True)
                | Q(clay_by_hand_pct__isnull=True)
                | Q(sand_by_hand_pct__lte=100 - models.F("clay_by_hand_pct")),
                name="a_hand_feels_no_more_than_100_pct",
            ),
        ]
        triggers = [never_changed(), open_for_corrections(first_while=SampleState.PREPARED)]

    def __str__(self) -> str:
        return f"pretreatment of {self.sample}"

    @property
    def removes_anything(self) -> bool:
        """Whether anything is removed before dispersion."""
        return self.remove_organic_matter or self.remove_carbonates or self.remove_soluble_salts

    @property
    def in_words(self) -> str:
        """The decision in words."""
        removed = [
            words
            for flag, words in (
                (self.remove_organic_matter, "organic matter"),
                (self.remove_carbonates, "carbonates"),
                (self.remove_soluble_salts, "soluble salts"),
            )
            if flag
        ]
        return f"{' and '.join(removed)} removed" if removed else "none"

    @property
    def in_words_with_evidence(self) -> str:
        """The decision in words, followed by its evidence."""
        known = (
            ("organic matter", self.organic_matter_pct, " %"),
            ("EC (1:5)", self.conductivity_ds_m, " dS/m"),
            ("fizz", self.fizz, ""),
            ("by feel", self.field_texture, ""),
            ("sand by feel", self.sand_by_hand_pct, " %"),
            ("clay by feel", self.clay_by_hand_pct, " %"),
        )
        evidence = ", ".join(
            f"{what} {value}{unit}" for what, value, unit in known if value not in (None, "")
        )
        return f"{self.in_words} ({evidence}). {self.reason}"
