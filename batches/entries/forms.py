"""Fields and bases that the forms of all stations share: they read what was typed and store an entry."""

from __future__ import annotations

import re
from datetime import datetime
from decimal import Decimal
from typing import Any

from django import forms
from django.db.models import QuerySet

from batches.equipment.models import Cylinder
from batches.planning.models import Run
from particles.records.person import Person
from particles.records.written_once import WrittenOnce, columns_of, row_of


class PlainForm(forms.Form):
    """A form whose complaints are sentences a person at the bench can act on."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            choosing = isinstance(field, forms.ChoiceField)
            field.error_messages["required"] = "Choose one." if choosing else "Nothing was typed here."
            if choosing:
                field.error_messages["invalid_choice"] = "This choice cannot be taken now. Choose another."

    def say_when_needed(self, *names: str) -> None:
        """Call these fields not optional: their labels say when each is needed."""
        for name in names:
            self.fields[name].needed_at_times = True  # type: ignore[attr-defined]


class NumberField(forms.DecimalField):
    """A number with a decimal point, kept to the digit as typed."""

    # A number box of the browser drops a decimal comma without a word: 50,02 would arrive as 5002.
    widget = forms.TextInput

    def __init__(self, *, unit: str = "", **kwargs: Any) -> None:
        self.unit = unit
        super().__init__(**kwargs)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {**super().widget_attrs(widget), "inputmode": "decimal", "autocomplete": "off"}

    def to_python(self, value: Any) -> Any:
        text = str(value or "").strip() if not isinstance(value, Decimal) else str(value)
        if "," in text:
            meant = text.replace(",", ".")
            raise forms.ValidationError(f"“{text}” has a comma. Write {meant} if that is what was read.")
        try:
            return super().to_python(value)
        except forms.ValidationError as error:
            raise forms.ValidationError(f"“{text}” is not a number. Write it like 31.5.") from error

    def run_validators(self, value: Any) -> None:
        try:
            super().run_validators(value)
        except forms.ValidationError as error:
            if any(found.code == "min_value" for found in error.error_list):
                raise forms.ValidationError(
                    f"{value} is below {self.min_value}. Weigh and type it again."
                ) from error
            before = (self.max_digits or 0) - (self.decimal_places or 0)
            raise forms.ValidationError(
                f"{value} has more digits than can be kept: {before} before the point, {self.decimal_places} after it."
            ) from error


class ElapsedField(forms.Field):
    """Elapsed time as seconds, minutes:seconds or hours:minutes:seconds."""

    def to_python(self, value: Any) -> Decimal | None:
        text = str(value or "").strip()
        if not text:
            return None
        parts = text.split(":")
        if len(parts) > 3 or not all(re.fullmatch(r"[0-9]{1,7}(\.[0-9]+)?", part) for part in parts):
            raise forms.ValidationError(f"“{text}” is not a time. Write 45, 1:30 or 24:00:00.")
        seconds = Decimal(0)
        for part in parts:
            seconds = seconds * 60 + Decimal(part)
        if seconds <= 0:
            raise forms.ValidationError("A reading is taken after the start: the elapsed time is above 0 s.")
        if seconds != round(seconds, 1):
            raise forms.ValidationError(
                f"{seconds} s is finer than is kept. Write it to a tenth of a second."
            )
        return seconds


class EntryForm(forms.Form):
    """One kind of entry: whether it can be read, and what is stored of it."""

    may_complete = True
    """Whether what was stored may have completed a run or changed a complete one; a form that knows better says so."""

    def store(self, entry: Any, *, by: Person, at: datetime) -> str | None:
        """Store what was typed as rows of the station, by rules that may refuse it; what to say of it, if anything."""
        raise NotImplementedError


class RunField(forms.ModelChoiceField):
    """A field for one run, with its cylinder at hand."""

    def to_python(self, value: Any) -> Run | None:
        if value in self.empty_values:
            return None
        try:
            rows = _RUN(run=int(value)) if int(value) in ROW_NUMBERS else []
        except (ValueError, TypeError):
            rows = []
        if not rows:
            raise forms.ValidationError(self.error_messages["invalid_choice"], code="invalid_choice")
        run = row_of(Run, rows[0])
        run.cylinder = row_of(Cylinder, rows[0], "cylinder__")
        return run


ROW_NUMBERS = range(1, 2**63)


def _run(run: int) -> QuerySet[Run, dict[str, Any]]:
    return Run.objects.filter(pk=run).order_by().values(*columns_of(Run), *columns_of(Cylinder, "cylinder__"))


_RUN = WrittenOnce(_run, run=-1)


def run_field() -> RunField:
    """A field for the run a bench entry belongs to."""
    return RunField(Run.objects.all(), label="Cylinder")


class MomentField(forms.DateTimeField):
    """A moment as a tablet writes it."""

    def __init__(self, **kwargs: Any) -> None:
        wrong = {"invalid": "This is not a date and time. Reload the bench and take it again."}
        super().__init__(
            input_formats=["%Y-%m-%dT%H:%M:%S.%f%z", "%Y-%m-%dT%H:%M:%S%z"], error_messages=wrong, **kwargs
        )


class ReasonForm(PlainForm):
    """A reason alone, for acts that ask for nothing else."""

    reason = forms.CharField(max_length=300, widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(self, *args: Any, label: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].label = label
        self.fields["reason"].error_messages["required"] = "Say why."
