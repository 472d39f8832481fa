"""The table of sample lines of a new job."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from particles.receiving.list_checks import depth_question, label_question
from particles.records.fields import PlainDayField, PlainDecimalField, plain_text

LINES_AT_FIRST = 12
LINES_AT_MOST = 300
ENOUGH_G = 100
"""One university laboratory asks for this much for the test. [g]"""


class LineForm(forms.Form):
    """One bag as the client listed it. A line with nothing typed is no line."""

    client_label = plain_text(
        what="the label exactly as written on the bag", length=80, label="Label on the bag"
    )
    depth_text = plain_text(what="the depth", length=40, required=False, label="Depth, with unit")
    sampled_on = PlainDayField(required=False, label="Sampled on")
    origin_country = plain_text(what="the country", length=80, required=False, label="Country of origin")
    origin_region = plain_text(what="the region", length=120, required=False, label="Region")
    condition = plain_text(what="the condition", length=200, required=False, label="Condition")
    received_mass_g = PlainDecimalField(
        what="the mass", unit="g", required=False, max_digits=9, decimal_places=1, label="Mass received"
    ).bounds("0.1", "99999999.9")
    checked = forms.BooleanField(required=False, label="Label checked")

    def __init__(self, data: Any = None, *, number: int | str, **kwargs: Any) -> None:
        self.number = number
        super().__init__(
            data,
            prefix=f"line{number}",
            empty_permitted=True,
            use_required_attribute=False,
            auto_id=False,
            **kwargs,
        )
        for field in self.fields.values():
            field.widget.attrs["aria-label"] = f"{field.label}, line {number}"

    @property
    def is_used(self) -> bool:
        """Whether anything was typed in the line."""
        return self.has_changed()

    def clean_depth_text(self) -> str:
        return unquestioned_depth(self.cleaned_data["depth_text"])

    def judge(self, *, country: str, region: str, today: date, earlier: Mapping[str, int]) -> bool:
        """Check against the head of the form and the lines above; True if the head's origin was taken."""
        taken = False
        cleaned = self.cleaned_data
        if not cleaned.get("origin_country") and "origin_country" not in self.errors:
            if country and not cleaned.get("origin_region"):
                cleaned.update(origin_country=country, origin_region=region)
                taken = True
            else:
                self.add_error("origin_country", "Type the country the soil comes from.")
        sampled_on = cleaned.get("sampled_on")
        if sampled_on and sampled_on > today:
            self.add_error("sampled_on", f"{sampled_on:%-d %b %Y} is after receipt on {today:%-d %b %Y}.")
        self._judge_label(earlier)
        return taken

    def _judge_label(self, earlier: Mapping[str, int]) -> None:
        label = self.cleaned_data.get("client_label", "")
        twin = earlier.get(same_label_key(label))
        self.cleaned_data["same_label_confirmed"] = False
        if not label:
            return
        if twin is not None and not self.cleaned_data["checked"]:
            self.add_error(
                "client_label",
                f"The same label as line {twin}. Tick “Label checked” if these are really two bags, "
                "or type what the bag says.",
            )
        elif twin is not None:
            self.cleaned_data["same_label_confirmed"] = True
        if (question := label_question(label)) and not self.cleaned_data["checked"]:
            self.add_error("client_label", question)

    @property
    def is_scarce(self) -> bool:
        """Whether the received mass is less than an analysis usually needs."""
        mass_g = self.cleaned_data["received_mass_g"]
        return mass_g is not None and mass_g < ENOUGH_G

    @property
    def fields_of_sample(self) -> dict[str, Any]:
        """The fields of the `Sample` that the line describes."""
        return {name: value for name, value in self.cleaned_data.items() if name != "checked"}


def same_label_key(label: str) -> str:
    """A key that is equal for labels that differ only in capitals or spaces, which are the same to the eye."""
    return " ".join(label.lower().split())


class LineTable:
    """The table of all lines of the form, in the client's order."""

    def __init__(
        self, data: Mapping[str, Any] | None = None, *, count: int = LINES_AT_FIRST, keep: bool = False
    ):
        """Read the lines in `data`; with `keep` they are shown again as typed, without judging them."""
        self.count = min(count, LINES_AT_MOST)
        self.lines = [self._line(number, data, keep) for number in range(1, self.count + 1)]
        self.blank_line = LineForm(number="__n__")
        self.at_most = LINES_AT_MOST
        self.origin_taken: list[int] = []

    @staticmethod
    def _line(number: int, data: Mapping[str, Any] | None, keep: bool) -> LineForm:
        if data is None or not keep:
            return LineForm(data, number=number)
        typed = {name: data.get(f"line{number}-{name}", "") for name in LineForm.base_fields}
        return LineForm(number=number, initial=typed)

    @classmethod
    def count_in(cls, data: Mapping[str, Any]) -> int:
        """Number of lines in a posted form; the usual number when it names none."""
        text = str(data.get("line_count", ""))
        return int(text) if text.isascii() and text.isdigit() else LINES_AT_FIRST

    @property
    def used(self) -> list[LineForm]:
        """Lines in which something was typed."""
        return [line for line in self.lines if line.is_used]

    def is_valid(self, *, country: str, region: str, today: date) -> bool:
        """Whether every used line is valid; each is judged beside the head and the lines above it."""
        earlier: dict[str, int] = {}
        valid = True
        for line in self.used:
            line.full_clean()
            if line.judge(country=country, region=region, today=today, earlier=earlier):
                self.origin_taken.append(int(line.number))
            earlier.setdefault(same_label_key(line.cleaned_data.get("client_label", "")), int(line.number))
            valid = valid and not line.errors
        return valid

    @property
    def wrong(self) -> list[LineForm]:
        """Used lines that have errors."""
        return [line for line in self.lines if line.is_bound and line.is_used and line.errors]


def unquestioned_depth(text: str) -> str:
    """A depth as it was typed, unless a spreadsheet may have made it or its unit is missing."""
    if question := depth_question(text):
        raise ValidationError(question)
    return text
