"""What the client told us, put right: on a form misread, by a letter, after a complaint."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.conf import settings
from django.db import IntegrityError, models, transaction
from django.db.models import Q

from particles.models.client import Client
from particles.models.history import audited, never_changed
from particles.models.job import Job
from particles.models.sample import Sample
from particles.refusals import AlreadyThere, NotPossible

CORRECTABLE: dict[type[models.Model], dict[str, str]] = {
    Sample: {"client_label": "label", "depth_text": "depth", "sampled_on": "day of sampling"},
    Job: {"client_reference": "client’s reference"},
    Client: {"name": "name", "address": "address", "contact": "contact"},
}
"""Facts the client supplied, and their words. Nothing measured, no origin and no owner is among them."""


@audited
class Correction(models.Model):
    """One such fact: what it was, what it is, who, when, why."""

    sample = models.ForeignKey(Sample, on_delete=models.PROTECT, related_name="corrections", null=True)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="corrections", null=True)
    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="corrections", null=True)
    fact = models.CharField(max_length=40)
    before = models.TextField(blank=True)
    after = models.TextField(blank=True)
    reason = models.CharField(max_length=300)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

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
        return self.sample or self.job or self.client


@transaction.atomic
def correct_facts(thing: Any, *, by: Any, at: datetime, reason: str, **facts: Any) -> list[Correction]:
    """
    Put right what the client supplied; what was before stays on record.

    Refused without a reason, when nothing would change, or when the facts contradict others.
    """
    kind = type(thing)
    unknown = set(facts) - set(CORRECTABLE[kind])
    assert not unknown, f"{unknown} is nothing a client supplies"
    if not reason.strip():
        raise NotPossible("Say why it is corrected, and who said so.")
    held = kind._default_manager.select_for_update(no_key=True).get(pk=thing.pk)
    changed = {name: value for name, value in facts.items() if getattr(held, name) != value}
    if not changed:
        raise NotPossible(f"{held} says so already; nothing was changed.")
    if kind is Sample:
        _refuse_day_after_receipt(held, changed.get("sampled_on"))
    made = [
        Correction.objects.create(
            **{kind.__name__.lower(): held},
            fact=CORRECTABLE[kind][name],
            before=_in_words(getattr(held, name)),
            after=_in_words(value),
            reason=reason.strip(),
            by=by,
            at=at,
        )
        for name, value in changed.items()
    ]
    for name, value in changed.items():
        setattr(held, name, value)
    try:
        with transaction.atomic():
            held.save(update_fields=list(changed))
    except IntegrityError as error:
        raise AlreadyThere(
            f"Another {kind._meta.verbose_name} here carries these words already; two need to differ."
        ) from error
    return made


def _refuse_day_after_receipt(sample: Any, sampled_on: date | None) -> None:
    received_on = sample.job.received_at.date()
    if sampled_on is not None and sampled_on > received_on:
        raise NotPossible(
            f"Sampled on {sampled_on:%-d %b %Y} would be after receipt on {received_on:%-d %b %Y}."
        )


def _in_words(value: Any) -> str:
    return f"{value:%-d %b %Y}" if isinstance(value, date) else str(value or "")
