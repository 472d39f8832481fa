"""Rules for reference soils: when one is used up."""

from __future__ import annotations

from datetime import datetime

from particles.records.act import done
from particles.records.person import Person
from particles.records.refusals import AlreadyThere, NotPossible
from particles.reference_soils.models import ReferenceSoil, ReferenceSoilUsedUp


def use_up(soil: ReferenceSoil, *, reason: str, by: Person, at: datetime) -> ReferenceSoilUsedUp:
    """End a reference soil with a reason: no portion of it is placed any more."""
    if not reason.strip():
        raise NotPossible("Say why no portion of it is placed any more.")
    earlier = ReferenceSoilUsedUp.objects.filter(soil=soil).select_related("by").first()
    if earlier is not None:
        raise AlreadyThere(f"{soil} was ended already, by {earlier.by}: {earlier.reason}")
    return ReferenceSoilUsedUp.objects.create(soil=soil, reason=reason.strip(), **done(by, at))
