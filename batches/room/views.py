"""The preparation room: drying and the 2 mm sieve."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from batches.entries.pages import form_with_response, posted, refused_entries, refused_rows, send
from batches.repeating.going_back import coming_back, waiting_for_another
from batches.room.forms import PreparationEntryForm
from batches.room.lookups import bag_facts, sample_or_404
from particles.models import Preparation, PretreatmentDecision, Sample, SampleState
from particles.preparation.odd import odd_preparation
from particles.records.pages import page_of
from particles.records.refusals import WrongState

may_prepare = permission_required("particles.prepare", raise_exception=True)
RECORDED = ("drying_temperature_c", "drying_hours", "crushing", "fine_earth_g", "gravel_g")


@require_GET
@may_prepare
def worklist(request: HttpRequest) -> HttpResponse:
    samples = (
        Sample.objects.visible_to(request.user)
        .select_related("job__client")
        .order_by("job__received_at", "job", "line")
    )
    again = waiting_for_another(request.user)
    prepared = samples.filter(state=SampleState.PREPARED).exclude(pk__in=again.values("pk"))
    newest_first = Prefetch("pretreatment_decisions", PretreatmentDecision.objects.order_by("-pk"))
    decided = prepared.filter(pretreatment_decisions__isnull=False).distinct().prefetch_related(newest_first)
    back = page_of(request, again, key="again")
    context = {
        "back": back,
        "coming_back": coming_back(list(back)),
        "to_prepare": page_of(request, samples.filter(state=SampleState.ACCEPTED), key="prepare"),
        "to_decide": page_of(request, prepared.filter(pretreatment_decisions__isnull=True), key="decide"),
        "to_weigh": page_of(request, decided, key="weigh"),
    }
    return render(request, "batches/room/preparation.html", context)


@require_http_methods(["GET", "POST"])
@may_prepare
def prepare(request: HttpRequest, lab_number: str) -> HttpResponse:
    sample = sample_or_404(request, lab_number)
    if request.method == "GET":
        return _page(request, sample, _empty_or_as_recorded(sample))
    content = posted(request) | {"sample": str(sample.pk)}
    response = send(request, "preparation", request.POST.get("entry_id"), content)
    if response.stored:
        return _kept(request, sample, corrected=bool(content.get("seen")))
    sample = sample_or_404(request, lab_number)
    form = form_with_response(PreparationEntryForm, content, response)
    # The page about to be shown lists the newest preparation, so the next form corrects that one.
    form.data = content | {"seen": _pk(sample.preparation)}
    return _page(request, sample, form, status=response.status)


def _empty_or_as_recorded(sample: Sample) -> PreparationEntryForm:
    newest = sample.preparation
    if newest is None and sample.state != SampleState.ACCEPTED:
        raise WrongState(
            f"{sample} is “{sample.state}”; a sample is dried and sieved while it is “accepted”."
        )
    recorded = {} if newest is None else {name: _plain(getattr(newest, name)) for name in RECORDED}
    return PreparationEntryForm(initial=recorded | {"seen": _pk(newest)})


def _plain(value: Any) -> str:
    return str(value) if isinstance(value, str) else f"{value.normalize():f}"


def _pk(preparation: Preparation | None) -> str:
    return "" if preparation is None else str(preparation.pk)


def _kept(request: HttpRequest, sample: Sample, *, corrected: bool) -> HttpResponse:
    kept = sample.preparation
    next_step = "Its result is computed anew where there is one." if corrected else "Now its pretreatment."
    messages.success(
        request, f"Sample {sample.lab_number}: {kept.gravel_pct:.1f} % coarser than 2 mm. {next_step}"
    )
    for odd in odd_preparation(kept):
        messages.warning(request, f"{odd.sentence} {odd.next_step}")
    return redirect("batches:prepare" if corrected else "batches:pretreatment", sample.lab_number)


def _page(
    request: HttpRequest, sample: Sample, form: PreparationEntryForm, *, status: int = 200
) -> HttpResponse:
    recorded = list(sample.preparations.select_related("by").order_by("pk"))
    form.fields["reason"].required = bool(recorded)  # said on the page; the rule asks for it
    context = {
        "sample": sample,
        "form": form,
        "entry_id": uuid4(),
        "recorded": recorded,
        "closed": sample.why_not_corrected if recorded else "",
        "odd": odd_preparation(recorded[-1]) if recorded else [],
        "refused_entries": refused_rows(refused_entries("sample", [sample.pk]).filter(kind="preparation")),
        "facts": bag_facts(sample),
    }
    return render(request, "batches/room/prepare.html", context, status=status)
