"""Reviews of pairs: two runs of one sample that differ by more than they may."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from batches.computing.models import Result
from particles.records.act import Act, Side
from particles.records.history import audited, never_changed


@audited
class PairReview(Act):
    """The reviewer's note on two runs of one sample that differ by too much; it holds for these two results."""

    batch_path = "duplicate__run__batch"
    side = Side.REVIEW

    first = models.ForeignKey(Result, on_delete=models.PROTECT, related_name="reviews_as_first")
    duplicate = models.ForeignKey(Result, on_delete=models.PROTECT, related_name="pair_reviews")
    sentence = models.TextField(help_text="What was found, as printed on the certificate.")
    severity = models.CharField(max_length=4)
    note = models.CharField(max_length=500)
    cause_found = models.BooleanField(
        help_text="A spill or a mix-up, for instance: the pair then says nothing of how runs scatter."
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["first", "duplicate"], name="one_review_per_pair"),
            models.CheckConstraint(condition=~Q(note=""), name="a_review_of_a_pair_has_a_note"),
        ]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"review of the pair {self.first} and {self.duplicate}"
