"""The preparation room: drying, the 2 mm sieve, and the decision on pretreatment."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from particles.forms.preparation import EvidenceForm, PreparationForm, PretreatmentForm
from particles.models import PretreatmentDecision, Sample, SampleState
from particles.pretreatment_advice import Advice, advise
from particles.pretreatment_decisions import decide
from particles.refusals import RuleRefusal, WrongState
from particles.views.pages import page_of

_DRY_GENTLY_BELOW_C = Decimal(40)


@require_GET
@permission_required("particles.prepare", raise_exception=True)
def worklist(request: HttpRequest) -> HttpResponse:
    samples = (
        Sample.objects.visible_to(request.user)
        .select_related("job__client")
        .order_by("job__received_at", "job", "line")
    )
    prepared = samples.filter(state=SampleState.PREPARED)
    newest_first = Prefetch("pretreatment_decisions", PretreatmentDecision.objects.order_by("-pk"))
    decided = prepared.filter(pretreatment_decisions__isnull=False).distinct().prefetch_related(newest_first)
    context = {
        "to_prepare": page_of(request, samples.filter(state=SampleState.ACCEPTED), key="prepare"),
        "to_decide": page_of(request, prepared.filter(pretreatment_decisions__isnull=True), key="decide"),
        "to_weigh": page_of(request, decided, key="weigh"),
    }
    return render(request, "particles/preparation.html", context)


def _sample(request: HttpRequest, lab_number: str) -> Sample:
    samples = Sample.objects.visible_to(request.user).select_related("job__client", "job__method")
    return get_object_or_404(samples, lab_number=lab_number)


@require_http_methods(["GET", "POST"])
@permission_required("particles.prepare", raise_exception=True)
def prepare(request: HttpRequest, lab_number: str) -> HttpResponse:
    sample = _sample(request, lab_number)
    if request.method == "GET":
        if sample.state != SampleState.ACCEPTED:
            raise WrongState(
                f"{sample} is “{sample.state}”; a sample is dried and sieved while it is “accepted”."
            )
        return _prepare_page(request, sample, PreparationForm())
    form = PreparationForm(request.POST)
    if not form.is_valid():
        return _prepare_page(request, sample, form, status=422)
    try:
        kept = sample.prepare(by=request.user, at=timezone.now(), **form.cleaned_data)
    except RuleRefusal as refusal:
        form.add_error(None, str(refusal))
        return _prepare_page(request, sample, form, status=409)
    messages.success(
        request, f"Sample {lab_number}: {kept.gravel_pct:.1f} % coarser than 2 mm. Now its pretreatment."
    )
    for doubt in _doubts(sample, kept):
        messages.warning(request, doubt)
    return redirect("particles:pretreatment", lab_number)


def _doubts(sample: Sample, kept: Any) -> list[str]:
    doubts = []
    together_g = kept.fine_earth_g + kept.gravel_g
    if sample.received_mass_g is not None and together_g > sample.received_mass_g:
        doubts.append(
            f"{together_g} g after drying is more than the {sample.received_mass_g} g received. "
            "Kept as typed; look for a forgotten tare or a swapped bag."
        )
    if kept.drying_temperature_c > _DRY_GENTLY_BELOW_C:
        doubts.append(
            f"Dried at {kept.drying_temperature_c} °C, above {_DRY_GENTLY_BELOW_C} °C (common practice). "
            "Clay may disperse less easily."
        )
    return doubts


def _prepare_page(
    request: HttpRequest, sample: Sample, form: PreparationForm, *, status: int = 200
) -> HttpResponse:
    context = {"sample": sample, "form": form, "facts": _facts(sample)}
    return render(request, "particles/prepare.html", context, status=status)


def _facts(sample: Sample) -> list[tuple[str, object]]:
    return [
        ("Label on the bag", sample.client_label),
        ("Depth", sample.depth_text),
        ("Client", sample.job.client),
        ("Job", sample.job.number),
        ("Origin", ", ".join(filter(None, [sample.origin_region, sample.origin_country]))),
        ("Mass received", f"{sample.received_mass_g} g" if sample.received_mass_g is not None else None),
        ("Condition", sample.condition),
    ]


@require_http_methods(["GET", "POST"])
@permission_required("particles.prepare", raise_exception=True)
def pretreatment(request: HttpRequest, lab_number: str) -> HttpResponse:
    sample = _sample(request, lab_number)
    wish = sample.job.pretreatment_wish
    newest = sample.pretreatment
    if request.method == "GET":
        if sample.state != SampleState.PREPARED:
            raise WrongState(f"{sample} is “{sample.state}”; pretreatment is decided while it is “prepared”.")
        return _pretreatment_page(
            request, sample, PretreatmentForm(wish=wish, initial=_evidence_seen(newest))
        )
    if "show_advice" in request.POST:
        return _advice_page(request, sample, wish)
    form = PretreatmentForm(request.POST, wish=wish)
    if not form.is_valid():
        return _pretreatment_page(request, sample, form, _advice(form, wish), status=422)
    at = timezone.now()
    try:
        kept = decide(sample, seen=form.cleaned_data["seen"], by=request.user, at=at, **form.decision)
    except RuleRefusal as refusal:
        form.add_error(None, str(refusal))
        # The page about to be shown lists the newest decision, so the next answer is to that one.
        newest = sample.pretreatment
        form.data = request.POST.copy()
        form.data["seen"] = str(newest.pk) if newest else ""
        return _pretreatment_page(request, sample, form, _advice(form, wish), status=409)
    messages.success(
        request, f"Sample {lab_number}, pretreatment decided: {kept.in_words}. It is ready to weigh."
    )
    return redirect("particles:preparation")


def _evidence_seen(newest: PretreatmentDecision | None) -> dict[str, Any]:
    """What the newest decision knew; the decision itself is never proposed again."""
    if newest is None:
        return {}
    return {name: getattr(newest, name) for name in EvidenceForm.base_fields} | {"seen": newest.pk}


def _advice_page(request: HttpRequest, sample: Sample, wish: str) -> HttpResponse:
    evidence = EvidenceForm(request.POST)
    if not evidence.is_valid():
        form = PretreatmentForm(request.POST, wish=wish)
        form.full_clean()
        for name in set(form.errors) - set(evidence.errors):
            del form.errors[name]
        return _pretreatment_page(request, sample, form, status=422)
    form = PretreatmentForm(initial=request.POST.dict(), wish=wish)
    return _pretreatment_page(request, sample, form, _advice(evidence, wish))


def _advice(form: EvidenceForm, wish: str) -> tuple[Advice, ...]:
    known = form.cleaned_data
    return advise(
        known.get("organic_matter_pct"), known.get("conductivity_ds_m"), known.get("fizz", "not tried"), wish
    )


def _pretreatment_page(
    request: HttpRequest,
    sample: Sample,
    form: PretreatmentForm,
    advice: tuple[Advice, ...] = (),
    *,
    status: int = 200,
) -> HttpResponse:
    context = {
        "sample": sample,
        "form": form,
        "advice": advice,
        "facts": _facts(sample),
        "wish": sample.job.pretreatment_wish,
        "against_the_wish": form.is_bound and form.against_the_wish,
        "decisions": sample.pretreatment_decisions.select_related("by").order_by("-pk"),
    }
    return render(request, "particles/pretreatment.html", context, status=status)
