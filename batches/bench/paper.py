"""A run sheet filled on paper, typed in afterwards: every filled row is an entry of its own."""

from __future__ import annotations

from dataclasses import dataclass, field
from uuid import uuid4

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from batches.bench.instruments import unusable_today
from batches.bench.models import Reading, RunStart
from batches.bench.rules import newest_stirring
from batches.bench.state import unit_of
from batches.bench.two_values import OtherValue, other_values
from batches.entries.pages import send
from batches.planning.models import OPEN_FOR_READINGS, Batch, BatchState, Run, Source
from batches.readers.choice import WITHIN_S, is_asked
from batches.room.lookups import batch_or_404
from batches.voiding.models import void_of
from particles.distribution import ReadingState

VALUES = ("reading", "elapsed_s", "temperature_c", "reason")


@dataclass
class Row:
    """One row of the run sheet: its slot, what is recorded, what was typed and the sentence of the response."""

    slot_s: int
    recorded: list[Reading]
    entry_id: str
    second_asked: bool
    """Whether a second person is asked to read it too."""
    typed: dict[str, str] = field(default_factory=dict)
    sentence: str = ""
    wrong: dict[str, list[str]] = field(default_factory=dict)
    others: list[OtherValue] = field(default_factory=list)
    """Values that were refused because one stood there already."""
    taken: OtherValue | None = None
    """The one of them that is being taken."""

    @property
    def name(self) -> str:
        """Prefix of the row's fields in the posted form."""
        return f"slot_{self.slot_s}"

    @property
    def is_filled(self) -> bool:
        """Whether anything was typed in the row or its state is another than read."""
        return any(self.typed.get(v, "").strip() for v in VALUES) or self.state != ReadingState.READ

    @property
    def state(self) -> str:
        return self.typed.get("state") or ReadingState.READ.value

    def content(self, run: Run) -> dict[str, str]:
        """The row as the content of a reading's entry."""
        fixed = {
            "run": str(run.pk),
            "slot_s": str(self.slot_s),
            "source": Source.PAPER.value,
            "state": self.state,
        }
        row = fixed | {value: self.typed.get(value, "") for value in VALUES}
        return row if self.taken is None else self.taken.content(row)


@dataclass
class StartRow:
    """The start on the run sheet: what is recorded, what was typed and the sentence of the response."""

    recorded: RunStart | None
    entry_id: str
    typed: str = ""
    sentence: str = ""


@permission_required("batches.read", raise_exception=True)
@require_http_methods(["GET", "POST"])
def paper(request: HttpRequest, number: str) -> HttpResponse:
    batch = batch_or_404(number)
    runs = list(batch.runs.in_plan().select_related("cylinder", "portion__sample").order_by("position"))
    asked = request.POST.get("run") or request.GET.get("run") or str(runs[0].pk)
    run = get_object_or_404(
        batch.runs.in_plan().select_related("cylinder", "portion__sample"), pk=asked if asked.isdigit() else 0
    )
    start, rows, status = _start_row(run), _rows(batch, run), 200
    _show_others(request, run, rows)
    if request.method == "POST":
        _read_typed(request, start, rows)
        kept, status = _send_all(request, run, start, rows)
        if kept:
            messages.success(request, f"{kept} of cylinder {run.cylinder.serial} kept by the laboratory.")
        if status == 200:
            return redirect(f"{reverse('batches:paper', args=[number])}?run={run.pk}")
        batch.refresh_from_db()
        _show_what_is_kept(batch, run, start, rows)
    context = {
        "batch": batch,
        "unit": unit_of(batch),
        "runs": runs,
        "run": run,
        "others": any(row.others for row in rows),
        "unusable": unusable_today(batch, runs, timezone.localdate()),
        "void": void_of(run),
        "stirring": newest_stirring(run),
        "start": start,
        "rows": rows,
        "seconds": list(run.second_readings.select_related("by")),
        "within_s": WITHIN_S,
        "states": [s.value for s in ReadingState],
        "is_open": batch.state in OPEN_FOR_READINGS or batch.state == BatchState.DISPERSED,
    }
    return render(request, "batches/bench/paper.html", context, status=status)


def _start_row(run: Run) -> StartRow:
    return StartRow(RunStart.objects.filter(run=run).select_related("by").first(), str(uuid4()))


def _recorded(run: Run) -> dict[int, list[Reading]]:
    found: dict[int, list[Reading]] = {}
    again = newest_stirring(run)
    for reading in run.readings.filter(replunge=again).select_related("by").order_by("slot_s", "attempt"):
        found.setdefault(reading.slot_s, []).append(reading)
    return found


def _rows(batch: Batch, run: Run) -> list[Row]:
    recorded = _recorded(run)
    slots, serial = (int(s) for s in batch.method.edition.schedule_s), run.cylinder.serial
    return [
        Row(slot, recorded.get(slot, []), str(uuid4()), is_asked(batch.number, serial, slot))
        for slot in slots
    ]


def _show_others(request: HttpRequest, run: Run, rows: list[Row]) -> None:
    """Put values that wait for a choice beside the reading that counts; the one asked for is filled into its row."""
    others, by_slot = other_values([run]), {row.slot_s: row for row in rows}
    for other in others:
        by_slot[other.slot_s].others.append(other)
    for row in rows:
        asked = request.POST.get(f"{row.name}_takes") or request.GET.get("take", "")
        row.taken = next((other for other in row.others if str(other.entry.entry_id) == asked), None)
        if row.taken is not None:
            row.typed = dict(row.taken.typed)


def _read_typed(request: HttpRequest, start: StartRow, rows: list[Row]) -> None:
    start.typed = request.POST.get("started_at", "")
    start.entry_id = request.POST.get("start_entry_id", "")
    for row in rows:
        row.entry_id = request.POST.get(f"{row.name}_entry_id", "")
        row.typed = {v: request.POST.get(f"{row.name}_{v}", "") for v in (*VALUES, "state")}


def _send_all(request: HttpRequest, run: Run, start: StartRow, rows: list[Row]) -> tuple[int, int]:
    """Send the start, then each filled row. Returns how many were kept, and the status of the page."""
    kept, worst = 0, 200
    if start.typed.strip():
        content = {"run": str(run.pk), "started_at": start.typed, "source": Source.PAPER.value}
        response = send(request, "start", start.entry_id, content)
        kept += response.stored
        start.sentence = "" if response.stored else response.sentence
        worst = max(worst, 200 if response.stored else response.status)
    for row in rows:
        if not row.is_filled:
            continue
        response = send(request, "reading", row.entry_id, row.content(run))
        kept += response.stored
        row.sentence, row.wrong = ("" if response.stored else response.sentence), response.field_errors
        worst = max(worst, 200 if response.stored else response.status)
    return kept, worst


def _show_what_is_kept(batch: Batch, run: Run, start: StartRow, rows: list[Row]) -> None:
    """Fill the page after a refusal: kept rows as kept, refused ones with what was typed, under a fresh name."""
    recorded = _recorded(run)
    start.recorded = _start_row(run).recorded
    start.entry_id = str(uuid4())
    for row in rows:
        row.recorded, row.entry_id = recorded.get(row.slot_s, []), str(uuid4())
        if not row.sentence:
            row.typed, row.taken = {}, None
    of_run = other_values([run])
    for row in rows:
        row.others = [other for other in of_run if other.slot_s == row.slot_s]
