"""The one way in for whatever is typed from the bag to the cylinder: keep it, judge it, respond."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import connection, transaction

from batches.bench.rules import hand_in
from batches.computing.rules import ask, ask_for_batch
from batches.corrections.rules import run_under_way
from batches.entries.forms import EntryForm
from batches.entries.kinds import FORMS
from batches.entries.models import Entry, EntryVerdict
from batches.planning.models import Run
from particles.models import Portion, Sample
from particles.records.person import Person
from particles.records.refusals import RuleRefusal

OUTCOME = EntryVerdict.Outcome


@dataclass(frozen=True)
class Response:
    """The response to one entry, as the person reads it."""

    stored: bool
    sentence: str
    field_errors: dict[str, list[str]] = field(default_factory=dict)
    repeated: bool = False
    """The same entry had been judged before."""

    @property
    def status(self) -> int:
        """HTTP status: 201 stored, 200 stored before, 422 unreadable, 409 refused by a rule."""
        if self.stored:
            return 200 if self.repeated else 201
        return 422 if self.field_errors else 409


def receive(
    entry_id: UUID,
    kind: str,
    content: dict[str, Any],
    *,
    by: Person,
    at: datetime,
    device: str = "",
    witness: Person | None = None,
) -> Response:
    """
    Keep an entry, then judge it. Sending it again gives the same response and stores nothing.

    `content` holds the fields of the form of this `kind`, as typed; `witness` is whoever handed in what `by` took.
    Must be called outside a transaction: the entry has to survive a refusal.
    """
    entry = Entry.keep(entry_id, kind, content, by=by, at=at, device=device)
    if witness is not None:
        hand_in(entry, by=witness, at=at)
    try:
        with transaction.atomic():
            return _said_before(entry, at) or _judge(entry, by=by, at=at)
    except RuleRefusal as refusal:
        # Whatever was stored before it is undone, so the verdict is kept in a transaction of its own.
        with transaction.atomic():
            return _said_before(entry, at) or _refuse(entry, str(refusal), at)


def _said_before(entry: Entry, at: datetime) -> Response | None:
    """The response to an entry that was judged before or is not the first of its name; its name is locked from here."""
    _lock_name(entry.entry_id)
    named = Entry.of_name(entry.entry_id)
    [mine] = [each for each in named if each.pk == entry.pk]
    if mine.outcome is not None:
        return Response(mine.is_stored, mine.sentence or "Kept by the laboratory.", repeated=True)
    if not mine.is_first_of_its_name(named):
        return _refuse(
            entry,
            "An entry with this name but other content was received before; both are kept. "
            "Look at the cylinder and decide which one is true.",
            at,
        )
    return None


def _judge(entry: Entry, *, by: Person, at: datetime) -> Response:
    form_class = FORMS.get(entry.kind)
    if form_class is None:
        return _refuse(entry, f"“{entry.kind}” is not a kind of entry: {', '.join(FORMS)}.", at)
    form = form_class(entry.content)
    if not form.is_valid():
        errors = {name: [str(e) for e in messages] for name, messages in form.errors.items()}
        sentence = " ".join(f"{_label(form, name)}: {' '.join(found)}" for name, found in errors.items())
        return _refuse(entry, sentence, at, errors)
    said = form.store(entry, by=by, at=at)
    entry.judge(OUTCOME.STORED, at=at, sentence=said or "")
    if form.may_complete:
        _ask_where_complete(form.cleaned_data, by=by, at=at)
    return Response(stored=True, sentence=said or "Kept by the laboratory.")


def _label(form: EntryForm, name: str) -> str:
    return (
        str(form.fields[name].label or name.replace("_", " ")).capitalize()
        if name in form.fields
        else "Entry"
    )


def _refuse(
    entry: Entry, sentence: str, at: datetime, errors: dict[str, list[str]] | None = None
) -> Response:
    entry.judge(OUTCOME.REFUSED, at=at, sentence=sentence)
    return Response(stored=False, sentence=sentence, field_errors=errors or {})


def _ask_where_complete(typed: dict[str, Any], *, by: Person, at: datetime) -> None:
    """Ask for the runs a new value may complete or change: one, or all of them when it is the blank's."""
    run: Run | None = typed.get("run")
    portion: Portion | None = typed.get("portion")
    sample: Sample | None = typed.get("sample")
    if portion is not None:
        run = Run.objects.filter(portion=portion).first()
    elif sample is not None:
        run = run_under_way(sample)
    if run is None:
        return
    if run.is_blank or sample is not None:  # a sample may stand in its batch twice
        ask_for_batch(run.batch, by=by, at=at)
    else:
        ask(run, by=by, at=at)


def _lock_name(entry_id: UUID) -> None:
    """Lock the name of an entry, so that two deliveries of it wait for each other."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(hashtextextended(%s, 0))", [str(entry_id)])
