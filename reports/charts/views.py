"""Chart descriptions as JSON, for people who may see what they show."""

from __future__ import annotations

from django.contrib.auth.decorators import permission_required
from django.http import Http404, HttpRequest, JsonResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from batches.causes.kept import cause_from_plain
from batches.computing.models import result_in_force
from batches.exchanging.arrangement import arrangement_of
from batches.limits.keys import ChartKey
from batches.limits.rules import chart_of
from batches.models import CauseList, Run
from batches.planning.blind import is_told
from particles.models import MethodEditionRecord
from reports.certificates.models import Certificate
from reports.charts.from_records import (
    NoChartError,
    cause_curves,
    chart_of_limits,
    run_curve,
    run_settling,
    run_small_curve,
    run_triangle,
    section_curve,
    section_triangle,
)
from reports.charts.look import Spec

OF_A_SECTION = {"size-curve": section_curve, "triangle": section_triangle}


@require_GET
@never_cache
@permission_required("batches.see", raise_exception=True)
def run_chart(request: HttpRequest, pk: int, chart: str) -> JsonResponse:
    """One chart of one cylinder: settling, size-curve or triangle."""
    related = ("batch__hydrometer", "batch__method", "cylinder", "portion__sample")
    run = get_object_or_404(Run.objects.select_related(*related), pk=pk)
    try:
        name = run.title if is_told(request.user, run.batch) else run.bench_title
        return JsonResponse(_of_run(run, chart, name))
    except NoChartError as missing:
        return _without(missing)


@require_GET
@never_cache
def certificate_chart(request: HttpRequest, number: str, lab_number: str, chart: str) -> JsonResponse:
    """The size-curve or triangle of one certified sample, from the stored content and its own method edition."""
    if chart not in OF_A_SECTION:
        raise Http404(f"A certificate has no chart named {chart}.")
    visible = Certificate.objects.visible_to(request.user).only("number", "context")
    content = get_object_or_404(visible, number=number).context
    section = next((each for each in content["samples"] if each["lab_number"] == lab_number), None)
    if section is None:
        raise Http404(f"Certificate {number} has no sample {lab_number}.")
    edition = MethodEditionRecord.objects.get(code=content["method_code"]).edition
    try:
        return JsonResponse(OF_A_SECTION[chart](section, edition))
    except NoChartError as missing:
        return _without(missing)


@require_GET
@never_cache
@permission_required("batches.see_duplicates", raise_exception=True)
def limits_chart(request: HttpRequest, address: str) -> JsonResponse:
    """One chart of quality control: points with the limits that were in force at the time of each."""
    key = ChartKey.parse(address)
    if key is None:
        raise Http404("There is no such chart.")
    try:
        return JsonResponse(chart_of_limits(chart_of(key, timezone.now()), ""))
    except NoChartError as missing:
        return _without(missing)


@require_GET
@never_cache
@permission_required("batches.see_reviews", raise_exception=True)
def cause_chart(request: HttpRequest, number: str, key: str, pk: int) -> JsonResponse:
    """Both curves of one run, as recorded and with one cause of its batch put right."""
    run = get_object_or_404(Run.objects.select_related("portion__sample"), pk=pk, batch__number=number)
    newest = CauseList.objects.filter(batch__number=number).order_by("-pk").first()
    causes = [cause_from_plain(data) for data in newest.causes] if newest is not None else []
    effects = [effect for each in causes if each.key == key for effect in each.effects]
    effect = next((each for each in effects if each.label == run.title), None)
    if effect is None:
        raise Http404("The cause is not found any more.")
    try:
        return JsonResponse(cause_curves(run, effect))
    except NoChartError as missing:
        return _without(missing)


def _of_run(run: Run, chart: str, name: str) -> Spec:
    if chart == "settling":
        held = arrangement_of(run.batch)
        own = [] if run.is_blank else held.readings(run)
        return run_settling(run, own, held.readings(run.batch.blank), name=name)
    if chart == "size-curve":
        return run_curve(run, result_in_force(run), name=name)
    if chart == "small-curve":
        return run_small_curve(run, result_in_force(run), name=name)
    if chart == "triangle":
        return run_triangle(run, result_in_force(run), name=name)
    raise Http404(f"A run has no chart named {chart}.")


def _without(missing: NoChartError) -> JsonResponse:
    return JsonResponse({"happened": str(missing)}, status=404)
