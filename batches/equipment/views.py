"""The register of instruments and lots."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.text import capfirst
from django.views.decorators.http import require_GET, require_http_methods

from batches.entries.forms import ReasonForm
from batches.equipment.forms import EQUIPMENT_FORMS, CheckForm
from batches.equipment.models import (
    Balance,
    Cylinder,
    DispersantLot,
    HydrometerRecord,
    Thermometer,
    implausible_strength,
)
from particles.records.pages import Done, act_on

may_keep = permission_required("batches.keep_equipment", raise_exception=True)

INSTRUMENTS: dict[str, type[Any]] = {
    "hydrometer": HydrometerRecord,
    "thermometer": Thermometer,
    "balance": Balance,
    "cylinder": Cylinder,
}
HEADINGS = {
    "hydrometer": "Hydrometers",
    "thermometer": "Thermometers",
    "balance": "Balances",
    "cylinder": "Cylinders",
}
CONDITION_KINDS = {"in service": "done", "overdue": "held", "withdrawn": "refused", "good": "done"}


@dataclass(frozen=True)
class RegisterRow:
    """One instrument or lot of the register, with its condition today."""

    thing: Any
    condition: str
    about: str
    days_left: int

    @property
    def kind(self) -> str:
        """The outline that the word of the condition gets."""
        return CONDITION_KINDS.get(self.condition, "held")


def _plain(value: Any) -> str:
    return f"{value.normalize():f}"


def _about(thing: Any) -> str:
    """Figures by which a person chooses an instrument, as one sentence."""
    if isinstance(thing, HydrometerRecord):
        ends = f"{_plain(thing.scale_minimum)} to {_plain(thing.scale_maximum)}"
        return f"{thing.scale}, {ends}; meniscus {_plain(thing.meniscus_correction)}"
    if isinstance(thing, Thermometer):
        return f"correction {_plain(thing.correction_c)} °C"
    if isinstance(thing, Balance):
        return f"to {_plain(thing.resolution_g)} g"
    return f"{_plain(thing.volume_ml)} mL at the mark, {_plain(thing.inner_area_cm2)} cm²"


def _lot_about(lot: DispersantLot) -> str:
    wrong = implausible_strength(lot.stock_g_l, lot.added_ml)
    substance = lot.get_substance_display() or DispersantLot.Substance.HEXAMETAPHOSPHATE.label
    about = f"{substance}, {_plain(lot.stock_g_l)} g/L, {_plain(lot.added_ml)} mL to each cylinder"
    return f"{about}. It {wrong}" if wrong else about


def _lot_condition(lot: DispersantLot, on: date) -> str:
    if on < lot.made_on:
        return "not yet made"
    return "good" if on <= lot.expires_on else "expired"


@permission_required("batches.see", raise_exception=True)
@require_GET
def equipment(request: HttpRequest) -> HttpResponse:
    today = timezone.localdate()
    registers = [
        {
            "kind": kind,
            "heading": HEADINGS[kind],
            "rows": [
                RegisterRow(thing, thing.condition(today), _about(thing), (thing.due_on - today).days)
                for thing in model.objects.all()
            ],
        }
        for kind, model in INSTRUMENTS.items()
    ]
    lots = [
        RegisterRow(
            lot,
            _lot_condition(lot, today),
            _lot_about(lot),
            (lot.expires_on - today).days,
        )
        for lot in DispersantLot.objects.all()
    ]
    return render(request, "batches/equipment/equipment.html", {"registers": registers, "lots": lots})


@may_keep
@require_http_methods(["GET", "POST"])
def equipment_new(request: HttpRequest, kind: str) -> HttpResponse:
    if kind not in EQUIPMENT_FORMS:
        raise Http404(f"There is no register of “{kind}”.")
    form = EQUIPMENT_FORMS[kind](request.POST or None)
    kind_in_words = kind.replace("-", " ")
    if request.method == "POST" and form.is_valid():
        messages.success(request, f"{capfirst(str(form.save()))} is in the register.")
        return redirect("batches:equipment")
    status = 422 if request.method == "POST" else 200
    return render(
        request,
        "batches/equipment/new.html",
        {"form": form, "kind": kind, "kind_in_words": kind_in_words},
        status=status,
    )


@may_keep
@require_http_methods(["GET", "POST"])
def check(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    """Record a check; with other calibration values the instrument is withdrawn and entered anew."""
    if kind not in INSTRUMENTS:
        raise Http404(f"There is no register of “{kind}”.")
    thing = get_object_or_404(INSTRUMENTS[kind], pk=pk, withdrawn_on__isnull=True)
    form = CheckForm(request.POST if request.method == "POST" else None)
    outcome = act_on(
        form,
        lambda typed: thing.checked(
            on=typed["checked_on"],
            due_on=typed["due_on"],
            certificate=typed["certificate"],
            today=timezone.localdate(),
        ),
    )
    if isinstance(outcome, Done):
        messages.success(request, f"The check of {thing} is recorded.")
        return redirect("batches:equipment")
    context = {"thing": thing, "form": form, "kind": kind}
    return render(request, "batches/equipment/check.html", context, status=outcome.status)


@may_keep
@require_http_methods(["GET", "POST"])
def withdraw(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    if kind not in INSTRUMENTS:
        raise Http404(f"There is no register of “{kind}”.")
    thing = get_object_or_404(INSTRUMENTS[kind], pk=pk, withdrawn_on__isnull=True)
    form = ReasonForm(request.POST if request.method == "POST" else None, label="Why it is withdrawn")
    outcome = act_on(
        form, lambda typed: thing.withdraw(on=timezone.localdate(), reason=typed["reason"][:200])
    )
    if isinstance(outcome, Done):
        messages.success(request, f"{capfirst(str(thing))} is withdrawn.")
        return redirect("batches:equipment")
    return render(
        request,
        "batches/equipment/withdraw.html",
        {"thing": thing, "form": form, "kind": kind},
        status=outcome.status,
    )
