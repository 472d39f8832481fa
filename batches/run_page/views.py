"""The page of one cylinder: what was measured, what came out, why."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.text import capfirst
from django.views.decorators.http import require_GET, require_POST

from batches.balance.stacks import stacks_of
from batches.bench.rules import current_readings, missing_slots, newest_stirring, time_zero
from batches.bench.state import unit_of
from batches.computing.models import Flag, RequestState, Result
from batches.computing.record import gather, moisture_pct
from batches.computing.rows import RANK, state_kind
from batches.corrections.models import density_in_force, density_in_words
from batches.entries.forms import ReasonForm
from batches.exchanging.rows import put_right_at
from batches.planning.blind import OF_THE_BAG, is_told
from batches.planning.models import OPEN_FOR_READINGS, UNDER_REVIEW, Run
from batches.quality.pairs import Pair, pair_of
from batches.readers.rows import seconds_of
from batches.review.rules import fresh_result
from batches.run_page.rows import curve_context, explained_context, next_readings
from batches.voiding import rules as voiding_rules
from batches.voiding.models import void_of
from batches.voiding.rows import seen_context
from particles.distribution import (
    DistributionError,
    Finding,
    Severity,
    SizeDistribution,
    compute_distribution,
)
from particles.records.pages import ShownAgain, act_on
from particles.records.person import signed_in

WHY_LIFTED = "Why the run is not void"


@permission_required("batches.see", raise_exception=True)
@require_GET
def run(request: HttpRequest, pk: int) -> HttpResponse:
    return _page(request, _run_or_404(pk))


@permission_required("batches.review", raise_exception=True)
@require_POST
def lift_void(request: HttpRequest, pk: int) -> HttpResponse:
    """Lift the void of a run that was made void by mistake; the QA officer does so."""
    run = _run_or_404(pk)
    form = ReasonForm(request.POST, label=WHY_LIFTED, prefix="lift")
    outcome = act_on(
        form, lambda typed: voiding_rules.lift_void(run, by=signed_in(request), at=timezone.now(), **typed)
    )
    if isinstance(outcome, ShownAgain):
        return _page(request, _run_or_404(pk), status=outcome.status, lift_form=form)
    messages.success(request, f"{capfirst(str(outcome.made.void.run))} counts again. {_after_lifting(run)}")
    return redirect("batches:run", pk=pk)


def _after_lifting(run: Run) -> str:
    if run.batch.state in UNDER_REVIEW:
        return (
            "Return the batch to the bench: what is missing is read there, and the figures are computed anew."
        )
    missing = missing_slots(run)
    if missing:
        return f"{len(missing)} of its readings are still missing: read them, or say why not."
    return "Its figures are computed anew."


def _run_or_404(pk: int) -> Run:
    return get_object_or_404(
        Run.objects.select_related(
            "batch__method", "batch__hydrometer", "batch__thermometer", "batch__lot", "cylinder",
            "portion__sample__job__client", "portion__pretreatment", "run_start__by",
        ),
        pk=pk,
    )  # fmt: skip


def _page(
    request: HttpRequest, run: Run, *, status: int = 200, lift_form: ReasonForm | None = None
) -> HttpResponse:
    told = is_told(request.user, run.batch)
    context: dict[str, Any] = {
        "run": run,
        "told": told,
        "void": void_of(run),
        "batch": run.batch,
        "kind": state_kind(run.batch.state),
        "unit": unit_of(run.batch),
        "start": getattr(run, "run_start", None),
        "readings": _marked(run),
        "seconds": seconds_of(run),
        "missing_slots": missing_slots(run),
        "put_right": put_right_at(run),
    }
    if lift_form is not None or (void_of(run) and run.batch.state in voiding_rules.LIFTED_IN):
        context["lift_form"] = lift_form or ReasonForm(label=WHY_LIFTED, prefix="lift")
    context |= seen_context(Q(run=run))
    if run.portion is not None:
        context["density"] = density_in_words(density_in_force(run.portion))
        context |= _masses(run) | _figures(run) | {"pairs": _pairs(run) if told else []}
        if not told:
            context |= _of_the_cylinder(context)
        if context.get("distribution") is not None:
            context |= _next(run, context["missing_slots"])
            context |= curve_context(context["distribution"], run.batch.method.edition)
            if request.GET.get("explain") == "1":
                context |= explained_context(gather(run), run.batch.method.edition)
    return render(request, "batches/run_page/run.html", context, status=status)


def _of_the_cylinder(context: dict[str, Any]) -> dict[str, Any]:
    """What is said of the run, without what rests on its bag."""
    said = {name: context[name] for name in ("flags", "findings", "notes") if name in context}
    return {name: [each for each in found if each.code not in OF_THE_BAG] for name, found in said.items()}


def _marked(run: Run) -> list[dict[str, Any]]:
    """Every reading, with whether a later one took its place or the cylinder was stirred again after it."""
    found = run.readings.select_related("by", "replunge", "entry__handed_in__by").order_by(
        "slot_s", "replunge__turn", "attempt"
    )
    zero, newest = newest_stirring(run), {reading.pk for reading in current_readings(run)}
    return [
        {
            "reading": r,
            "superseded": r.pk not in newest,
            "before_stirring": r.replunge_id != (zero.pk if zero else None),
        }
        for r in found
    ]


def _masses(run: Run) -> dict[str, Any]:
    assert run.portion is not None
    weighings = list(run.portion.weighings.select_related("balance", "by").order_by("purpose", "attempt"))
    newest = {w.purpose: w for w in weighings}
    return {
        "weighings": [{"weighing": w, "superseded": newest[w.purpose] is not w} for w in weighings],
        "moisture_pct": moisture_pct({p: float(w.mass_g) for p, w in newest.items()}),
        "stacks": stacks_of(run.portion),
    }


def _pairs(run: Run) -> list[Pair]:
    pair = pair_of(run)
    return [] if pair is None else [pair]


def _figures(run: Run) -> dict[str, Any]:
    """The stored result of what is recorded now; else figures worked out on the spot and marked preliminary."""
    context: dict[str, Any]
    result = fresh_result(run)
    if result is not None:
        flags = sorted(result.flags.select_related("review__by"), key=lambda f: RANK[f.severity])
        context = {
            "result": result,
            "flags": [flag for flag in flags if flag.severity != Flag.Severity.NOTE],
            "notes": [flag for flag in flags if flag.severity == Flag.Severity.NOTE],
        }
        return context | _shown(result.distribution, result)
    request = run.requests.order_by("pk").last()
    waits = request is not None and request.state in (RequestState.ASKED, RequestState.RUNNING)
    context = {
        "waits_for_worker": waits,
        "failed": request is not None and request.state == RequestState.FAILED,
        "request": request,
        "missing_of_blank": missing_slots(run.batch.blank),
    }
    if not run.readings.exists():
        return context
    try:
        distribution = compute_distribution(gather(run), run.batch.method.edition, draws=0)
    except DistributionError as error:
        return context | {"not_computable": str(error)}
    so_far = _so_far(distribution.findings, done=not missing_slots(run))
    return context | {"preliminary": True} | so_far | _shown(distribution, None)


STILL_TO_COME = frozenset({"slots_absent", "too_few_points", "limit_far_from_points", "outer_slot_missing"})
"""What is said of a run that is done, and would only say of one under way that it is not."""


def _so_far(findings: tuple[Finding, ...], *, done: bool) -> dict[str, Any]:
    findings = tuple(found for found in findings if done or found.code not in STILL_TO_COME)
    return {
        "findings": [finding for finding in findings if finding.severity is not Severity.NOTE],
        "notes": [finding for finding in findings if finding.severity is Severity.NOTE],
    }


def _next(run: Run, missing_slots: list[int]) -> dict[str, Any]:
    """Template context of when a running cylinder is best read next."""
    started_at = time_zero(run)
    if started_at is None or not missing_slots or run.batch.state not in OPEN_FOR_READINGS:
        return {}
    elapsed_s = (timezone.now() - started_at).total_seconds()
    return {"next_readings": next_readings(gather(run), run.batch.method.edition, elapsed_s)}


def _shown(distribution: SizeDistribution | None, result: Result | None) -> dict[str, Any]:
    if distribution is None:
        return {}
    fractions = distribution.fractions
    shares = [] if fractions is None else [
        ("Sand", fractions.sand), ("Silt", fractions.silt), ("Clay", fractions.clay)
    ]  # fmt: skip
    chances = () if distribution.texture is None else distribution.texture.chances
    return {
        "distribution": distribution,
        "shares": shares,
        "chances": [(name, 100 * chance) for name, chance in chances if chance >= 0.005],
        "figures_are_shown": result is None or result.figures is not None,
    }
