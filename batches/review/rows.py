"""The rows of the review page, in the order they should be looked at."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Q
from django.utils import timezone

from batches.balance.models import SieveMass, Weighing
from batches.bench.blank import standing_blank_readings
from batches.bench.models import BlankReading, Reading
from batches.bench.rules import current_readings, missing_slots, time_zero
from batches.computing.models import Flag, Result
from batches.computing.rows import RANK
from batches.corrections.models import (
    DensityCorrection,
    FillingCorrection,
    density_in_words,
    filling_in_force,
    filling_in_words,
)
from batches.entries.pages import refused_entries, refused_rows
from batches.exchanging.rows import put_right
from batches.planning import rules as planning_rules
from batches.planning.freshness import page_version
from batches.planning.models import UNDER_REVIEW, Batch, Run
from batches.quality.pairs import Pair
from batches.repeating.rules import Attempt, attempts_at, new_portion_asked_for
from batches.review import rules as review_rules
from batches.review.examination import ExaminedRun, across_batch, examine
from batches.review.forms import DecisionForm, FlagNoteForm, GiveBackForm, PairNoteForm, SignatureForm
from batches.review.models import RunDecision
from batches.review.odd_values import odd_values
from batches.review.returning import since_return
from batches.review.second import SecondCalculation
from batches.review.signature import MEANING, WITH_FIGURES, decision_of, signature_in_force, what_differs
from batches.voiding.models import is_void
from batches.voiding.rows import seen_context
from particles.distribution import Finding
from particles.models import Preparation, PretreatmentDecision
from particles.records.person import Person

WHY_RETURNED = "What the bench should look at"
WHY_REJECTED = "Why the batch cannot be used"


@dataclass(frozen=True)
class FlagRow:
    """One flag with the form for its note."""

    flag: Flag
    form: FlagNoteForm | None
    """None once it is reviewed, or when it asks for no note."""


@dataclass(frozen=True)
class PairRow:
    """One pair with the form for its note."""

    pair: Pair
    form: PairNoteForm | None
    """None once it is reviewed, or when the pair lies within its limits."""


@dataclass(frozen=True)
class RunRow:
    """One run with its figures, the second calculation and the form for its decision."""

    run: Run
    result: Result | None
    choice: str | None
    newest_decision: RunDecision | None
    form: DecisionForm | None
    second: SecondCalculation | None

    @property
    def is_void(self) -> bool:
        return is_void(self.run)

    @property
    def asked_for(self) -> str:
        """Why it asks for a new portion by itself, while nobody has decided; '' when it does not."""
        asked = None if self.result is None or self.newest_decision else new_portion_asked_for(self.result)
        return "" if asked is None else asked.reason

    @property
    def fractions(self) -> Any:
        """Fractions of the result in force; None without figures."""
        distribution = None if self.result is None else self.result.distribution
        return None if distribution is None else distribution.fractions

    @property
    def texture(self) -> Any:
        """Texture class of the result in force; None without figures."""
        distribution = None if self.result is None else self.result.distribution
        return None if distribution is None else distribution.texture


def review_context(batch: Batch, viewer: Any, forms: dict[str, Any]) -> dict[str, Any]:
    """Template context of the review; `forms` are those that came back with a complaint, by name of their place."""
    workers = batch.workers()
    is_worker = viewer.pk in workers
    open_for_review = batch.state in UNDER_REVIEW and not is_worker
    runs = examine(batch)
    flags = flag_rows(runs, forms, open_for_review)
    pairs = review_rules.pairs_of(runs)
    return {
        "batch": batch,
        "is_worker": is_worker,
        "open_for_review": open_for_review,
        "qc": quality_control(batch),
        "people": people(batch),
        "across": across_batch([(each.run, each.record) for each in runs], batch.method.edition),
        "pairs": [_pair_row(pair, forms, open_for_review) for pair in pairs],
        "all_pairs": pairs,
        "too_few_duplicates": planning_rules.too_few(batch, pairs),
        "flags": [row for row in flags if row.flag.severity != Flag.Severity.NOTE],
        "notes": [row.flag for row in flags if row.flag.severity == Flag.Severity.NOTE],
        "runs": [_run_row(each, forms, open_for_review) for each in runs],
        "changes": changes(batch),
        **seen_context(Q(run__batch=batch)),
        "refused_entries": refused_rows(_refused(batch)),
        "odd": odd_runs(runs),
        "against": review_rules.what_stands_against(runs) if open_for_review else [],
        "meaning": MEANING,
        "version": page_version(batch),
        "signature": signature_in_force(batch),
        "differs": what_differs(batch),
        "returned": since_return(batch),
        "approvals": batch.approvals.select_related("by").order_by("pk"),
        "nonconforming": batch.nonconforming.select_related("by").order_by("pk"),
        "attempts": earlier_attempts(runs),
        "signature_form": forms.get("signature") or SignatureForm(prefix="sign"),
        "return_form": forms.get("return") or GiveBackForm(label=WHY_RETURNED, prefix="return"),
        "reject_form": forms.get("reject") or GiveBackForm(label=WHY_REJECTED, prefix="reject"),
        "moves": batch.moves.select_related("by").order_by("pk"),
    }


def quality_control(batch: Batch) -> dict[str, Any]:
    """Template context of what a review looks at first: the blank, the soak and the instruments of the batch."""
    blank = batch.blank
    at_slots = [r for r in current_readings(blank) if r.reading is not None]
    known: list[Reading | BlankReading] = [*at_slots, *standing_blank_readings(blank)]
    readings = sorted(known, key=lambda each: str(each.taken_at))
    first = readings[0] if readings else None
    day: date = timezone.localdate(time_zero(blank) or batch.planned_at)
    instruments = [
        batch.hydrometer,
        batch.thermometer,
        *(r.cylinder for r in batch.runs.in_plan().select_related("cylinder")),
    ]
    return {
        "day": day,
        "blank": blank,
        "blank_missing": missing_slots(blank),
        "blank_readings": [
            {"reading": r, "drift": r.reading - first.reading, "drift_c": r.temperature_c - first.temperature_c}
            for r in readings
            if first is not None and r.reading is not None and first.reading is not None
            and r.temperature_c is not None and first.temperature_c is not None
        ],
        "filling": filling_in_force(batch),
        "soak_is_short": (batch.soaked_h or 0) < batch.method.edition.soak_minimum_h,
        "minimum_h": batch.method.edition.soak_minimum_h,
        "instruments": [{"instrument": i, "condition": i.condition(day)} for i in instruments],
        "lot_is_good": batch.lot.made_on <= day <= batch.lot.expires_on,
    }  # fmt: skip


def people(batch: Batch) -> list[tuple[str, str]]:
    """Kinds of work in this batch, each with the names of who did it."""

    def names(model: Any, **where: Any) -> str:
        found = {
            str(row.by)
            for row in model.objects.filter(**where).select_related("by").distinct("by").order_by("by")
        }
        return ", ".join(sorted(found)) or "nobody"

    return [
        ("Prepared", names(Preparation, sample__portions__run__batch=batch)),
        ("Weighed", names(Weighing, portion__run__batch=batch)),
        ("Read", names(Reading, run__batch=batch)),
        ("Sieved", names(SieveMass, portion__run__batch=batch)),
    ]


def flag_rows(runs: list[ExaminedRun], forms: dict[str, Any], open_for_review: bool) -> list[FlagRow]:
    """Every flag of the batch, stops first, notes last."""
    results = [each.result for each in runs if each.result is not None]
    flags = Flag.objects.filter(result__in=results).select_related(
        "result__run__portion__sample", "result__run__cylinder", "review__by"
    )
    ranked = sorted(flags, key=lambda f: (RANK[f.severity], f.result.run.position, f.pk))
    return [
        FlagRow(
            f,
            (forms.get(f"flag_{f.pk}") or FlagNoteForm(prefix=f"flag_{f.pk}"))
            if _asks(f, open_for_review)
            else None,
        )
        for f in ranked
    ]


def odd_runs(runs: list[ExaminedRun]) -> list[tuple[Run, list[Finding]]]:
    """Values that were kept though they are odd, unless a flag of the result says the same."""
    found = []
    for each in runs:
        flagged = set() if each.result is None else {flag.code for flag in each.result.flags.all()}
        odd = [f for f in odd_values(each.run) if f.code not in flagged]
        if odd:
            found.append((each.run, odd))
    return found


def _asks(flag: Flag, open_for_review: bool) -> bool:
    return open_for_review and flag.needs_review


def _pair_row(pair: Pair, forms: dict[str, Any], open_for_review: bool) -> PairRow:
    if not (open_for_review and pair.severity and pair.review is None):
        return PairRow(pair, None)
    name = f"pair_{pair.duplicate.pk}"
    return PairRow(pair, forms.get(name) or PairNoteForm(prefix=name))


def _run_row(each: ExaminedRun, forms: dict[str, Any], open_for_review: bool) -> RunRow:
    form, result = None, each.result
    choice = None if result is None else decision_of(result)
    if result is not None and open_for_review and each.run.is_reported:
        name = f"decide_{result.pk}"
        form = forms.get(name) or DecisionForm(prefix=name, initial={"choice": choice})
        if not result.certifiable:
            field: Any = form.fields["choice"]
            field.choices = [c for c in field.choices if c[0] not in WITH_FIGURES]
    newest = each.decisions[-1] if each.decisions else None
    return RunRow(each.run, result, choice, newest, form, each.second)


def earlier_attempts(runs: list[ExaminedRun]) -> list[tuple[Run, list[Attempt]]]:
    """Runs whose sample was analysed before, each with all attempts at it."""
    again = [e.run for e in runs if e.run.is_reported and e.run.portion and e.run.portion.attempt > 1]
    found = attempts_at([run.sample for run in again]) if again else {}
    return [(run, found[run.sample.pk]) for run in again]


@dataclass(frozen=True)
class Change:
    """One value that took the place of another, with who changed it, when and why."""

    what: str
    before: str
    after: str
    reason: str
    by: Person
    at: datetime


def changes(batch: Batch) -> list[Change]:
    """Every value that took the place of an earlier one."""
    found = [
        _reading_change(r)
        for r in Reading.objects.filter(run__batch=batch, attempt__gt=1).select_related("by", "run__cylinder")
    ]
    for mass in Weighing.objects.filter(portion__run__batch=batch, attempt__gt=1).select_related(
        "by", "portion__sample"
    ):
        earlier = Weighing.objects.get(portion=mass.portion, purpose=mass.purpose, attempt=mass.attempt - 1)
        what = f"{mass.portion}, {mass.get_purpose_display()}"
        found.append(_mass_change(what, earlier.mass_g, mass.mass_g, mass))
    for retained in SieveMass.objects.filter(portion__run__batch=batch, attempt__gt=1).select_related(
        "by", "portion__sample"
    ):
        before = SieveMass.objects.get(
            portion=retained.portion, opening_um=retained.opening_um, attempt=retained.attempt - 1
        )
        what = f"{retained.portion}, on {retained.opening_um.normalize():f} µm"
        found.append(_mass_change(what, before.retained_g, retained.retained_g, retained))
    return sorted(
        [*found, *_changes_before_the_bench(batch), *(Change(*each) for each in put_right(batch))],
        key=lambda change: change.at,
    )


def _changes_before_the_bench(batch: Batch) -> list[Change]:
    corrected = {"sample__portions__run__batch": batch, "supersedes__isnull": False}
    prepared = Preparation.objects.filter(**corrected).select_related("by", "sample", "supersedes")
    decided = PretreatmentDecision.objects.filter(**corrected).select_related("by", "sample", "supersedes")
    return [
        *_later_densities(batch),
        *_later_fillings(batch),
        *(
            Change(str(p), p.supersedes.in_words, p.in_words, p.reason or "", p.by, p.at)
            for p in prepared
            if p.supersedes
        ),
        *(
            Change(
                str(d),
                d.supersedes.in_words_with_evidence,
                d.in_words_with_evidence,
                d.why_superseded or "",
                d.by,
                d.at,
            )
            for d in decided
            if d.supersedes
        ),
    ]


def _later_densities(batch: Batch) -> list[Change]:
    found = DensityCorrection.objects.filter(portion__run__batch=batch).select_related(
        "by", "portion__sample", "supersedes"
    )
    return [_correction(d, density_in_words(d.portion)) for d in found]


def _later_fillings(batch: Batch) -> list[Change]:
    found = batch.filling_corrections.select_related("by", "batch", "supersedes")
    return [_correction(f, filling_in_words(f.batch)) for f in found]


def _correction(made: DensityCorrection | FillingCorrection, at_first: str) -> Change:
    earlier = made.supersedes.in_words if made.supersedes else at_first
    return Change(str(made), earlier, made.in_words, made.reason, made.by, made.at)


def _mass_change(what: str, before: Any, after: Any, row: Any) -> Change:
    return Change(what, f"{before.normalize():f} g", f"{after.normalize():f} g", row.reason, row.by, row.at)


def _reading_change(reading: Reading) -> Change:
    earlier = Reading.objects.get(
        run=reading.run, replunge=reading.replunge_id, slot_s=reading.slot_s, attempt=reading.attempt - 1
    )
    what = f"Cylinder {reading.run.cylinder.serial}, {reading.slot_s} s"
    return Change(what, _told(earlier), _told(reading), reading.reason, reading.by, reading.at)


def _told(reading: Reading) -> str:
    if reading.elapsed_s is None or reading.temperature_c is None:
        return reading.in_words
    elapsed_s, temperature_c = (f"{v.normalize():f}" for v in (reading.elapsed_s, reading.temperature_c))
    return f"{reading.in_words} at {elapsed_s} s, {temperature_c} °C"


def _refused(batch: Batch) -> Any:
    """Refused entries for this batch, its portions or their bags."""
    portions = list(batch.runs.filter(is_blank=False).values_list("portion", "portion__sample"))
    return (
        refused_entries("run", batch.runs.values_list("pk", flat=True))
        | refused_entries("portion", (portion for portion, _ in portions))
        | refused_entries("sample", (sample for _, sample in portions))
        | refused_entries("batch", [batch.pk])
    ).order_by("pk")
