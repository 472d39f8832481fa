"""Entries typed in a page's form: kept and judged like those of a tablet, and shown again when refused."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django import forms
from django.core.exceptions import SuspiciousOperation
from django.db.models import QuerySet
from django.forms.utils import pretty_name
from django.http import HttpRequest
from django.utils import timezone

from batches.entries.door import Response, receive
from batches.entries.kinds import FORMS
from batches.entries.models import Entry, EntryVerdict
from particles.records.person import Person, signed_in

LONGEST_VALUE = 2000


def entry_name(text: object) -> UUID:
    """The name of an entry; ValueError when it is none."""
    return UUID(str(text))


def whats_unkeepable(content: object) -> str:
    """The reason why this cannot be kept as typed text, or ''."""
    if not isinstance(content, dict) or not all(isinstance(v, str) for v in content.values()):
        return "The content of an entry is a set of named texts."
    for text in (*content.keys(), *content.values()):
        if len(text) > LONGEST_VALUE or "\x00" in text or any("\ud800" <= sign <= "\udfff" for sign in text):
            return f"A typed value is longer than {LONGEST_VALUE} signs or holds signs that are no text."
    return ""


def send(request: HttpRequest, kind: str, entry_id: object, content: dict[str, str]) -> Response:
    """Keep and judge what a form on a page holds."""
    try:
        name = entry_name(entry_id)
    except ValueError as error:
        raise SuspiciousOperation("The form carries no entry name.") from error
    refused = whats_unkeepable(content)
    if refused:
        raise SuspiciousOperation(refused)
    device = request.headers.get("User-Agent", "")
    return receive(name, kind, content, by=signed_in(request), at=timezone.now(), device=device)


def posted(request: HttpRequest) -> dict[str, str]:
    """The fields of a posted form, as typed."""
    return {k: str(v) for k, v in request.POST.items() if k not in {"csrfmiddlewaretoken", "entry_id"}}


def form_with_response(
    form_class: type[Any], typed: dict[str, str] | None, response: Response | None, **kwargs: Any
) -> Any:
    """A form with what was typed in it and the complaints of the response to it."""
    form = form_class(typed, **kwargs)
    if response is not None:
        form.full_clean()
        if form.is_valid():
            form.add_error(None, response.sentence)
    return form


def refused_entries(place: str, pks: Iterable[int]) -> QuerySet[Entry]:
    """Refused entries for runs, portions, samples or batches, in the order they came."""
    refused = Entry.objects.filter(verdict__outcome=EntryVerdict.Outcome.REFUSED)
    found = refused.filter(**{f"content__{place}__in": [str(pk) for pk in pks]})
    return found.select_related("by", "verdict").order_by("pk")


@dataclass(frozen=True)
class RefusedRow:
    """One entry that was not taken, in the words of the form it was typed in."""

    kind: str
    typed: list[tuple[str, str]]
    """Label and value of each box."""
    sentence: str
    by: Person
    at: datetime


def refused_rows(entries: Iterable[Entry]) -> list[RefusedRow]:
    """Rows that show refused entries in the words of their forms."""
    return [
        RefusedRow(each.kind, shown_as_typed(each), each.verdict.sentence, each.by, each.received_at)
        for each in entries
    ]


def shown_as_typed(entry: Entry) -> list[tuple[str, str]]:
    """Label and value of each box of an entry in its form's order, choices in words; what has no box comes last."""
    form = FORMS[entry.kind]() if entry.kind in FORMS else forms.Form()
    typed = dict(entry.as_typed)
    boxes = [
        (str(form[name].label), _in_words(field, typed.pop(name)))
        for name, field in form.fields.items()
        if name in typed
    ]
    return [*boxes, *((pretty_name(name), value) for name, value in typed.items())]


def _in_words(field: forms.Field, value: str) -> str:
    if isinstance(field, forms.BooleanField):
        return "ticked"
    if isinstance(field, forms.ModelChoiceField):
        model: Any = field.queryset.model if field.queryset is not None else None
        known = model.objects.filter(pk=value).first() if model and value.isdigit() else None
        return value if known is None else str(known)
    if isinstance(field, forms.ChoiceField):
        words: Any = field.choices
        return str(dict(words).get(value, value))
    return value
