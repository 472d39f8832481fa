"""Rules for which origins are regulated: one set of rules for the page and for the command."""

from __future__ import annotations

from datetime import date

from django.db import transaction

from particles.permits.models import RegulatedArea
from particles.records.refusals import NotPossible


@transaction.atomic
def list_area(*, country: str, region: str, rule: str, listed_on: date, today: date) -> RegulatedArea:
    """
    Put an origin on the list of those whose soil is not opened; the same one twice is one row.

    Refused without country or rule, and for a day that has not come: the list holds from the moment it is entered.
    """
    country, region, rule = country.strip(), region.strip(), rule.strip()
    if not country or not rule:
        raise NotPossible("A regulated area needs its country and the rule.")
    if listed_on > today:
        raise NotPossible(f"{listed_on:%-d %b %Y} has not come yet, and what is listed holds at once.")
    known = RegulatedArea.objects.filter(
        country__iexact=country, region__iexact=region, rule__iexact=rule
    ).first()
    return known or RegulatedArea.objects.create(
        country=country, region=region, rule=rule, listed_on=listed_on
    )
