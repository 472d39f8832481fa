"""The decision on pretreatment: advice, the decision, and what supersedes it."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from batches.entries.pages import form_with_response, posted, refused_entries, refused_rows, send
from batches.repeating.rules import salts_to_wash_out
from batches.room.forms import PretreatmentEntryForm
from batches.room.lookups import bag_facts, sample_or_404
from batches.room.views import may_prepare
from particles.models import PretreatmentDecision, Sample, SampleState
from particles.preparation.advice import Advice, advise
from particles.preparation.forms import EvidenceForm
from particles.preparation.rules import superseded_by_the_next
from particles.records.refusals import WrongState


@require_http_methods(["GET", "POST"])
@may_prepare
def pretreatment(request: HttpRequest, lab_number: str) -> HttpResponse:
    sample = sample_or_404(request, lab_number)
    if request.method == "GET":
        return _page(request, sample, PretreatmentEntryForm(initial=_evidence_seen(sample)))
    if "show_advice" in request.POST:
        return _advice_page(request, sample)
    content = posted(request) | {"sample": str(sample.pk)}
    response = send(request, "pretreatment", request.POST.get("entry_id"), content)
    if response.stored:
        return _kept(request, sample_or_404(request, lab_number))
    sample = sample_or_404(request, lab_number)
    form = form_with_response(PretreatmentEntryForm, content, response)
    advice = _advice(form, sample)
    if not response.field_errors:
        # The page about to be shown lists the newest decision, so the next form corrects that one.
        form.data = content | {"seen": _pk(sample.pretreatment)}
    return _page(request, sample, form, advice, status=response.status)


def _kept(request: HttpRequest, sample: Sample) -> HttpResponse:
    kept, number = sample.pretreatment, sample.lab_number
    if sample.state == SampleState.PREPARED:
        messages.success(
            request, f"Sample {number}, pretreatment decided: {kept.in_words}. It is ready to weigh."
        )
        return redirect("batches:preparation")
    messages.success(
        request, f"Sample {number}, pretreatment corrected: {kept.in_words}. Look which masses it needs now."
    )
    return redirect("batches:weigh", number)


def _pk(decision: PretreatmentDecision | None) -> str:
    return "" if decision is None else str(decision.pk)


def _evidence_seen(sample: Sample) -> dict[str, Any]:
    """Evidence of the newest decision, as initial values; the decision itself is never proposed again."""
    newest = sample.pretreatment
    if newest is None:
        if sample.state != SampleState.PREPARED:
            raise WrongState(f"{sample} is “{sample.state}”; pretreatment is decided while it is “prepared”.")
        return {}
    return {name: getattr(newest, name) for name in EvidenceForm.base_fields} | {"seen": newest.pk}


def _advice_page(request: HttpRequest, sample: Sample) -> HttpResponse:
    evidence = EvidenceForm(request.POST)
    if not evidence.is_valid():
        form = PretreatmentEntryForm(request.POST)
        form.full_clean()
        for name in set(form.errors) - set(evidence.errors):
            del form.errors[name]
        return _page(request, sample, form, status=422)
    form = PretreatmentEntryForm(initial=request.POST.dict())
    return _page(request, sample, form, _advice(evidence, sample))


def _advice(form: EvidenceForm, sample: Sample) -> tuple[Advice, ...]:
    known = form.cleaned_data
    return advise(
        known.get("organic_matter_pct"),
        known.get("conductivity_ds_m"),
        known.get("fizz", "not tried"),
        sample.job.pretreatment_wish,
        flocculated=salts_to_wash_out(sample),
    )


def _page(
    request: HttpRequest,
    sample: Sample,
    form: PretreatmentEntryForm,
    advice: tuple[Advice, ...] = (),
    *,
    status: int = 200,
) -> HttpResponse:
    decided, superseded = sample.pretreatment is not None, superseded_by_the_next(sample)
    form.fields["why_superseded"].required = superseded is not None  # said on the page; the rule asks for it
    context = {
        "sample": sample,
        "form": form,
        "entry_id": uuid4(),
        "advice": advice,
        "salts_first": salts_to_wash_out(sample),
        "facts": bag_facts(sample),
        "wish": sample.job.pretreatment_wish,
        "against_the_wish": form.is_bound and form.against_the_wish,
        "decisions": sample.pretreatment_decisions.select_related("by", "superseded_by").order_by("-pk"),
        "superseded": superseded,
        "after_weighing": decided and sample.state != SampleState.PREPARED,
        "closed": sample.why_not_corrected if decided else "",
        "refused_entries": refused_rows(refused_entries("sample", [sample.pk]).filter(kind="pretreatment")),
    }
    return render(request, "batches/room/pretreatment.html", context, status=status)
