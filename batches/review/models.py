"""The reviewer's notes on flags, and decisions on runs, signatures, and looks at a batch."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from batches.computing.models import Flag, Result
from batches.planning.models import Batch
from particles.records.act import Act, Side
from particles.records.history import audited, never_changed
from particles.records.sentence import LEAST_OF_A_SENTENCE


@audited
class FlagReview(Act):
    """The reviewer's note on a flag, and whether the certificate prints the flag."""

    batch_path = "flag__result__run__batch"
    side = Side.REVIEW

    flag = models.OneToOneField(Flag, on_delete=models.PROTECT, related_name="review")
    note = models.CharField(max_length=500)
    printed = models.BooleanField(default=True, help_text="Printed as a qualifier.")

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(note=""), name="a_review_has_a_note")]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"review of {self.flag}"


@audited
class RunDecision(Act):
    """The reviewer's decision on what leaves the laboratory for one run; the newest counts."""

    batch_path = "result__run__batch"
    side = Side.REVIEW

    class Choice(models.TextChoices):
        """The reviewer's choices for one run."""

        REPORT = "report", "report the figures"
        QUALIFIED = (
            "with qualifier",
            "report the figures with a qualifier in your own words, which is printed",
        )
        WITHOUT_FIGURES = "without figures", "report without figures, saying why"
        REPEAT = "repeat", "repeat with a new portion"

    result = models.ForeignKey(Result, on_delete=models.PROTECT, related_name="decisions")
    choice = models.CharField(max_length=16, choices=Choice.choices)
    note = models.CharField(max_length=500, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(choice="report") | ~Q(note=""), name="an_exception_says_why"),
            models.CheckConstraint(
                condition=~Q(choice="without figures") | Q(note__regex=LEAST_OF_A_SENTENCE),
                name="no_figures_for_a_sentence",
            ),
        ]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"{self.result}: {self.choice}"


@audited
class Approval(Act):
    """One signature under a batch, with what it meant and everything it covered; later ones do not take it away."""

    batch_path = "batch"
    side = Side.REVIEW

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="approvals")
    rule = models.PositiveSmallIntegerField(
        help_text="By which the digest is made; 1 is that of a batch without a row."
    )
    digest = models.CharField(max_length=64)
    meaning = models.TextField(help_text="As shown to whoever signed.")
    covered = models.TextField(help_text="Every line the digest is made of.")
    why_rest = models.CharField(
        max_length=500,
        blank=True,
        help_text="Why a failure in the batch does not touch the samples approved.",
    )
    what_became = models.CharField(
        max_length=500,
        blank=True,
        help_text="What became of what was found wrong, in a batch that was re-opened.",
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(digest="") & ~Q(meaning="") & ~Q(covered=""), name="a_signature_is_whole"
            )
        ]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"signature under {self.batch}"


@audited
class QualityLook(Act):
    """A reviewer's word that the quality control of a batch was looked at, before its samples."""

    batch_path = "batch"
    side = Side.REVIEW

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="quality_looks")
    passed = models.BooleanField(help_text="Whether every line had passed.")
    said = models.TextField(help_text="The lines as they were shown.")
    note = models.CharField(max_length=500, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(passed=True) | ~Q(note=""), name="what_did_not_pass_is_answered"
            )
        ]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"quality control of {self.batch}, looked at"


class LastLook(models.Model):
    """The figures of a batch as one person last saw them, and as they saw them before something changed."""

    batch = models.ForeignKey(Batch, on_delete=models.CASCADE, related_name="last_looks")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    at = models.DateTimeField()
    seen = models.JSONField(help_text="Run: sand, silt, clay and class.")
    before_at = models.DateTimeField(null=True, blank=True)
    before = models.JSONField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["batch", "person"], name="one_last_look")]

    def __str__(self) -> str:
        return f"{self.person} at {self.batch}"
