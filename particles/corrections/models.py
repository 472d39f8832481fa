"""Corrections of what the client supplied: after a misread form, a letter or a complaint."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import Q

from particles.clients.models import Client
from particles.receiving.models import Job, Sample
from particles.records.act import ReasonedAct
from particles.records.history import audited, never_changed

CORRECTABLE: dict[type[models.Model], dict[str, str]] = {
    Sample: {"client_label": "label", "depth_text": "depth", "sampled_on": "day of sampling"},
    Job: {"client_reference": "client’s reference"},
    Client: {"name": "name", "address": "address", "contact": "contact"},
}
"""Facts the client supplied, and their words. Nothing measured, no origin and no owner is among them."""


@audited
class Correction(ReasonedAct):
    """One corrected fact that the client supplied: what it was, what it is, who, when, why."""

    sample = models.ForeignKey(Sample, on_delete=models.PROTECT, related_name="corrections", null=True)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="corrections", null=True)
    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="corrections", null=True)
    fact = models.CharField(max_length=40)
    before = models.TextField(blank=True)
    after = models.TextField(blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="a_corrected_fact_says_why"),
            models.CheckConstraint(
                condition=Q(sample__isnull=False, job__isnull=True, client__isnull=True)
                | Q(sample__isnull=True, job__isnull=False, client__isnull=True)
                | Q(sample__isnull=True, job__isnull=True, client__isnull=False),
                name="a_corrected_fact_is_of_one_thing",
            ),
        ]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"{self.fact} of {self.of}: “{self.before}” to “{self.after}”"

    @property
    def of(self) -> Any:
        """The job, bag or client that was corrected."""
        return self.sample or self.job or self.client
