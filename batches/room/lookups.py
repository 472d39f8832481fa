"""Finds what an address names, or answers 404."""

from __future__ import annotations

from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from batches.planning.models import Batch
from particles.models import Portion, Sample


def sample_or_404(request: HttpRequest, lab_number: str) -> Sample:
    """The sample with this lab number, if the person may see it."""
    visible = Sample.objects.visible_to(request.user).select_related("job__method", "job__client")
    return get_object_or_404(visible, lab_number=lab_number)


def portion_or_404(request: HttpRequest, code: str) -> Portion:
    """The portion with this code on its beaker, if the person may see its sample."""
    related = ("sample__job__method", "sample__job__client", "duplicate_of")
    visible = Portion.of_code(code).filter(sample__in=Sample.objects.visible_to(request.user))
    return get_object_or_404(visible.select_related(*related))


def batch_or_404(number: str) -> Batch:
    """The batch with this number."""
    return get_object_or_404(
        Batch.objects.select_related(
            "method", "lot", "hydrometer", "thermometer", "planned_by", "approved_by"
        ),
        number=number,
    )


def bag_facts(sample: Sample) -> list[tuple[str, object]]:
    """Facts of a bag that the pages of preparation show at their side."""
    return [
        ("Label on the bag", sample.client_label),
        ("Depth", sample.depth_text),
        ("Client", sample.job.client),
        ("Job", sample.job.number),
        ("Origin", ", ".join(filter(None, [sample.origin_region, sample.origin_country]))),
        ("Mass received", f"{sample.received_mass_g} g" if sample.received_mass_g is not None else None),
        ("Condition", sample.condition),
    ]
