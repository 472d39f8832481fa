"""Origins whose soil may not be opened without a permit."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import ExpressionWrapper, Q

from particles.records.history import audited, never_changed


@audited
class RegulatedArea(models.Model):
    """An origin whose soil may not be opened at the bench without a permit; the laboratory keeps the list."""

    country = models.CharField(max_length=80)
    region = models.CharField(max_length=120, blank=True, help_text="Empty: the whole country.")
    rule = models.CharField(max_length=200)
    listed_on = models.DateField()

    class Meta:
        triggers = [never_changed()]

    def __str__(self) -> str:
        return ", ".join(filter(None, [self.region, self.country]))

    @classmethod
    def covering(cls, country: Any, region: Any) -> models.QuerySet[RegulatedArea]:
        """Rules for an origin, given as query expressions. An origin without a region may lie in any of them."""
        asked = ExpressionWrapper(region, output_field=models.CharField())
        return cls.objects.annotate(asked_region=asked).filter(
            Q(country__iexact=country) & (Q(region="") | Q(region__iexact=region) | Q(asked_region=""))
        )
