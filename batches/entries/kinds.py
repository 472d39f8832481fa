"""The table of the form that reads and stores each kind of entry."""

from __future__ import annotations

from batches.balance.forms import SieveForm, WeighingForm
from batches.bench.forms import BlankReadingForm, ObservationForm, ReadingForm, ReplungeForm, StartForm
from batches.corrections.forms import DensityCorrectionForm, FillingCorrectionForm
from batches.entries.forms import EntryForm
from batches.planning.forms import FillingForm
from batches.readers.forms import SecondReadingForm
from batches.room.forms import PreparationEntryForm, PretreatmentEntryForm, TakePortionForm
from batches.voiding.forms import CannotBeWeighedForm, VoidForm

BENCH_FORMS: dict[str, type[EntryForm]] = {
    "start": StartForm,
    "reading": ReadingForm,
    "second reading": SecondReadingForm,
    "blank reading": BlankReadingForm,
    "replunge": ReplungeForm,
    "observation": ObservationForm,
    "void": VoidForm,
    "weighing": WeighingForm,
    "sieve": SieveForm,
}
"""What a tablet may send."""


FORMS: dict[str, type[EntryForm]] = BENCH_FORMS | {
    "preparation": PreparationEntryForm,
    "pretreatment": PretreatmentEntryForm,
    "portion": TakePortionForm,
    "cannot be weighed": CannotBeWeighedForm,
    "filling": FillingForm,
    "particle density": DensityCorrectionForm,
    "filling, corrected": FillingCorrectionForm,
}
