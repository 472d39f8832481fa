"""
Two values for one reading: the one that counts, and those that were refused because it stood there already.

The first one counts until somebody takes another, with a reason; both stay on record.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from batches.bench.forms import ReadingForm
from batches.bench.models import Reading
from batches.bench.rules import STANDS_ALREADY, current_readings
from batches.entries.models import Entry
from batches.entries.pages import refused_entries
from batches.planning.models import Run

AS_TAKEN = ("source", "counted_from", "time_doubt", "time_doubt_s")
"""What a value keeps of the moment it was taken at, when it is chosen later."""


@dataclass(frozen=True)
class OtherValue:
    """A value that was refused, beside the reading that counts for its slot."""

    run: Run
    kept: Reading
    entry: Entry
    read: dict[str, Any]
    """As it was understood."""

    @property
    def slot_s(self) -> int:
        """The slot of the schedule that both are for. [s]"""
        return self.kept.slot_s

    @property
    def in_words(self) -> str:
        """The value as a plain number, or what was said in its place."""
        value = self.read["reading"]
        return str(self.read["state"]) if value is None else f"{value.normalize():f}"

    @property
    def typed(self) -> dict[str, str]:
        """The value as the row of the sheet holds it; the reason is for whoever chooses."""
        content = self.entry.content
        return {name: content.get(name, "") for name in ("state", "reading", "elapsed_s", "temperature_c")}

    def content(self, row: dict[str, str]) -> dict[str, str]:
        """The entry of a chosen value, as it was taken and by whom; one that was changed is a value from paper."""
        if any(row.get(name, "").strip() != value for name, value in self.typed.items()):
            return row
        also = {name: self.entry.content.get(name, "") for name in AS_TAKEN}
        whose = f"Read by {self.entry.by}, {self.entry.received_at:%Y-%m-%d %H:%M} UTC."
        reason = row.get("reason", "").strip()
        return row | also | {"reason": f"{reason} {whose}"[:300] if reason else ""}


def other_values(runs: Sequence[Run]) -> list[OtherValue]:
    """Values of these runs that wait for somebody to choose, in the order they came."""
    by_pk = {str(run.pk): run for run in runs}
    counting = {(run.pk, reading.slot_s): reading for run in runs for reading in current_readings(run)}
    entries = refused_entries("run", (run.pk for run in runs)).filter(
        kind="reading", verdict__sentence__contains=STANDS_ALREADY
    )
    found = []
    for entry in entries:
        form = ReadingForm(entry.content)
        if not form.is_valid():
            continue  # refused for what it says, and not for what stood there
        run, read = by_pk[entry.content["run"]], form.cleaned_data
        kept = counting.get((run.pk, read["slot_s"]))
        if kept is not None and read["elapsed_s"] is not None and not _is_on_record(read, run):
            found.append(OtherValue(run, kept, entry, read))
    return found


def _is_on_record(read: dict[str, Any], run: Run) -> bool:
    """Whether the same value counts for its slot, or counted before a correction."""
    names = ("slot_s", "state", "reading", "elapsed_s", "temperature_c")
    return any(all(getattr(each, name) == read[name] for name in names) for each in run.readings.all())
