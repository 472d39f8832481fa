"""What was refused at a place that the page does not draw any more, with everything that was typed there."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.forms import BaseForm

NEVER_SHOWN = ("secret",)


@dataclass(frozen=True)
class Refused:
    """One act that was not done: why, and what was typed."""

    sentences: tuple[str, ...]
    typed: tuple[tuple[str, str], ...]
    """Label and words of each field that held any."""


def refused_of(form: BaseForm) -> Refused:
    """What a form was refused for, and what was typed into it."""
    sentences = tuple(str(error) for errors in form.errors.values() for error in errors)
    boxes = [form[name] for name in form.fields if name not in NEVER_SHOWN]
    typed = [(str(box.label), _in_words(box)) for box in boxes if not box.is_hidden]
    return Refused(sentences, tuple((label, words) for label, words in typed if words))


def _in_words(box: Any) -> str:
    value = box.value()
    names = {str(key): str(name) for key, name in getattr(box.field, "choices", ())}
    if isinstance(value, list):
        return ", ".join(names.get(str(each), str(each)) for each in value)
    return names.get(value, value) if isinstance(value, str) and value.strip() else ""


def out_of_sight(forms: Mapping[str, Any], context: Mapping[str, Any]) -> list[Refused]:
    """The complaints of those forms that the context of the page draws nowhere."""
    drawn = list(_drawn(context))
    return [refused_of(form) for form in forms.values() if not any(form is each for each in drawn)]


def _drawn(context: Mapping[str, Any]) -> Iterable[Any]:
    if not context["open_for_review"]:
        return
    yield from (context["look_form"], context["return_form"], context["reject_form"])
    yield from (row["form"] for row in context["pairs"])
    if not context["samples_hidden"]:
        yield context["signature_form"]
        yield from (row.form for row in (*context["causes"], *context["strip"]))
