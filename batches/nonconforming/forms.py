"""Reads what was found wrong in an approved batch."""

from __future__ import annotations

from django import forms

from batches.entries.forms import PlainForm


class ReopenForm(PlainForm):
    """What was found wrong, and who found it."""

    found = forms.CharField(label="What was found wrong", widget=forms.Textarea(attrs={"rows": 3}))
    found_by = forms.CharField(
        label="Who found it", max_length=120, help_text="A client, an audit, or somebody of the laboratory."
    )
    seen = forms.CharField(required=False, widget=forms.HiddenInput)
