"""What the reviewer says to a flag, and decides for a run."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q

from batches.computing.models import Flag, Result
from particles.records.history import audited, never_changed


@audited
class FlagReview(models.Model):
    """What the reviewer says to a flag, and whether the certificate prints it."""

    flag = models.OneToOneField(Flag, on_delete=models.PROTECT, related_name="review")
    note = models.CharField(max_length=500)
    printed = models.BooleanField(default=True, help_text="Printed as a qualifier.")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(note=""), name="a_review_has_a_note")]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"review of {self.flag}"


@audited
class RunDecision(models.Model):
    """What the reviewer lets leave the house for one run; the newest counts."""

    class Choice(models.TextChoices):
        REPORT = "report", "report the figures"
        WITHOUT_FIGURES = "without figures", "report without figures, saying why"
        REPEAT = "repeat", "repeat with a new portion"

    result = models.ForeignKey(Result, on_delete=models.PROTECT, related_name="decisions")
    choice = models.CharField(max_length=16, choices=Choice.choices)
    note = models.CharField(max_length=500, blank=True)
    by: Any = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(choice="report") | ~Q(note=""), name="an_exception_says_why")
        ]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"{self.result}: {self.choice}"
