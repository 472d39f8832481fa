"""Batches: list, a new one, and the steps of one up to its hand-over."""

from __future__ import annotations

from dataclasses import replace
from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.db.models import Count, Exists, OuterRef, Q
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.text import capfirst
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from batches.balance.models import Purpose, Weighing
from batches.bench.instruments import unusable_today
from batches.bench.two_values import OtherValue, other_values
from batches.computing.models import ComputationRequest, RequestState
from batches.computing.record import gather_batch
from batches.computing.rows import CylinderRow, cylinder_rows, state_kind, steps
from batches.corrections.forms import FillingCorrectionForm
from batches.corrections.models import FILLED_AND_OPEN, FillingCorrection
from batches.entries.forms import ReasonForm
from batches.entries.pages import form_with_response, posted, send
from batches.planning import rules as planning_rules
from batches.planning.blind import is_told
from batches.planning.forms import AddDuplicateForm, FillingForm, PlanBatchForm
from batches.planning.models import OPEN_FOR_READINGS, Batch, BatchState, Run
from batches.planning.rules import unweighed_chosen
from batches.planning.soaking import soak_clock
from batches.quality.pairs import Pair, pairs_among
from batches.review import rules as review_rules
from batches.review.examination import AcrossBatch, across_batch
from batches.review.forms import HandOverForm
from batches.room.lookups import batch_or_404
from batches.timetables.rows import next_acts
from batches.voiding.forms import CannotBeWeighedForm
from particles.distribution.possible import MOST_PORTIONS
from particles.models import MethodEditionRecord, Portion, Sample, SampleState
from particles.records.pages import Done, ShownAgain, act_on, page_of
from particles.records.person import signed_in
from particles.records.refusals import RuleRefusal

may_see = permission_required("batches.see", raise_exception=True)
may_plan = permission_required("batches.plan", raise_exception=True)
may_read = permission_required("batches.read", raise_exception=True)

WHY_ABORTED = "Why the batch is given up"
READ_TO_THE_END = (
    BatchState.READINGS_COMPLETE,
    BatchState.SUBMITTED,
    BatchState.RETURNED,
    BatchState.APPROVED,
    BatchState.REOPENED,
)


@may_see
@require_GET
def batch_list(request: HttpRequest) -> HttpResponse:
    batches = (
        Batch.objects.select_related("method", "planned_by")
        .annotate(portions=Count("runs", filter=Q(runs__is_blank=False, runs__taken_out__isnull=True)))
        .order_by("-planned_at")
    )
    page = page_of(request, batches)
    following = next_acts(page, at=timezone.now())
    rows = [{"batch": b, "kind": state_kind(b.state), "next": following.get(b.pk)} for b in page]
    context = {"page": page, "rows": rows}
    return render(request, "batches/overview/list.html", context)


def portions_ready(user: Any) -> Any:
    """Weighed portions that wait for a batch."""
    weighed = Weighing.objects.filter(portion=OuterRef("pk"), purpose=Purpose.PORTION)
    return Portion.objects.filter(
        Exists(weighed),
        sample__in=Sample.objects.visible_to(user),
        sample__state=SampleState.WAITING,
        run__isnull=True,
    )


