"""Opening a portion and weighing it."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.text import capfirst
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from batches.balance.advice import WeighingAdvice, stem_for, weighing_advice
from batches.balance.forms import WeighingForm
from batches.balance.models import CLOSED_FOR_MASSES, Purpose, SieveMass, Weighing
from batches.balance.rows import (
    hides_bag,
    mass_lines,
    missing_masses,
    needed_purposes,
    portions_to_weigh,
    samples_to_open,
)
from batches.computing.record import moisture_pct
from batches.corrections.forms import DensityCorrectionForm
from batches.corrections.models import density_in_force, density_in_words
from batches.entries.door import Response
from batches.entries.pages import form_with_response, posted, send
from batches.planning.blind import OF_THE_BAG
from batches.repeating.going_back import coming_back, waiting_for_another
from batches.repeating.rules import why_another_portion
from batches.review.odd_values import odd_masses
from batches.room.forms import ASSUMED_DENSITY_G_CM3, TakePortionForm
from batches.room.lookups import portion_or_404, sample_or_404
from particles.models import Portion, Sample, SampleState
from particles.records.pages import page_of

DENSITY_BOXES = "density_%s"
"""Their names on the page, where another form has a reason too."""
may_plan = permission_required("batches.plan", raise_exception=True)


@may_plan
@require_GET
def weighing(request: HttpRequest) -> HttpResponse:
    to_weigh = page_of(request, portions_to_weigh(request.user), key="weigh_page")
    again = waiting_for_another(request.user)
    back = page_of(request, again, key="again")
    context = {
        "back": back,
        "coming_back": coming_back(list(back)),
        "to_open": page_of(request, samples_to_open(request.user).exclude(pk__in=again.values("pk"))),
        "to_weigh": to_weigh,
        "lines": [
            {
                "portion": portion,
                "missing": missing_masses(portion),
                "by_code": hides_bag(request.user, portion),
            }
            for portion in to_weigh
        ],
    }
    return render(request, "batches/balance/weighing.html", context)


@may_plan
@require_POST
def take_portion(request: HttpRequest, lab_number: str) -> HttpResponse:
    sample = sample_or_404(request, lab_number)
    content = posted(request) | {"sample": str(sample.pk)}
    response = send(request, "portion", request.POST.get("entry_id"), content)
    if not response.stored:
        form = form_with_response(TakePortionForm, content, response)
        sample = sample_or_404(request, lab_number)
        return _weigh_page(request, sample, sample.portion, take_form=form, status=response.status)
    opened = sample.portion
    messages.success(request, f"{capfirst(str(opened))} is open. Weigh it now.")
    return redirect("batches:weigh", lab_number=lab_number)


@may_plan
@require_http_methods(["GET", "POST"])
def weigh(request: HttpRequest, lab_number: str) -> HttpResponse:
    """Open a portion of a sample, or weigh its latest."""
    sample = sample_or_404(request, lab_number)
    return _weigh(request, sample, sample.portion)


@may_plan
@require_http_methods(["GET", "POST"])
def weigh_portion(request: HttpRequest, code: str) -> HttpResponse:
    """Weigh the portion with this code."""
    portion = portion_or_404(request, code)
    return _weigh(request, portion.sample, portion, by_code=True)


def with_portion(content: dict[str, str]) -> dict[str, str]:
    """What a form holds, with the portion whose code it names; no page carries the row of a portion."""
    found = Portion.of_code(content.get("portion", "")).first()
    return content | {"portion": "" if found is None else str(found.pk)}


def _weigh(
    request: HttpRequest, sample: Sample, portion: Portion | None, *, by_code: bool = False
) -> HttpResponse:
    if request.method == "GET":
        return _weigh_page(request, sample, portion, by_code=by_code)
    content = with_portion(posted(request))
    response = send(request, "weighing", request.POST.get("entry_id"), content)
    if response.stored:
        messages.success(request, response.sentence)
        return redirect(request.get_full_path())
    if not by_code and portion is not None and hides_bag(request.user, portion):
        messages.error(request, response.sentence)  # the page has no place for the form any more
    return _weigh_page(
        request,
        sample,
        portion,
        by_code=by_code,
        typed=content,
        response=response,
        status=response.status,
    )


def _weigh_page(
    request: HttpRequest,
    sample: Sample,
    portion: Portion | None,
    *,
    by_code: bool = False,
    take_form: TakePortionForm | None = None,
    density_form: DensityCorrectionForm | None = None,
    typed: dict[str, str] | None = None,
    response: Response | None = None,
    status: int = 200,
) -> HttpResponse:
    of_a_soil = hasattr(sample, "reference_soil")
    hidden = portion is not None and hides_bag(request.user, portion)
    opens = (
        not of_a_soil
        and not (hidden and by_code)
        and sample.state == SampleState.PREPARED
        and sample.pretreatment is not None
    )
    decision = sample.pretreatment if opens or portion is None else portion.decision
    context: dict[str, Any] = {
        "sample": sample,
        "portion": portion,
        "decision": decision,
        "preparation": sample.preparation,
        "may_correct": not sample.why_not_corrected and request.user.has_perm("particles.prepare"),
        "opens": opens,
        "without_bag": hidden and by_code,
        "without_portion": hidden and not by_code,
        "entry_id": uuid4(),
        "correction_id": uuid4(),
        "opening_id": uuid4(),
    }
    if opens or take_form is not None:
        context["take_form"] = take_form or TakePortionForm(
            initial={"reason": why_another_portion(sample)[:300]}
        )
    advice: WeighingAdvice | None = None
    if decision is not None:
        density_g_cm3 = ASSUMED_DENSITY_G_CM3
        if portion is not None:
            density_g_cm3 = density_in_force(portion).particle_density_g_cm3
        advice = weighing_advice(
            decision.field_texture,
            sample.job.method,
            getattr(portion, "run", None),
            float(density_g_cm3),
            timezone.now(),
        )
        if not context["without_bag"]:
            context["advice"] = advice
    if portion is not None:
        out = hasattr(portion, "run") and hasattr(portion.run, "taken_out")
        # By its code alone a portion shows no aim either: only some have one.
        aim = {} if context["without_bag"] else _aim(portion, advice)
        context |= _recorded(portion, typed, response, aim, open_for_masses=not (opens or out))
        stem = stem_for(getattr(portion, "run", None), timezone.localdate())
        if not context["without_bag"]:
            context |= _densities(portion, density_form, open_for_it=context["open_for_masses"])
        odd = (
            []
            if opens or context["without_portion"]
            else odd_masses(portion, sample.job.method.edition, stem)
        )
        context["odd"] = [each for each in odd if not (hidden and each.code in OF_THE_BAG)]
    return render(request, "batches/balance/weigh.html", context, status=status)


def _densities(
    portion: Portion, refused: DensityCorrectionForm | None, *, open_for_it: bool
) -> dict[str, Any]:
    """The particle density that counts, those before it, and the form that supersedes it."""
    run = getattr(portion, "run", None)
    first = portion.duplicate_of or portion
    corrections = list(first.density_corrections.select_related("by").order_by("pk"))
    context: dict[str, Any] = {
        "density": density_in_words(density_in_force(portion)),
        "density_as_opened": first,
        "density_corrections": corrections,
    }
    is_open = open_for_it and (run is None or run.batch.state not in CLOSED_FOR_MASSES)
    if is_open or refused is not None:
        form = refused or DensityCorrectionForm(auto_id=DENSITY_BOXES)
        if form.is_bound:
            # The page about to be shown lists the newest density, so the next form corrects that one.
            form.data = {**form.data, "seen": corrections[-1].pk if corrections else ""}
        else:
            form.initial = {"seen": corrections[-1].pk if corrections else None}
        context |= {"density_form": form, "density_id": uuid4(), "density_of": first}
    return context


@may_plan
@require_POST
def correct_density(request: HttpRequest, lab_number: str) -> HttpResponse:
    """Record another particle density for the sample's newest portion."""
    sample = sample_or_404(request, lab_number)
    attempt = request.POST.get("attempt", "")
    first = sample.portions.filter(attempt=attempt if attempt.isdigit() else 0, duplicate_of=None).first()
    content = posted(request) | {"sample": str(sample.pk), "portion": "" if first is None else str(first.pk)}
    response = send(request, "particle density", request.POST.get("entry_id"), content)
    if not response.stored:
        form = form_with_response(DensityCorrectionForm, content, response, auto_id=DENSITY_BOXES)
        sample = sample_or_404(request, lab_number)
        return _weigh_page(request, sample, sample.portion, density_form=form, status=response.status)
    messages.success(
        request, "The particle density is corrected. A result that rests on it is computed anew."
    )
    return redirect("batches:weigh", lab_number=lab_number)


