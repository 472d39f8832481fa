"""Reads what is asked of a bench day: batches, who is there and when, pace, slide and the first start."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django import forms
from django.utils import timezone

from batches.entries.forms import PlainForm
from batches.planning.models import Batch, BatchState
from batches.planning.timetable import PACES, Slide
from batches.timetables.clock import Span, minute_of, moment_of, read_spans
from batches.timetables.rules import Asked

DAYS = 5
"""Today and as many days after it as a Friday's 24 h readings and a Monday need. [-]"""
START_DAYS = 4
"""A first start lies on one of so many days, so that its 24 h readings still lie on a day with hours. [-]"""
USUAL_HOURS = "08:00-12:00, 12:30-16:30"
"""Proposed from Monday to Friday. *Common practice*."""
SATURDAY = 5
SLIDES_PCT = (0.0, 1.0, 2.0, 5.0, 10.0)
USUAL_SLIDE_PCT = 5.0
LATE_BY = timedelta(minutes=10)
"""A first start that passed so recently, while the page was filled in, is taken as now."""


class SpansField(forms.CharField):
    """Spans of one day, such as “08:00-12:00, 12:30-16:30”; empty: not there."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(required=False, max_length=120, **kwargs)

    def clean(self, value: Any) -> list[Span]:
        try:
            return read_spans(super().clean(value))
        except ValueError as error:
            raise forms.ValidationError(str(error)) from error


def pace_in_words(pace: str) -> str:
    """How long hands are busy at a pace."""
    hands = PACES[pace]
    return (
        f"{pace.capitalize()}: {hands.start_before_s} s before a start to {hands.start_after_s} s after, "
        f"{hands.reading_before_s} s before a reading to {hands.reading_after_s} s after"
    )


def slide_in_words(pct: float) -> str:
    """A slide as a share of the time, and as the move of a size that it means."""
    if not pct:
        return "Not at all: each reading exactly at its time"
    return f"{pct:g} % of the elapsed time either way: a size moves by {Slide(pct).size_shift_pct():.1f} % at most"


@dataclass(frozen=True)
class PersonFields:
    """The fields of one person: there or not, and the hours of each day."""

    person: Any
    there: Any
    days: list[Any]


class BenchDayForm(PlainForm):
    """A bench day, in clock times of the laboratory's time zone."""

    batches = forms.MultipleChoiceField(label="Batches", widget=forms.CheckboxSelectMultiple)
    first_day = forms.ChoiceField(label="Day of the first start")
    first_time = forms.CharField(label="First start not before", max_length=5)
    pace = forms.ChoiceField(
        label="Hands are busy",
        widget=forms.RadioSelect,
        choices=[(pace, pace_in_words(pace)) for pace in PACES],
        initial="comfortable",
    )
    slide_pct = forms.ChoiceField(
        label="A later reading may be moved by",
        widget=forms.RadioSelect,
        choices=[(f"{pct:g}", slide_in_words(pct)) for pct in SLIDES_PCT],
        initial=f"{USUAL_SLIDE_PCT:g}",
        help_text="So that more cylinders find a place. The true time is used in any case.",
    )

    def __init__(
        self,
        *args: Any,
        batches: Sequence[Batch],
        people: Sequence[Any],
        at: datetime,
        hours: Mapping[str, Mapping[str, str]],
        asks: Any,
        **kwargs: Any,
    ) -> None:
        """`hours` are those of the timetable in force, by person and day; `asks` is whoever plans."""
        super().__init__(*args, **kwargs)
        self.at, self.people = at, list(people)
        self.offered = {batch.number: batch for batch in batches}
        today = timezone.localdate(at)
        self.days = [today + timedelta(days=n) for n in range(DAYS)]
        chosen = [b.number for b in batches if b.state in (BatchState.RUNNING, BatchState.DISPERSED)]
        self._choices("batches", [(b.number, f"{b.number}, {b.state}, {b.method}") for b in batches], chosen)
        soon = timezone.localtime(first_start_default(at))
        days = [(day.isoformat(), f"{day:%A %-d %b}") for day in self.days[:START_DAYS]]
        self._choices("first_day", days, soon.date().isoformat())
        self.fields["first_time"].initial = f"{soon:%H:%M}"
        self.fields["batches"].error_messages["required"] = "Choose at least one batch."
        usual = {str(asks.pk)} if not hours else set(hours)
        for person in self.people:
            key = str(person.pk)
            self.fields[f"there_{key}"] = forms.BooleanField(
                required=False, label=str(person), initial=key in usual
            )
            for day in self.days:
                proposed = USUAL_HOURS if day.weekday() < SATURDAY else ""
                self.fields[f"hours_{key}_{day}"] = SpansField(
                    label=f"{day:%a %-d %b}",
                    initial=hours.get(key, {}).get(day.isoformat(), proposed),
                )

    def _choices(self, name: str, choices: list[tuple[str, str]], initial: Any) -> None:
        field: Any = self.fields[name]
        field.choices, field.initial = choices, initial

    def rows(self) -> list[PersonFields]:
        """Fields of each person, as the page lays them out."""
        return [
            PersonFields(
                person, self[f"there_{person.pk}"], [self[f"hours_{person.pk}_{day}"] for day in self.days]
            )
            for person in self.people
        ]

    @property
    def weekend(self) -> list[str]:
        """The days shown that are no working days, in words."""
        return [f"{day:%A}" for day in self.days if day.weekday() >= SATURDAY]

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        there = [person for person in self.people if typed.get(f"there_{person.pk}")]
        if not there:
            raise forms.ValidationError(
                "Nobody is at the bench. Tick whoever starts and reads, and give the hours."
            )
        for person in there:
            self._check_hours(person)
        if "first_day" in typed and "first_time" in typed:
            self._read_first_start(typed["first_day"], typed["first_time"])
        return typed

    def _check_hours(self, person: Any) -> None:
        names = [f"hours_{person.pk}_{day}" for day in self.days]
        if all(name in self.cleaned_data and not self.cleaned_data[name] for name in names):
            self.add_error(names[0], "No hours on any day: give them, or take the tick away.")
        for day, name in zip(self.days, names, strict=True):
            try:
                for start, end in self.cleaned_data.get(name, ()):
                    moment_of(day, start, timezone.get_default_timezone())
                    moment_of(day, end, timezone.get_default_timezone())
            except ValueError as error:
                self.add_error(name, str(error))

    def _read_first_start(self, day: str, clock: str) -> None:
        try:
            minute = minute_of(clock)
            first = moment_of(date.fromisoformat(day), minute, timezone.get_default_timezone())
        except ValueError as error:
            self.add_error("first_time", str(error))
            return
        if first < self.at - LATE_BY:
            now = timezone.localtime(self.at)
            self.add_error(
                "first_time", f"{clock} is past, it is {now:%H:%M}. Give a later time or another day."
            )
        self.cleaned_data["first_start_at"] = max(first, self.at)

    def asked(self) -> Asked:
        """What the day is asked for with."""
        typed = self.cleaned_data
        there = [person for person in self.people if typed[f"there_{person.pk}"]]
        return Asked(
            batches=[self.offered[number] for number in typed["batches"]],
            hours={p.pk: {day: typed[f"hours_{p.pk}_{day}"] for day in self.days} for p in there},
            pace=typed["pace"],
            slide_pct=float(typed["slide_pct"]),
            first_start_at=typed["first_start_at"],
            as_typed={
                str(p.pk): {
                    f"{day}": self.data.get(self.add_prefix(f"hours_{p.pk}_{day}"), "") for day in self.days
                }
                for p in there
            },
        )


def first_start_default(at: datetime) -> datetime:
    """The first whole five minutes a quarter of an hour from now."""
    soon = at.replace(second=0, microsecond=0) + timedelta(minutes=15)
    return soon + timedelta(minutes=-soon.minute % 5)
