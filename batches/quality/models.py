"""What a reviewer says to two runs of one sample that lie too far apart."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from batches.computing.models import Result
from particles.records.history import audited, never_changed


@audited
class PairReview(models.Model):
    """What the reviewer says to two runs of one sample that lie too far apart; it holds for these two results."""

    first = models.ForeignKey(Result, on_delete=models.PROTECT, related_name="reviews_as_first")
    duplicate = models.ForeignKey(Result, on_delete=models.PROTECT, related_name="pair_reviews")
    sentence = models.TextField(help_text="What was found, as printed on the certificate.")
    severity = models.CharField(max_length=4)
    note = models.CharField(max_length=500)
    cause_found = models.BooleanField(
        help_text="A spill or a mix-up, for instance: the pair then says nothing of how runs scatter."
    )
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["first", "duplicate"], name="one_review_per_pair"),
            models.CheckConstraint(condition=~Q(note=""), name="a_review_of_a_pair_has_a_note"),
        ]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"review of the pair {self.first} and {self.duplicate}"
