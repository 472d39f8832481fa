"""
Proficiency rounds: what is sent in, what was locked before the report, the report, and the answers to it.

Order is held by the database: samples join before the lock, the lock comes before any assigned value, nothing of it
is changed, and each answer belongs to one entered value.
"""

from __future__ import annotations

import hashlib
import json
from typing import Any

import pgtrigger
from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q

from particles.models import Sample
from particles.records.act import Act, ReasonedAct, Side
from particles.records.history import audited, never_changed

FRACTIONS = ("sand", "silt", "clay")


def _refused_when(condition: str, *, words: str, name: str) -> pgtrigger.Trigger:
    """The database takes no row for which this SQL condition holds."""
    return pgtrigger.Trigger(
        name=name,
        when=pgtrigger.Before,
        operation=pgtrigger.Insert,
        func=f"""
        IF {condition} THEN
            RAISE EXCEPTION '{words}' USING ERRCODE = 'check_violation';
        END IF;
        RETURN NEW;
        """,
    )


@audited
class Round(Act):
    """One proficiency round the laboratory takes part in."""

    side = Side.REVIEW

    provider_code = models.CharField(max_length=40, unique=True, help_text="As the provider writes it.")
    closes_on = models.DateField(help_text="Last day for results at the provider.")
    note = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-closes_on", "-pk"]
        constraints = [models.CheckConstraint(condition=~Q(provider_code=""), name="a_round_has_a_code")]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"round {self.provider_code}"


@audited
class RoundSample(Act):
    """A sample of the laboratory that came from a round; known on the pages of the rounds alone."""

    side = Side.REVIEW

    round = models.ForeignKey(Round, on_delete=models.PROTECT, related_name="samples")
    sample = models.ForeignKey(Sample, on_delete=models.PROTECT, related_name="+")
    item = models.CharField(max_length=40, help_text="The provider's name of the sample.")

    class Meta:
        ordering = ["pk"]
        constraints = [models.CheckConstraint(condition=~Q(item=""), name="a_round_sample_has_a_name")]
        triggers = [
            never_changed(),
            _refused_when(
                "EXISTS (SELECT 1 FROM batches_roundlock l WHERE l.round_id = NEW.round_id)",
                words="the results of this round are locked",
                name="joins_before_the_lock",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.item} of {self.round}"


@audited
class RoundSampleTakenBack(ReasonedAct):
    """The word that a sample was put into a round by mistake; possible until its results are locked."""

    side = Side.REVIEW

    link = models.OneToOneField(RoundSample, on_delete=models.PROTECT, related_name="taken_back")

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "round samples taken back"
        constraints = [models.CheckConstraint(condition=~Q(reason=""), name="taking_a_sample_back_says_why")]
        triggers = [
            never_changed(),
            _refused_when(
                "EXISTS (SELECT 1 FROM batches_roundlock l JOIN batches_roundsample s ON s.round_id = l.round_id"
                " WHERE s.id = NEW.link_id)",
                words="the results of this round are locked",
                name="taken_back_before_the_lock",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.link}, taken back"


@audited
class RoundLock(Act):
    """The results of a round as they were sent in: copied, with a digest, before anybody knows the report."""

    side = Side.REVIEW

    round = models.OneToOneField(Round, on_delete=models.PROTECT, related_name="lock")
    figures = models.JSONField(
        help_text="One entry a sample: its figures as signed, and every attempt at it."
    )
    digest = models.CharField(max_length=64)

    class Meta:
        triggers = [
            never_changed(),
            _refused_when(
                "NOT EXISTS (SELECT 1 FROM batches_roundsample s LEFT JOIN batches_roundsampletakenback t"
                " ON t.link_id = s.id WHERE s.round_id = NEW.round_id AND t.id IS NULL)",
                words="a round without samples has nothing to lock",
                name="locks_something",
            ),
        ]

    def __str__(self) -> str:
        return f"locked results of {self.round}"

    @property
    def is_unaltered(self) -> bool:
        """Whether the figures still have the digest they were locked with."""
        return figures_digest(self.figures) == self.digest


def figures_digest(figures: list[dict[str, Any]]) -> str:
    """Digest of locked figures, the same for any order of their names."""
    canonical = json.dumps(figures, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(canonical.encode()).hexdigest()


@audited
class AssignedValue(Act):
    """One figure of a round's report, as somebody typed it; a correction is a new row that says why."""

    side = Side.REVIEW

    lock = models.ForeignKey(RoundLock, on_delete=models.PROTECT, related_name="assigned_values")
    link = models.ForeignKey(RoundSample, on_delete=models.PROTECT, related_name="assigned_values")
    fraction = models.CharField(max_length=4, choices=[(name, name) for name in FRACTIONS])
    attempt = models.PositiveSmallIntegerField(default=1)
    value_pct = models.DecimalField(max_digits=7, decimal_places=4, help_text="Assigned value X. [%]")
    sigma_pt_pct = models.DecimalField(
        max_digits=7, decimal_places=4, help_text="Standard deviation for proficiency assessment. [%]"
    )
    uncertainty_pct = models.DecimalField(
        max_digits=7, decimal_places=4, default=0, help_text="Standard uncertainty u(X); 0: none given. [%]"
    )
    participants_pct = ArrayField(
        models.DecimalField(max_digits=7, decimal_places=4),
        default=list,
        blank=True,
        help_text="Participants' values, where the report gives them. [%]",
    )
    reason = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["link", "fraction", "attempt"]
        constraints = [
            models.UniqueConstraint(
                fields=["link", "fraction", "attempt"], name="one_assigned_value_per_attempt"
            ),
            models.CheckConstraint(condition=Q(sigma_pt_pct__gt=0), name="sigma_pt_positive"),
            models.CheckConstraint(
                condition=Q(uncertainty_pct__gte=0), name="assigned_uncertainty_not_negative"
            ),
            models.CheckConstraint(
                condition=Q(value_pct__gte=0, value_pct__lte=100), name="assigned_value_possible"
            ),
            models.CheckConstraint(
                condition=Q(attempt=1) | ~Q(reason=""), name="a_corrected_report_says_why"
            ),
        ]
        triggers = [
            never_changed(),
            _refused_when(
                "NOT EXISTS (SELECT 1 FROM batches_roundlock l JOIN batches_roundsample s ON s.round_id = l.round_id"
                " WHERE l.id = NEW.lock_id AND s.id = NEW.link_id)",
                words="no assigned value before the results of its round are locked",
                name="after_the_lock_of_its_round",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.fraction} assigned to {self.link}"


@audited
class ScoreAnswer(Act):
    """The answer in words to scores that are not satisfactory: what was found, and what is done about it."""

    side = Side.REVIEW

    assigned = models.OneToOneField(AssignedValue, on_delete=models.PROTECT, related_name="answer")
    cause = models.CharField(max_length=600, help_text="What was looked at, and what was found.")
    action = models.CharField(max_length=600, help_text="What is done, by whom, until when.")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(cause="") & ~Q(action=""), name="an_answer_says_cause_and_action"
            )
        ]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"answer on {self.assigned}"
