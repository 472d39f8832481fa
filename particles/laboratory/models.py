"""The laboratory that issues the certificates."""

from __future__ import annotations

from django.db import models

from particles.records.history import audited


@audited
class Laboratory(models.Model):
    """The laboratory itself, as printed on certificates. One row."""

    name = models.CharField(max_length=200)
    address = models.TextField()
    contact = models.CharField(max_length=200)
    samples_per_duplicate = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="One duplicate for so many samples of a batch, begun; 0 for none."
    )
    invented = models.BooleanField(default=False, help_text="True for the demonstration laboratory.")

    class Meta:
        verbose_name_plural = "laboratories"
        constraints = [models.CheckConstraint(condition=models.Q(pk=1), name="there_is_one_laboratory")]

    def __str__(self) -> str:
        return self.name
