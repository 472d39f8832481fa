"""Forms that read what a reviewer notes, decides and signs."""

from __future__ import annotations

from django import forms

from batches.entries.forms import PlainForm
from batches.review.models import RunDecision


class QualityLookForm(PlainForm):
    """The word that quality control was looked at; a note where something did not pass."""

    note = forms.CharField(label="What was looked at, and what follows", max_length=500, required=False)


class PairNoteForm(PlainForm):
    """A note on a pair that differs by too much."""

    note = forms.CharField(
        label="What was looked at", max_length=500, widget=forms.Textarea(attrs={"rows": 2})
    )
    cause_found = forms.BooleanField(
        label="A cause was found (spill, mix-up, wrong mass): leave the pair out of the laboratory's own figure",
        required=False,
    )


class DecisionForm(PlainForm):
    """A decision on one run."""

    choice = forms.ChoiceField(
        label="What leaves the house", choices=RunDecision.Choice.choices, widget=forms.RadioSelect
    )
    note = forms.CharField(
        label="Why", required=False, max_length=500, help_text="Needed unless the figures are reported."
    )
    seen = forms.IntegerField(required=False, widget=forms.HiddenInput)


class SignatureForm(PlainForm):
    """The password that signs."""

    secret = forms.CharField(
        label="Your password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        help_text="It signs; it is asked for each time.",
    )
