from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import ExpressionWrapper, Q

from particles.models.history import audited, never_changed, never_deleted


class ClientQuerySet(models.QuerySet["Client"]):
    def visible_to(self, user: Any) -> ClientQuerySet:
        if user.has_perm("particles.see_all_jobs"):
            return self
        if user.has_perm("particles.see_own_jobs"):
            return self.filter(people__user=user).distinct()
        return self.none()


@audited
class Client(models.Model):
    """Who sends soil and owns its results."""

    name = models.CharField(max_length=200, unique=True)
    address = models.TextField()
    contact = models.CharField(max_length=200, blank=True)

    objects = ClientQuerySet.as_manager()

    class Meta:
        ordering = ["name"]
        triggers = [never_deleted()]

    def __str__(self) -> str:
        return self.name


@audited
class ClientPerson(models.Model):
    """A log-in that may see one client's jobs: the client's own people, or a consultant by written consent."""

    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="people")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="client_places")
    granted_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    granted_at = models.DateTimeField()
    consent = models.CharField(max_length=200, help_text="Where the client's written consent is kept.")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["client", "user"], name="one_place_per_person_and_client")
        ]

    def __str__(self) -> str:
        return f"{self.user} for {self.client}"


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
