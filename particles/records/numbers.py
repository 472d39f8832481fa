"""Numbers given out once each: jobs, samples, batches, certificates."""

from __future__ import annotations

from django.db import models


class NumberSeries(models.Model):
    """The last number given out in a year; locked while the next is taken, so no number is given twice."""

    name = models.CharField(max_length=24)
    year = models.PositiveSmallIntegerField()
    last = models.PositiveIntegerField(default=0)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["name", "year"], name="one_series_per_name_and_year")]

    def __str__(self) -> str:
        return f"{self.name} {self.year}: {self.last}"

    @classmethod
    def take(cls, name: str, year: int) -> int:
        """Next number of a series; call inside a transaction."""
        cls.objects.get_or_create(name=name, year=year)
        series = cls.objects.select_for_update(no_key=True).get(name=name, year=year)
        series.last += 1
        series.save(update_fields=["last"])
        return series.last
