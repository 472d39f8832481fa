"""Reads corrections of what a client supplied."""

from __future__ import annotations

from typing import Any

from django import forms

from particles.clients.forms import ClientForm
from particles.clients.models import Client
from particles.corrections.models import CORRECTABLE
from particles.receiving.lines import unquestioned_depth
from particles.receiving.models import Job, Sample
from particles.records.fields import PlainDayField, plain_text


class CorrectionForm(forms.Form):
    """The base of the forms that correct: the right facts, and why, with who said so."""

    def __init__(self, data: Any = None, *, of: Any, **kwargs: Any) -> None:
        self.of = of
        self.facts = tuple(CORRECTABLE[type(of)])
        initial = {name: getattr(of, name) for name in self.facts}
        super().__init__(data, initial=initial, use_required_attribute=False, **kwargs)
        self.fields["reason"] = plain_text(
            what="why it is corrected",
            length=300,
            label="Why, and who said so",
            help_text="For instance: letter of 3 Nov 2026; misread by us.",
        )

    @property
    def right(self) -> dict[str, Any]:
        """The corrected facts, by name of their field."""
        return {name: self.cleaned_data[name] for name in self.facts}


class SampleCorrectionForm(CorrectionForm):
    """The corrected facts of a bag."""

    client_label = plain_text(what="the label", length=80, label="Label")
    depth_text = plain_text(what="the depth", length=40, required=False, label="Depth, with unit")
    sampled_on = PlainDayField(required=False, label="Sampled on")

    def clean_depth_text(self) -> str:
        return unquestioned_depth(self.cleaned_data["depth_text"])


class JobCorrectionForm(CorrectionForm):
    """The corrected facts of a job."""

    client_reference = plain_text(
        what="the reference", length=80, required=False, label="The client’s own reference"
    )


class ClientCorrectionForm(CorrectionForm, ClientForm):
    """The corrected facts of a client, with the reason."""


FORMS: dict[type, type[CorrectionForm]] = {
    Sample: SampleCorrectionForm,
    Job: JobCorrectionForm,
    Client: ClientCorrectionForm,
}
