"""The page of the readers: how far they lie apart where two people read the same cylinder within seconds."""

from __future__ import annotations

from datetime import timedelta

from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from batches.readers.choice import FROM_S, LIMIT_G_L, ONE_IN, WITHIN_S
from batches.readers.differences import LEAST_COMPARISONS, LEAST_SHIFT_G_L, reader_differences
from batches.readers.rows import asked_rows, comparisons, seconds_since
from particles.records.pages import page_of

LOOKED_BACK = timedelta(days=365)
"""A reader's eyes, lenses and habits change."""


@permission_required("batches.see_readers", raise_exception=True)
@require_GET
def readers(request: HttpRequest) -> HttpResponse:
    rows = seconds_since(timezone.now() - LOOKED_BACK)
    compared = comparisons(rows)
    context = {
        "readers": reader_differences(compared),
        "compared": len(compared),
        "page": page_of(request, rows),
        "asked": asked_rows(),
        "rule": {
            "one_in": ONE_IN,
            "from_min": FROM_S // 60,
            "within_s": WITHIN_S,
            "limit_g_l": LIMIT_G_L,
            "least": LEAST_COMPARISONS,
            "least_shift_g_l": LEAST_SHIFT_G_L,
        },
    }
    return render(request, "batches/readers/readers.html", context)
