"""The sand that was washed out of a portion, dried and sieved."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from batches.balance.forms import SieveForm
from batches.balance.models import Purpose, SieveMass, Weighing
from batches.entries.door import Response
from batches.entries.pages import form_with_response, posted, send
from batches.room.lookups import portion_or_404
from particles.models import Portion


@dataclass(frozen=True)
class Stack:
    """One sieving: what went on, what stayed where. [g]"""

    attempt: int
    washed_g: Decimal
    pan_g: Decimal
    masses: list[SieveMass]
    is_newest: bool

    @property
    def sum_g(self) -> Decimal:
        """Mass found after sieving: all sieves and the pan. [g]"""
        return sum((mass.retained_g for mass in self.masses), self.pan_g)

    @property
    def loss_g(self) -> Decimal:
        """Mass lost in sieving, negative when more came off than went on. [g]"""
        return self.washed_g - self.sum_g

    @property
    def loss_pct(self) -> float | None:
        """Loss of the sieving in percent of what went on the stack; None when nothing did. [%]"""
        return float(100 * self.loss_g / self.washed_g) if self.washed_g else None


def stacks_of(portion: Portion) -> list[Stack]:
    """Every sieving of a portion, the newest last."""
    masses = list(portion.sieve_masses.select_related("by", "balance").order_by("attempt", "-opening_um"))
    ends = portion.weighings.filter(purpose__in=[Purpose.WASHED_SAND, Purpose.PAN])
    weighed: dict[tuple[int, str], Weighing] = {(w.entry_id, w.purpose): w for w in ends}
    attempts = sorted({mass.attempt for mass in masses})
    found = []
    for attempt in attempts:
        of_attempt = [mass for mass in masses if mass.attempt == attempt]
        washed, pan = (
            weighed[(of_attempt[0].entry_id, p)].mass_g for p in (Purpose.WASHED_SAND, Purpose.PAN)
        )
        found.append(Stack(attempt, washed, pan, of_attempt, is_newest=attempt == attempts[-1]))
    return found


@permission_required("batches.plan", raise_exception=True)
@require_http_methods(["GET", "POST"])
def sieve_portion(request: HttpRequest, code: str) -> HttpResponse:
    """Sieve what was washed out of the portion with this code."""
    portion = portion_or_404(request, code)
    if request.method == "GET":
        return _page(request, portion)
    content = posted(request) | {"portion": str(portion.pk)}
    response = send(request, "sieve", request.POST.get("entry_id"), content)
    if response.stored:
        messages.success(request, response.sentence)
        return redirect(request.get_full_path())
    return _page(request, portion, content, response)


def _page(
    request: HttpRequest,
    portion: Portion,
    typed: dict[str, str] | None = None,
    response: Response | None = None,
) -> HttpResponse:
    form = form_with_response(SieveForm, typed, response)
    stacks = stacks_of(portion)
    context: dict[str, Any] = {
        "portion": portion,
        "form": form,
        "entry_id": uuid4(),
        "stacks": stacks,
        "run": getattr(portion, "run", None),
        "sieve_fields": [
            form["washed_sand_g"],
            *(form[form.sieve_name(um)] for um in form.OPENINGS_UM),
            form["pan_g"],
        ],
    }
    return render(request, "batches/balance/sieve.html", context, status=response.status if response else 200)
