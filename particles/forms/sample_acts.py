"""What a clerk decides about one bag."""

from __future__ import annotations

from typing import Any

from django import forms

from particles.forms.fields import plain_text

# The field keeps 24 characters; these are the ones whose move it may be.
WAITS_FOR = ["client", "receiving clerk", "laboratory manager", "QA officer", "another office"]


class AcceptForm(forms.Form):
    reason = plain_text(
        what="how the hold was answered", length=300, required=False, label="How was it answered?"
    )

    def __init__(self, data: Any = None, *, held: bool, **kwargs: Any) -> None:
        super().__init__(data, use_required_attribute=False, auto_id="accept_%s", **kwargs)
        self.fields["reason"].required = held


class HoldForm(forms.Form):
    reason = plain_text(what="what is unclear", length=300, label="Why on hold?")
    waits_for = forms.ChoiceField(
        choices=[("", "Choose"), *((who, who) for who in WAITS_FOR)],
        label="Whose move is it?",
        error_messages={"required": "Say whose move it is.", "invalid_choice": "Choose one of the list."},
    )

    def __init__(self, data: Any = None, **kwargs: Any) -> None:
        super().__init__(data, use_required_attribute=False, auto_id="hold_%s", **kwargs)


class RefuseForm(forms.Form):
    reason = plain_text(
        what="why, and what becomes of the bag",
        length=300,
        label="Why is it refused, and what becomes of the bag?",
    )

    def __init__(self, data: Any = None, **kwargs: Any) -> None:
        super().__init__(data, use_required_attribute=False, auto_id="refuse_%s", **kwargs)
