"""Nonconforming work: what was found wrong in an approved batch, and what it touches."""

from __future__ import annotations

import pgtrigger
from django.db import models
from django.db.models import DateTimeField, OuterRef, Q, Subquery

from batches.planning.models import Batch, BatchState
from batches.review.models import Approval
from particles.records.act import Act
from particles.records.history import audited, never_changed

SETTLED_IN = (BatchState.APPROVED, BatchState.REJECTED)
"""States in which what was found wrong is settled: signed anew, or given up."""


@audited
class NonconformingWork(Act):
    """The act that re-opens an approved batch; its signature stays on record and counts no more."""

    batch_path = "batch"

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="nonconforming")
    approval = models.ForeignKey(
        Approval,
        on_delete=models.PROTECT,
        related_name="taken_back_by",
        null=True,
        blank=True,
        help_text="The signature that counts no more; empty for one from before signatures were kept.",
    )
    approved = models.CharField(max_length=200, help_text="Who had signed, and when.")
    found = models.TextField(help_text="What was found wrong.")
    found_by = models.CharField(
        max_length=120, help_text="Who found it: a client, an audit, somebody of the laboratory."
    )
    touches = models.JSONField(
        help_text="Samples, jobs and issued certificates that rest on the batch, as listed then."
    )

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "nonconforming work"
        constraints = [
            models.CheckConstraint(
                condition=~Q(found="") & ~Q(found_by=""), name="nonconforming_work_says_what_and_by_whom"
            )
        ]
        triggers = [
            never_changed(),
            pgtrigger.Trigger(
                name="only_an_approved_batch",
                when=pgtrigger.Before,
                operation=pgtrigger.Insert,
                func="""
                IF NOT EXISTS (
                    SELECT 1 FROM batches_batch b WHERE b.id = NEW.batch_id AND b.state = 'approved'
                ) THEN
                    RAISE EXCEPTION 'only an approved batch is re-opened' USING ERRCODE = 'check_violation';
                END IF;
                RETURN NEW;
                """,
            ),
        ]

    def __str__(self) -> str:
        return f"nonconforming work in {self.batch}"

    @classmethod
    def open_since(cls, batch: str) -> Subquery:
        """When the batch that a row names by the path `batch` was re-opened; null once that is settled."""
        unsettled = cls._default_manager.exclude(batch__state__in=SETTLED_IN)
        newest = unsettled.filter(batch=OuterRef(batch)).order_by("-pk")
        return Subquery(newest.values("at")[:1], output_field=DateTimeField())
