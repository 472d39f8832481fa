"""Reads the head of a new job, and what a clerk decides about one bag."""

from __future__ import annotations

from datetime import date
from typing import Any
from uuid import uuid4

from django import forms

from particles.clients.models import Client
from particles.methods.models import MethodEditionRecord
from particles.records.fields import plain_text

YES_NO = [("yes", "Yes"), ("no", "No")]


class JobForm(forms.Form):
    """The head of a new job: the client's request, and the parcel."""

    submission = forms.UUIDField(
        widget=forms.HiddenInput,
        initial=uuid4,
        error_messages={"required": "Open the form again.", "invalid": "Open the form again."},
    )
    client = forms.ModelChoiceField(
        Client.objects.none(),
        empty_label="Choose",
        error_messages={"required": "Choose the client.", "invalid_choice": "Choose a client of the list."},
    )
    client_reference = plain_text(
        what="the reference",
        length=80,
        required=False,
        label="Client's reference",
        help_text="Order or field name.",
    )
    method = forms.ModelChoiceField(
        MethodEditionRecord.objects.none(),
        empty_label="Choose",
        label="Method edition",
        error_messages={
            "required": "Choose the method edition.",
            "invalid_choice": "Choose an edition of the list.",
        },
    )
    sand_by_sieve = forms.ChoiceField(
        choices=YES_NO,
        widget=forms.RadioSelect,
        label="Sand by sieve",
        error_messages={"required": "Say whether sand sieves are wanted."},
    )
    pretreatment_wish = plain_text(
        what="the wish", length=200, required=False, help_text="In the client's words: “keep carbonates”."
    )
    wanted_by = forms.DateField(
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        input_formats=["%Y-%m-%d"],
        error_messages={"invalid": "Choose a day."},
    )
    condition = plain_text(
        what="the condition",
        length=200,
        required=False,
        label="Condition of the parcel",
        help_text="Wet, torn, leaking, mixed, carton 1 of 3.",
    )
    origin_country = plain_text(
        what="the country",
        length=80,
        required=False,
        label="Country for every line left empty",
        help_text="Only if the paper says that they all come from there.",
    )
    origin_region = plain_text(
        what="the region", length=120, required=False, label="Region for the same lines"
    )

    def __init__(self, data: Any = None, *, clients: Any, today: date, **kwargs: Any) -> None:
        super().__init__(data, use_required_attribute=False, **kwargs)
        self.today = today
        self.fields["client"].queryset = clients  # type: ignore[attr-defined]
        self.fields["method"].queryset = MethodEditionRecord.offered()  # type: ignore[attr-defined]

    def clean_wanted_by(self) -> date | None:
        wanted_by: date | None = self.cleaned_data["wanted_by"]
        if wanted_by and wanted_by < self.today:
            raise forms.ValidationError(f"{wanted_by:%-d %b %Y} is past. Choose a later day.")
        return wanted_by

    def clean(self) -> None:
        if self.cleaned_data.get("origin_region") and not self.cleaned_data.get("origin_country"):
            self.add_error("origin_country", "A region needs its country.")

    @property
    def asked(self) -> dict[str, Any]:
        """Arguments of `Job.log` besides lines, person and moment."""
        names = ("client", "client_reference", "method", "pretreatment_wish", "wanted_by", "condition")
        return {name: self.cleaned_data[name] for name in names} | {
            "sand_by_sieve": self.cleaned_data["sand_by_sieve"] == "yes"
        }


# The field keeps 24 characters; these are the ones whose move it may be.
WAITS_FOR = ["client", "receiving clerk", "laboratory manager", "QA officer", "another office"]


class AcceptForm(forms.Form):
    """The acceptance of a bag; one on hold needs the answer that ended the hold."""

    reason = plain_text(
        what="how the hold was answered", length=300, required=False, label="How was it answered?"
    )

    def __init__(self, data: Any = None, *, held: bool, **kwargs: Any) -> None:
        super().__init__(data, use_required_attribute=False, auto_id="accept_%s", **kwargs)
        self.fields["reason"].required = held


class HoldForm(forms.Form):
    """A hold on a bag, with why and whose move it is."""

    reason = plain_text(what="what is unclear", length=300, label="Why on hold?")
    waits_for = forms.ChoiceField(
        choices=[("", "Choose"), *((who, who) for who in WAITS_FOR)],
        label="Whose move is it?",
        error_messages={"required": "Say whose move it is.", "invalid_choice": "Choose one of the list."},
    )

    def __init__(self, data: Any = None, **kwargs: Any) -> None:
        super().__init__(data, use_required_attribute=False, auto_id="hold_%s", **kwargs)


class RefuseForm(forms.Form):
    """The refusal of a bag."""

    reason = plain_text(
        what="why, and what becomes of the bag",
        length=300,
        label="Why is it refused, and what becomes of the bag?",
    )

    def __init__(self, data: Any = None, **kwargs: Any) -> None:
        super().__init__(data, use_required_attribute=False, auto_id="refuse_%s", **kwargs)