@may_plan
@require_http_methods(["GET", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    ready = portions_ready(request.user)
    methods = MethodEditionRecord.objects.filter(pk__in=ready.values("sample__job__method"))
    asked = request.POST.get("method") or request.GET.get("method")
    if asked is None and len(methods) != 1:
        return render(request, "batches/overview/new.html", {"methods": _counted(methods, ready)})
    method = get_object_or_404(methods, pk=asked) if asked and asked.isdigit() else methods[0]
    portions = (
        ready.filter(sample__job__method=method)
        .select_related("sample__job", "pretreatment")
        .prefetch_related("weighings", "sample__pretreatment_decisions")
        .order_by("sample__job__received_at", "sample__job", "sample__line")[:MOST_PORTIONS]
    )
    now = timezone.now()
    form = PlanBatchForm(
        request.POST if request.method == "POST" else None,
        portions=portions,
        on=timezone.localdate(now),
        more_due=planning_rules.more_portions_due_by(method),
    )
    outcome = act_on(
        form,
        lambda _: planning_rules.plan_batch(
            method=method, by=signed_in(request), at=now, **form.plan_arguments()
        ),
    )
    if isinstance(outcome, Done):
        made = outcome.made
        messages.success(request, f"{capfirst(str(made))} is planned. {planning_rules.next_step(made)}")
        return redirect("batches:batch", number=made.number)
    context = {
        "method": method,
        "form": form,
        "rows": form.rows(),
        "duplicate_rows": form.duplicate_rows(),
        "several": len(methods) > 1,
    }
    return render(request, "batches/overview/new.html", context, status=outcome.status)


def _counted(methods: Any, ready: Any) -> list[dict[str, Any]]:
    counts = dict(ready.values_list("sample__job__method").annotate(n=Count("pk")))
    return [{"method": method, "portions": counts[method.pk]} for method in methods]


@may_see
@require_GET
def batch(request: HttpRequest, number: str) -> HttpResponse:
    return _batch_page(request, batch_or_404(number))


def _batch_page(request: HttpRequest, batch: Batch, status: int = 200, **forms: Any) -> HttpResponse:
    rows, told = cylinder_rows(batch), is_told(request.user, batch)
    last_move = batch.moves.select_related("by").order_by("pk").last()
    context = {
        "batch": batch,
        "edition": batch.method.edition,
        "kind": state_kind(batch.state),
        "next_act": next_acts([batch], at=timezone.now()).get(batch.pk),
        "steps": steps(batch.state),
        "rows": rows,
        "told": told,
        "two_values": _two_values(batch),
        "void": [row for row in rows if row.void],
        "waiting": sum(row.waits_for_worker for row in rows),
        "to_compute": [
            row.run.cylinder.serial for row in rows if not row.run.is_blank and row.result is None
        ],
        "last_move": last_move,
        "can_be_aborted": BatchState.ABORTED in Batch.MOVES.get(batch.state, ()),
        "readable": batch.state
        in (BatchState.DISPERSED, BatchState.RUNNING, "readings complete", "returned to bench"),
        "filling_form": FillingForm(),
        "entry_id": uuid4(),
        **_filling(batch, forms.pop("refilling_form", None)),
        "hand_over_form": HandOverForm(prefix="hand-over"),
        "abort_form": ReasonForm(label=WHY_ABORTED, prefix="abort"),
        "unusable": unusable_today(batch, [row.run for row in rows], timezone.localdate()),
        **_soak(batch),
        "across": _across(batch, told=told),
        "pairs": _pairs(batch, rows) if told else [],
        "unweighed": _unweighed(batch, *forms.pop("not_taken_out", (None, None))),
        "taken_out": batch.taken_out,
        "duplicate_form": AddDuplicateForm(on=timezone.localdate(), prefix="more"),
    } | forms
    return render(request, "batches/overview/batch.html", context, status=status)


def _unweighed(
    batch: Batch, refused_pk: int | None, refused: CannotBeWeighedForm | None
) -> list[dict[str, Any]]:
    """Portions to be weighed before the soak, each with the form that takes it out, or the one that came back."""
    if batch.state != BatchState.PLANNED:
        return []
    return [
        {
            "portion": portion,
            "entry_id": uuid4(),
            "form": refused
            if refused is not None and portion.run.pk == refused_pk
            else CannotBeWeighedForm(auto_id=f"out_{portion.run.pk}_%s"),
        }
        for portion in unweighed_chosen(batch)
    ]


def _filling(batch: Batch, refused: FillingCorrectionForm | None) -> dict[str, Any]:
    """Template context of the filling: what counts, what was corrected, and the form that corrects it."""
    corrections = list(batch.filling_corrections.select_related("by").order_by("pk"))
    held: Batch | FillingCorrection = corrections[-1] if corrections else batch
    context: dict[str, Any] = {"filling": held, "filling_corrections": corrections, "refilling_id": uuid4()}
    seen = corrections[-1].pk if corrections else None
    if refused is not None:
        # The page about to be shown lists the newest correction, so the next form corrects that one.
        refused.data = {**refused.data, "seen": seen or ""}
        context["refilling_form"] = refused
    elif batch.state in FILLED_AND_OPEN:
        recorded = {"mixing_minutes": f"{held.mixing_minutes:f}", "soak_note": held.soak_note, "seen": seen}
        context["refilling_form"] = FillingCorrectionForm(initial=recorded)
    return context


def _across(batch: Batch, *, told: bool) -> AcrossBatch | None:
    if batch.state not in READ_TO_THE_END:
        return None
    records = [(each.run, each.record) for each in gather_batch(batch)]
    if not told:
        records = [(run, replace(record, label=run.bench_title)) for run, record in records]
    return across_batch(records, batch.method.edition)


def _pairs(batch: Batch, rows: list[CylinderRow]) -> list[Pair]:
    return pairs_among([(row.run, row.result) for row in rows if not row.run.is_blank], batch)


def _two_values(batch: Batch) -> list[OtherValue]:
    """Values that wait for somebody to choose between them and the reading that counts."""
    if batch.state not in OPEN_FOR_READINGS:
        return []
    runs = (
        batch.runs.in_plan().select_related("cylinder", "batch").prefetch_related("readings__by", "replunges")
    )
    return other_values(list(runs))


def _soak(batch: Batch) -> dict[str, Any]:
    """Template context of a soak: its clock, and what is said when it has lasted too long."""
    clock = soak_clock(batch, timezone.now())
    said = ""
    if clock is not None and clock.is_too_long:
        until = timezone.localtime(clock.too_long_from)
        said = (
            f"Soaked for {clock.soaked_h:.1f} h; the method allows {clock.maximum_h:g} h, "
            f"until {until:%-d %b, %H:%M}."
        )
    return {"soak": clock, "soaked_too_long": said}


@may_plan
@require_POST
def add_duplicate(request: HttpRequest, number: str) -> HttpResponse:
    batch, now = batch_or_404(number), timezone.now()
    form = AddDuplicateForm(request.POST, on=timezone.localdate(now), prefix="more")
    outcome = act_on(
        form, lambda typed: planning_rules.add_duplicate(batch, by=signed_in(request), at=now, **typed)
    )
    if isinstance(outcome, ShownAgain):
        return _batch_page(request, batch_or_404(number), outcome.status, duplicate_form=form)
    messages.success(request, f"{capfirst(str(outcome.made.portion))} is open. Weigh it now.")
    return redirect("batches:batch", number=number)


@may_plan
@require_POST
def take_out_duplicate(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """Take a portion that the program asked for and nobody can weigh out of its batch."""
    run = get_object_or_404(Run.objects.select_related("portion"), pk=pk, batch__number=number)
    content = posted(request) | {"portion": str(run.portion_id)}
    response = send(request, "cannot be weighed", request.POST.get("entry_id"), content)
    batch = batch_or_404(number)
    if not response.stored:
        form = form_with_response(CannotBeWeighedForm, content, response, auto_id=f"out_{pk}_%s")
        if batch.state != BatchState.PLANNED or run.portion not in unweighed_chosen(batch):
            messages.error(request, response.sentence)  # the page has no place for the form any more
        return _batch_page(request, batch, response.status, not_taken_out=(run.pk, form))
    other = "Another can be added below. " if planning_rules.candidates(batch) else ""
    messages.success(
        request, f"{capfirst(str(run.portion))} is taken out of the batch. {other}The reviewer is told."
    )
    return redirect("batches:batch", number=number)


@may_plan
@require_POST
def soak(request: HttpRequest, number: str) -> HttpResponse:
    batch = batch_or_404(number)
    try:
        planning_rules.start_soak(batch, by=signed_in(request), at=timezone.now())
    except RuleRefusal as refusal:
        return _batch_page(request, batch_or_404(number), 409, soak_refused=str(refusal))
    messages.success(request, "The soak runs. Cover the beakers.")
    return redirect("batches:batch", number=number)


@may_plan
@require_POST
def disperse(request: HttpRequest, number: str) -> HttpResponse:
    kept = "The cylinders are filled. Start them at the bench."
    return _sent_on(request, number, "filling", FillingForm, place="filling_form", kept=kept)


@may_plan
@require_POST
def correct_filling(request: HttpRequest, number: str) -> HttpResponse:
    kept = "What was recorded at the filling is corrected; both stay on record."
    return _sent_on(
        request, number, "filling, corrected", FillingCorrectionForm, place="refilling_form", kept=kept
    )


def _sent_on(
    request: HttpRequest, number: str, kind: str, form_class: type[Any], *, place: str, kept: str
) -> HttpResponse:
    """Send a form about the batch on as an entry; refused, it comes back at its place on the page."""
    content = posted(request) | {"batch": str(batch_or_404(number).pk)}
    response = send(request, kind, request.POST.get("entry_id"), content)
    if not response.stored:
        form = form_with_response(form_class, content, response)
        return _batch_page(request, batch_or_404(number), response.status, **{place: form})
    messages.success(request, kept)
    return redirect("batches:batch", number=number)


@may_read
@require_POST
def submit(request: HttpRequest, number: str) -> HttpResponse:
    batch, form = batch_or_404(number), HandOverForm(request.POST, prefix="hand-over")
    outcome = act_on(
        form, lambda typed: review_rules.submit(batch, by=signed_in(request), at=timezone.now(), **typed)
    )
    if isinstance(outcome, ShownAgain):
        for sentence in form.non_field_errors():
            messages.error(request, str(sentence))
        return _batch_page(request, batch_or_404(number), outcome.status, hand_over_form=form)
    messages.success(request, "Handed over to review.")
    return redirect("batches:batch", number=number)


@may_plan
@require_POST
def abort(request: HttpRequest, number: str) -> HttpResponse:
    batch = batch_or_404(number)
    form = ReasonForm(request.POST, label=WHY_ABORTED, prefix="abort")
    outcome = act_on(form, lambda typed: batch.abort(by=signed_in(request), at=timezone.now(), **typed))
    if isinstance(outcome, ShownAgain):
        return _batch_page(request, batch_or_404(number), outcome.status, abort_form=form)
    messages.success(request, f"{capfirst(str(batch))} is given up. Its samples wait for new portions.")
    return redirect("batches:batch", number=number)


@may_see
@require_GET
def computed(request: HttpRequest, number: str) -> JsonResponse:
    """Number of computations of the batch that still wait for a worker, as JSON."""
    waiting = ComputationRequest.objects.filter(
        run__batch__number=batch_or_404(number).number, state__in=[RequestState.ASKED, RequestState.RUNNING]
    )
    return JsonResponse({"waiting": waiting.count()})
