"""Reads the masses typed at the balance and beside the sieves."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any, ClassVar

from django import forms
from django.utils import timezone

from batches.balance.models import Purpose
from batches.balance.rules import is_off_aim, record_sieving, record_weighings
from batches.entries.forms import EntryForm, NumberField, PlainForm
from batches.equipment.models import Balance
from particles.models import Portion
from particles.records.person import Person


def mass_field(label: str, *, required: bool = False) -> NumberField:
    return NumberField(required=required, min_value=0, max_digits=9, decimal_places=4, label=label, unit="g")


class WeighingForm(PlainForm, EntryForm):
    """The weighings of a portion on one balance, all but those of a sieving; any of them may stay empty."""

    PURPOSES: ClassVar[tuple[Purpose, ...]] = tuple(
        p for p in Purpose if p not in (Purpose.WASHED_SAND, Purpose.PAN)
    )

    portion = forms.ModelChoiceField(Portion.objects.all())
    balance = forms.ModelChoiceField(Balance.objects.all(), empty_label="choose a balance")
    aimed_g: NumberField | None = NumberField(
        required=False, min_value=0, max_digits=9, decimal_places=4, label="Mass aimed at", unit="g"
    )
    sure_g: NumberField | None = NumberField(
        required=False,
        min_value=0,
        max_digits=9,
        decimal_places=4,
        label="What the balance shows, once more",
        unit="g",
    )
    reason = forms.CharField(required=False, max_length=300, label="Why it is weighed again")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["balance"].queryset = Balance.objects.usable(timezone.localdate())  # type: ignore[attr-defined]
        for purpose in self.PURPOSES:
            self.fields[self.field_name(purpose)] = mass_field(str(purpose.label).capitalize())

    @staticmethod
    def field_name(purpose: Purpose) -> str:
        """Name of the form's field for one purpose."""
        return f"{purpose.name.lower()}_g"

    def typed_masses_g(self) -> dict[Purpose, Decimal]:
        """Masses that were typed, by purpose; empty fields are left out. [g]"""
        typed = {p: self.cleaned_data.get(self.field_name(p)) for p in self.PURPOSES}
        return {p: mass for p, mass in typed.items() if mass is not None}

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        if not self.errors and not any(typed.get(self.field_name(p)) is not None for p in self.PURPOSES):
            raise forms.ValidationError("Type at least one mass.")
        self._ask_off_aim(typed)
        return typed

    def _ask_off_aim(self, typed: Mapping[str, Any]) -> None:
        """A portion far from what was aimed at is typed twice, since a slip of the pen looks like any other mass."""
        mass_g, aimed_g = typed.get(self.field_name(Purpose.PORTION)), typed.get("aimed_g")
        if mass_g is None or not aimed_g or not is_off_aim(mass_g, aimed_g) or typed.get("sure_g") == mass_g:
            return
        self.add_error(
            self.field_name(Purpose.PORTION),
            f"{mass_g:f} g was typed, {aimed_g.normalize():f} g aimed at. Read the balance again and correct what is "
            "wrong; if both are right, type the mass once more below.",
        )

    def store(self, entry: Any, *, by: Person, at: datetime) -> None:
        shared = {k: self.cleaned_data[k] for k in ("balance", "reason")}
        record_weighings(
            self.cleaned_data["portion"],
            self.typed_masses_g(),
            aimed_g=self.cleaned_data.get("aimed_g"),
            entry=entry,
            by=by,
            at=at,
            **shared,
        )


class SieveForm(WeighingForm):
    """One sieving: the mass on each sieve, the washed sand and the pan."""

    aimed_g = None
    sure_g = None
    PURPOSES: ClassVar[tuple[Purpose, ...]] = (Purpose.WASHED_SAND, Purpose.PAN)
    OPENINGS_UM = (1000, 500, 250, 100, 53)
    """Sieves of the USDA sand fractions, with the 53 µm sieve at the sand limit."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].label = "Why it is sieved again"
        for opening_um in self.OPENINGS_UM:
            self.fields[self.sieve_name(opening_um)] = mass_field(f"{opening_um} µm", required=True)
        for purpose in self.PURPOSES:
            self.fields[self.field_name(purpose)].required = True
        for field in self.fields.values():
            if isinstance(field, NumberField):
                field.error_messages["required"] = "Nothing was typed here. Type 0 if nothing stayed."

    @staticmethod
    def sieve_name(opening_um: int) -> str:
        return f"sieve_{opening_um}_g"

    def store(self, entry: Any, *, by: Person, at: datetime) -> None:
        typed = self.cleaned_data
        record_sieving(
            typed["portion"],
            self.typed_masses_g(),
            {opening: typed[self.sieve_name(opening)] for opening in self.OPENINGS_UM},
            balance=typed["balance"],
            reason=typed["reason"],
            entry=entry,
            by=by,
            at=at,
        )
