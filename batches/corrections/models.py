"""Corrections of a portion's particle density and masses, and of what was recorded when the cylinders were filled."""

from __future__ import annotations

from decimal import Decimal

from django.db import models
from django.db.models import Q

from batches.balance.models import LARGEST_PORTION_G, Weighing
from batches.entries.models import EnteredAct
from batches.exchanging.models import batch_open_for_putting_right
from batches.planning.models import Batch, BatchState, batch_open_for
from particles.distribution.possible import PARTICLE_DENSITY_POSSIBLE_G_CM3
from particles.models import Portion
from particles.portions.density import ParticleDensity
from particles.records.history import audited, never_changed
from particles.records.superseding import Superseding

LIGHTEST, HEAVIEST = PARTICLE_DENSITY_POSSIBLE_G_CM3.ends
FILLED_AND_OPEN = (
    BatchState.DISPERSED,
    BatchState.RUNNING,
    BatchState.READINGS_COMPLETE,
    BatchState.RETURNED,
)


@audited
class DensityCorrection(ParticleDensity, EnteredAct, Superseding):
    """A corrected particle density of a first portion; its duplicate, the same soil, follows it."""

    batch_path = "portion__run__batch"

    portion = models.ForeignKey(Portion, on_delete=models.PROTECT, related_name="density_corrections")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["portion"], condition=Q(supersedes__isnull=True), name="one_first_density_correction"
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="a_corrected_density_says_why"),
            models.CheckConstraint(
                condition=Q(particle_density_g_cm3__gte=LIGHTEST, particle_density_g_cm3__lte=HEAVIEST),
                name="corrected_density_possible",
            ),
        ]
        triggers = [
            never_changed(),
            batch_open_for("densities", joined="u.portion_id = NEW.portion_id"),
        ]

    def __str__(self) -> str:
        return f"particle density of {self.portion}"

    @property
    def in_words(self) -> str:
        """The corrected density in words."""
        return density_in_words(self)


def density_in_force(portion: Portion) -> Portion | DensityCorrection:
    """The record that holds the particle density that counts: the portion, its first portion or the last correction."""
    first: Portion = portion if portion.duplicate_of_id is None else portion.duplicate_of
    return max(first.density_corrections.all(), key=lambda each: each.pk, default=first)


def density_in_words(held: Portion | DensityCorrection) -> str:
    """The particle density with its unit, whether it was measured, and by what."""
    return held.density_in_words


@audited
class FillingCorrection(EnteredAct, Superseding):
    """A corrected time on the mixer or note on why the soak was cut short; no figure rests on either."""

    batch_path = "batch"

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="filling_corrections")
    mixing_minutes = models.DecimalField(max_digits=4, decimal_places=1)
    soak_note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["batch"], condition=Q(supersedes__isnull=True), name="one_first_filling_correction"
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="a_corrected_filling_says_why"),
            models.CheckConstraint(condition=Q(mixing_minutes__gt=0), name="corrected_mixing_positive"),
        ]
        triggers = [never_changed(), batch_open_for("fillings", joined="u.batch_id = NEW.batch_id")]

    def __str__(self) -> str:
        return f"filling of {self.batch}"

    @property
    def in_words(self) -> str:
        """The corrected filling in words."""
        return filling_in_words(self)


def filling_in_force(batch: Batch) -> Batch | FillingCorrection:
    """The record that holds the time on the mixer and the note on the soak that count."""
    return max(batch.filling_corrections.all(), key=lambda each: each.pk, default=batch)


def filling_in_words(held: Batch | FillingCorrection) -> str:
    """The time on the mixer, and the note on a soak cut short."""
    note = f", soak cut short: {held.soak_note}" if held.soak_note else ""
    return f"{held.mixing_minutes:.1f} min on the mixer{note}"


@audited
class MassCorrection(Superseding):
    """
    A mass that counts in the place of a weighing, by the QA officer: what was typed is not what was weighed.

    It holds for this weighing alone: a portion weighed once more has the mass of that.
    """

    batch_path = "portion__run__batch"

    portion = models.ForeignKey(Portion, on_delete=models.PROTECT, related_name="mass_corrections")
    weighing = models.ForeignKey(Weighing, on_delete=models.PROTECT, related_name="corrections")
    mass_g = models.DecimalField(max_digits=9, decimal_places=4)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["weighing"], condition=Q(supersedes__isnull=True), name="one_first_mass_correction"
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="a_corrected_mass_says_why"),
            models.CheckConstraint(
                condition=Q(mass_g__gte=0, mass_g__lte=LARGEST_PORTION_G), name="corrected_mass_possible"
            ),
        ]
        triggers = [never_changed(), batch_open_for_putting_right("u.portion_id = NEW.portion_id")]

    def __str__(self) -> str:
        return f"{self.weighing}, put right"

    @property
    def in_words(self) -> str:
        """The mass with its unit."""
        return mass_in_words(self.mass_g)


def mass_in_words(mass_g: Decimal) -> str:
    """The mass with its unit."""
    return f"{mass_g.normalize():f} g"


def newest_weighing(portion: Portion, purpose: str) -> Weighing | None:
    """The newest weighing of a portion for one purpose, whether corrected or not."""
    of = [w for w in portion.weighings.all() if w.purpose == purpose]
    return max(of, key=lambda weighing: weighing.attempt, default=None)


def masses_in_force_g(portion: Portion) -> dict[str, float]:
    """The mass that counts for each purpose: of the newest weighing, or of the correction in its place. [g]"""
    weighings = sorted(portion.weighings.all(), key=lambda weighing: weighing.attempt)
    newest = {str(weighing.purpose): weighing for weighing in weighings}
    corrections = sorted(portion.mass_corrections.all(), key=lambda correction: correction.pk)
    corrected = {each.weighing_id: each.mass_g for each in corrections}
    return {purpose: float(corrected.get(w.pk, w.mass_g)) for purpose, w in newest.items()}
