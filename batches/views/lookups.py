"""Finds what an address names, or answers 404."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import QuerySet
from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from batches.models import Batch
from particles.models import Sample

ROWS_PER_PAGE = 50


def sample_or_404(request: HttpRequest, lab_number: str) -> Sample:
    visible = Sample.objects.visible_to(request.user).select_related("job__method", "job__client")
    return get_object_or_404(visible, lab_number=lab_number)


def batch_or_404(number: str) -> Batch:
    return get_object_or_404(
        Batch.objects.select_related(
            "method", "lot", "hydrometer", "thermometer", "planned_by", "approved_by"
        ),
        number=number,
    )


def page_of(request: HttpRequest, rows: QuerySet[Any], name: str = "page") -> Page[Any]:
    return Paginator(rows, ROWS_PER_PAGE).get_page(request.GET.get(name))