def _aim(portion: Portion, advice: WeighingAdvice | None) -> dict[str, str]:
    """The mass that stands as the aim until somebody types another: the last one, else what is advised."""
    last_g = Weighing.aims_g([portion]).get(portion.pk)
    if last_g is None and advice is not None and advice.predicted is not None:
        last_g = float(advice.predicted.recommended.mass_g)
    return {} if last_g is None else {"aimed_g": f"{last_g:g}"}


def _recorded(
    portion: Portion,
    typed: dict[str, str] | None,
    response: Response | None,
    aim: dict[str, str],
    *,
    open_for_masses: bool,
) -> dict[str, Any]:
    lines = mass_lines(portion, needed_purposes(portion))
    corrects = typed is not None and "reason" in typed
    fresh = WeighingForm(initial=aim)
    with_response = form_with_response(WeighingForm, typed, response) if response is not None else fresh
    form, correction = (fresh, with_response) if corrects else (with_response, fresh)
    masses = {str(line.purpose): float(line.weighings[-1].mass_g) for line in lines if line.weighings}
    return {
        "lines": lines,
        "form": form,
        "correction": correction,
        "corrects": corrects,
        "missing_fields": [form[form.field_name(line.purpose)] for line in lines if not line.weighings],
        "recorded_fields": [correction[form.field_name(line.purpose)] for line in lines if line.weighings],
        "not_begun": Purpose.PORTION not in masses,
        "asks_again": response is not None and bool(with_response.errors.get("portion_g")),
        "moisture_pct": moisture_pct(masses),
        "sieved": SieveMass.objects.filter(portion=portion).exists(),
        "run": getattr(portion, "run", None),
        "open_for_masses": open_for_masses,
    }
