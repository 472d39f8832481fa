"""Forms that read what a reviewer notes, decides and signs."""

from __future__ import annotations

from typing import Any

from django import forms

from batches.entries.forms import PlainForm
from batches.review.models import RunDecision

LEAVE_OUT = "leave out"
IN_OWN_FIGURE = (
    (LEAVE_OUT, "Leave this pair out: a cause was found (spill, mix-up, wrong mass)"),
    ("keep in", "Keep this pair in: no cause was found, the two portions differ so much"),
)
"""What becomes of a pair in the laboratory's own figure; somebody has to choose."""


class SeenForm(PlainForm):
    """A form that carries the version of the page it was sent from, so that a stale page is told so."""

    seen = forms.CharField(required=False, widget=forms.HiddenInput)

    @property
    def version(self) -> str | None:
        """The version of the page; None when it carried none."""
        return self.cleaned_data.get("seen") or None


class QualityLookForm(SeenForm):
    """The word that quality control was looked at; a note where something did not pass."""

    note = forms.CharField(label="What was looked at, and what follows", max_length=500, required=False)


class PairNoteForm(SeenForm):
    """A note on a pair that differs by too much."""

    note = forms.CharField(
        label="What was looked at", max_length=500, widget=forms.Textarea(attrs={"rows": 2})
    )
    in_own_figure = forms.ChoiceField(
        label="The laboratory's own figure of how far two portions differ",
        choices=IN_OWN_FIGURE,
        widget=forms.RadioSelect,
    )

    @property
    def cause_found(self) -> bool:
        """Whether a cause was found, for which the pair is left out."""
        return bool(self.cleaned_data["in_own_figure"] == LEAVE_OUT)


class DecisionForm(SeenForm):
    """A decision on one run."""

    choice = forms.ChoiceField(
        label="What is reported", choices=RunDecision.Choice.choices, widget=forms.RadioSelect
    )
    note = forms.CharField(
        label="Why, or the qualifier",
        required=False,
        max_length=500,
        help_text="Needed unless the figures are reported as they are, and a sentence where there are none. "
        "A qualifier is printed in your words. "
        "Of a repeat, the new portion's result will be the one that is reported, whatever it is.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.say_when_needed("note")


class SignatureForm(SeenForm):
    """The password that signs, what became of what re-opened the batch, and why the rest is not touched."""

    what_became = forms.CharField(
        label="What became of what was found wrong",
        required=False,
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="The batch was re-opened: say what was put right, or why it stays as it is.",
    )

    why_rest = forms.CharField(
        label="Why what went wrong does not touch the other samples",
        required=False,
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Needed when a part of the batch is approved and the rest repeated.",
    )

    secret = forms.CharField(
        label="Your password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        help_text="It signs; it is asked for each time.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.say_when_needed("what_became", "why_rest")


class GiveBackForm(SeenForm):
    """Why a batch goes back to the bench, or is rejected."""

    reason = forms.CharField(widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(self, *args: Any, label: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].label = label
        self.fields["reason"].error_messages["required"] = "Say why."


class HandOverForm(PlainForm):
    """What is said with a batch that is handed over; needed when it was returned and nothing was changed."""

    note = forms.CharField(
        label="What was looked at", required=False, max_length=500, widget=forms.Textarea(attrs={"rows": 2})
    )
