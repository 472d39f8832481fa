"""The page of the duplicates, by which the QA officer and the manager see how two runs of one sample differ."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from batches.planning.rules import methods_with_duplicates, samples_per_duplicate
from batches.quality.own_figure import LOOKED_BACK, compared_pairs
from batches.quality.statistics import COMPARED, StandingPair, spread_of
from particles.distribution import between_run_sd_from_duplicates
from particles.distribution.inputs.between_run import (
    LEAST_PAIRS,
    RangeLimits,
    range_limits,
    sd_uncertainty_pct,
)
from particles.models import MethodEditionRecord
from particles.records.pages import page_of


@dataclass(frozen=True)
class Spread:
    """The differences of one fraction over all pairs that count, summed up. [percentage points]"""

    name: str
    limits: RangeLimits
    sd_pct: float
    sd_uncertainty_pct: float


@permission_required("batches.see_duplicates", raise_exception=True)
@require_GET
def duplicates(request: HttpRequest) -> HttpResponse:
    methods = methods_with_duplicates()
    context: dict[str, Any] = {"methods": methods, "rate": samples_per_duplicate(), "least": LEAST_PAIRS}
    if methods:
        asked = request.GET.get("method", "")
        known = MethodEditionRecord.objects.filter(pk__in=[method.pk for method in methods])
        context |= _of_method(request, get_object_or_404(known, pk=asked) if asked.isdigit() else methods[0])
    return render(request, "batches/quality/duplicates.html", context)


def _of_method(request: HttpRequest, method: MethodEditionRecord) -> dict[str, Any]:
    at = timezone.now()
    standing, left_out = compared_pairs(method, since=at - LOOKED_BACK, until=at)
    return {
        "method": method,
        "default_pct": method.edition.dispersion_sd_pct,
        "count": len(standing),
        "spread": spread_of(standing),
        "fractions": COMPARED,
        "spreads": [_spread(name, standing) for name in COMPARED] if len(standing) >= LEAST_PAIRS else [],
        "page": page_of(request, standing),
        "left_out": left_out,
    }


def _spread(name: str, pairs: list[StandingPair]) -> Spread:
    values = [pair.of(name) for pair in pairs]
    sd_pct, n = between_run_sd_from_duplicates(values)
    return Spread(name, range_limits(values), sd_pct, sd_uncertainty_pct(sd_pct, n))
