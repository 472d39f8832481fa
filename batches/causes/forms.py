"""Forms that read a reviewer's answer to a cause."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from batches.causes.models import CauseAnswer
from batches.causes.rules import evidence_that_speaks_to, is_pair_beyond_action
from batches.review.forms import SeenForm
from particles.distribution.causes.blanks import is_of_all_runs
from particles.distribution.causes.cause import Cause, Needs

DECISIONS = [choice for choice in CauseAnswer.Choice.choices if choice[0] != CauseAnswer.Choice.NOTED]

REST = ("rest_evidence", "rest_note")


class AnswerForm(SeenForm):
    """An answer to one cause: a note, or for what is severe a decision with its runs and its evidence."""

    choice = forms.ChoiceField(label="What follows", choices=DECISIONS, widget=forms.RadioSelect)
    labels = forms.MultipleChoiceField(
        label="Samples this is decided for, unless the figures stand",
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    evidence = forms.ChoiceField(
        label="Evidence, if the figures stand",
        required=False,
        choices=[("", "none named"), *CauseAnswer.Evidence.choices],
    )
    rest_evidence = forms.ChoiceField(
        label="Samples not marked: evidence on which their figures stand",
        required=False,
        choices=[("", "all are marked"), *CauseAnswer.Evidence.choices],
    )
    rest_note = forms.CharField(
        label="Samples not marked: why their figures stand", required=False, max_length=500
    )
    note = forms.CharField(label="What was looked at, and why", max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}))  # fmt: skip
    printed = forms.BooleanField(label="Print its warnings on the certificate", required=False, initial=True)

    def __init__(self, *args: Any, cause: Cause, reported: Sequence[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if cause.needs is Needs.DECISION:
            choice: Any = self.fields["choice"]
            labels: Any = self.fields["labels"]
            labels.choices = [(label, label) for label in cause.labels if label in reported]
            labels.initial = [label for label, _ in labels.choices]
            choice.choices = [each for each in DECISIONS if _is_offered(each[0], cause, labels.choices)]
            if labels.choices:
                evidence: Any = self.fields["evidence"]
                speaks = evidence_that_speaks_to(cause)
                evidence.choices = [("", "none named"), *((each.value, each.label) for each in speaks)]
            left_out: tuple[str, ...] = () if len(labels.choices) > 1 and not is_of_all_runs(cause) else REST
            if not labels.choices:
                left_out = ("labels", *REST)
        else:
            left_out = ("choice", "labels", "evidence", *REST)
        for name in left_out:
            del self.fields[name]
        self.say_when_needed(*self.fields)

    def clean(self) -> dict[str, Any]:
        """A note alone is the answer of a form that asks for no decision."""
        cleaned = super().clean() or {}
        if "choice" not in self.fields:
            cleaned["choice"] = CauseAnswer.Choice.NOTED
        elif cleaned.get("choice") == CauseAnswer.Choice.STAND:
            cleaned["labels"] = []
        return cleaned


def _is_offered(choice: str, cause: Cause, reported: Sequence[Any]) -> bool:
    """Whether a decision can be taken: a pair too far apart never stands, and only a client's sample is held back."""
    if choice == CauseAnswer.Choice.STAND:
        return not (is_pair_beyond_action(cause) and reported)
    return bool(reported)
