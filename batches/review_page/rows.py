"""The context of the review page, in the order it should be looked at."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db.models import Prefetch, prefetch_related_objects

from batches.bench.blank import standing_blank_readings
from batches.causes.kept import AnsweredCause, page_in_force
from batches.causes.rows import CauseRow, cause_rows
from batches.corrections.models import FillingCorrection
from batches.entries.pages import refused_entries, refused_rows
from batches.exchanging.arrangement import arrangement_of
from batches.exchanging.rows import PUT_RIGHT, put_right
from batches.planning.freshness import DoneInBatch, done_in
from batches.planning.models import UNDER_REVIEW, Batch, BatchState, Run
from batches.quality.judged_batch import Line, Verdict
from batches.quality.pairs import Pair
from batches.repeating.rules import Attempt, attempts_at
from batches.review import rules as review_rules
from batches.review.acts_done import name_people
from batches.review.examination import ExaminedRun, examine
from batches.review.forms import GiveBackForm, PairNoteForm, QualityLookForm, SignatureForm
from batches.review.models import QualityLook
from batches.review.returning import since_return
from batches.review.signature import MEANING, signature_in_force, what_differs
from batches.review.signing import needs_why_rest, no_figures_leave, was_reopened
from batches.review.verdict import day_of
from batches.review_page.changes import Change, changes_of, seen_at_cylinders
from batches.review_page.looks import since_last_look
from batches.review_page.strip import StripRow, asked_for, strip_rows
from particles.distribution import Finding
from particles.records.person import Person

WHY_RETURNED = "What the bench should look at"
WHY_REJECTED = "Why the batch cannot be used"
Acts = list[tuple[Person, datetime, str]]


def review_context(
    batch: Batch, viewer: Any, forms: dict[str, Any], *, at: datetime, deciding: int | None
) -> dict[str, Any]:
    """Template context of the review; `forms` are those that came back with a complaint, by name of their place."""
    done = done_in(batch)  # before anything is read: what comes later makes the page's version old
    _prefetch_fillings(batch, done)
    is_worker = viewer.pk in done.workers
    is_open = batch.state in UNDER_REVIEW and not is_worker and viewer.has_perm("batches.review")
    runs = examine(batch, done)
    verdict, found = page_in_force(batch, runs, done, at=at)
    causes, stops = found.causes, review_rules.what_control_stops(verdict)
    newest_look = review_rules.newest_look(batch) if done.holds(QualityLook) else None
    look = review_rules.look_that_holds(newest_look, verdict)
    rows = cause_rows(causes, runs, forms, is_open=is_open)
    pairs = review_rules.pairs_of(runs)
    fillings = sorted(batch.filling_corrections.all(), key=lambda each: each.pk)
    name_people(fillings, done.people)
    everybody = [*([runs[0].blank] if runs else []), *(each.run for each in runs)]
    changes = changes_of(everybody, fillings)
    if any(done.holds(kind) for kind in PUT_RIGHT):
        changes += [Change(*each) for each in put_right(batch)]
        changes.sort(key=lambda change: change.at)
    moves = list(batch.moves.select_related("by").order_by("pk"))
    was_signed = any(move.to_state == BatchState.APPROVED for move in moves)
    approvals = list(batch.approvals.select_related("by").order_by("pk")) if was_signed else []
    nonconforming = list(batch.nonconforming.select_related("by").order_by("pk")) if was_signed else []
    acts = _reviewing(runs, causes, moves, look)
    clients = sorted({each.run.sample.job.client.name for each in runs if not each.run.is_reference})
    needs_why = needs_why_rest(runs)
    strip = strip_rows(runs, causes, forms, is_open=is_open, deciding=deciding)
    return {
        "batch": batch,
        "is_worker": is_worker,
        "open_for_review": is_open,
        "verdict": [(line, _causes_behind(line, rows)) for line in verdict.lines],
        "verdict_passed": verdict.passed,
        "not_judged": verdict.not_judged,
        "quality_look": look,
        "earlier_look": newest_look if look is None else None,
        "samples_hidden": is_open and look is None,
        "look_form": _look_form(forms.get("verdict"), verdict),
        "qc": quality_control(batch, runs),
        "taken_out": [] if verdict.passed else list(batch.taken_out),
        "clients": clients,
        "several_clients": len(clients) > 1,
        "pairs": [_pair_row(pair, forms, is_open) for pair in pairs],
        "all_pairs": pairs,
        "causes": [row for row in rows if not row.is_only_looked_at],
        "looked_at_only": [row for row in rows if row.is_only_looked_at],
        "asked_for": asked_for(causes),
        "strip": strip,
        "waiting": [each.run for each in runs if each.waits_for_worker],
        "needs_why_rest": needs_why,
        "control_stops": stops,
        "agreement": agreement(strip),
        "changes": changes,
        **seen_at_cylinders(everybody),
        "refused_entries": refused_rows(_refused(batch, everybody)),
        "odd": _odd_runs(runs, found.odd),
        "since_look": since_last_look(batch, runs, acts, changes, by=viewer, at=at),
        "returned": since_return(batch) if any(m.to_state == BatchState.RETURNED for m in moves) else None,
        "moves": moves,
        "against": [
            *review_rules.what_stands_against(runs, causes, verdict, look),
            *no_figures_leave(runs, stops),
        ]
        if is_open
        else [],
        "meaning": MEANING,
        "version": done.version,
        "signature": signature_in_force(batch),
        "differs": what_differs(batch),
        "approvals": approvals,
        "was_reopened": not batch.approved_by_id and was_reopened(moves),
        "nonconforming": nonconforming,
        "attempts": earlier_attempts(runs),
        "signature_form": _signature_form(forms.get("signature"), needs_why),
        "return_form": forms.get("return") or GiveBackForm(label=WHY_RETURNED, prefix="return"),
        "reject_form": forms.get("reject") or GiveBackForm(label=WHY_REJECTED, prefix="reject"),
    }


def _look_form(kept: QualityLookForm | None, verdict: Verdict) -> QualityLookForm:
    """The form of the look; its note is asked for where something did not pass."""
    form = kept or QualityLookForm(prefix="look")
    form.fields["note"].required = not verdict.passed
    return form


def _signature_form(kept: SignatureForm | None, needs_why: bool) -> SignatureForm:
    """The form of the signature; it asks why the rest is not touched where a signature must say so."""
    form = kept or SignatureForm(prefix="sign")
    form.fields["why_rest"].required = needs_why
    return form


def _prefetch_fillings(batch: Batch, done: DoneInBatch) -> None:
    rows = (
        FillingCorrection.objects.all() if done.holds(FillingCorrection) else FillingCorrection.objects.none()
    )
    prefetch_related_objects([batch], Prefetch("filling_corrections", rows))


def _causes_behind(line: Line, rows: Sequence[CauseRow]) -> list[CauseRow]:
    """The causes that tell what a line of quality control says of single runs."""
    codes = set(line.codes)
    return [
        row for row in rows if row.cause.kind in codes or codes & {told.code for told in row.cause.told_by}
    ]


def quality_control(batch: Batch, runs: Sequence[ExaminedRun]) -> dict[str, Any]:
    """Template context of what stands behind the verdict: the blank, the instruments and the people of the batch."""
    blank = runs[0].blank if runs else batch.blank
    arrangement = runs[0].arrangement if runs else arrangement_of(batch)
    at_slots = [r for r in arrangement.readings(blank) if r.reading is not None]
    known: list[Any] = [*at_slots, *standing_blank_readings(blank)]
    readings = sorted(known, key=lambda each: str(each.taken_at))
    first = readings[0] if readings else None
    day = day_of(blank)
    instruments = [batch.hydrometer, batch.thermometer, blank.cylinder, *(each.run.cylinder for each in runs)]
    return {
        "day": day,
        "blank": blank,
        "blank_missing": arrangement.missing(blank),
        "blank_readings": [
            {"reading": r, "drift": r.reading - first.reading, "drift_c": r.temperature_c - first.temperature_c}
            for r in readings
            if first is not None and r.reading is not None and first.reading is not None
            and r.temperature_c is not None and first.temperature_c is not None
        ],
        "instruments": [{"instrument": i, "condition": i.condition(day)} for i in instruments],
        "people": people(runs),
    }  # fmt: skip


def people(runs: Sequence[ExaminedRun]) -> list[tuple[str, str]]:
    """Kinds of work in this batch, each with the names of who did it."""
    portions = [each.run.portion for each in runs if each.run.portion is not None]
    everybody = [*(each.run for each in runs), *(each.blank for each in runs[:1])]

    def names(acts: Iterator[Any]) -> str:
        return ", ".join(sorted({str(act.by) for act in acts})) or "nobody"

    return [
        ("Prepared", names(act for portion in portions for act in portion.sample.preparations.all())),
        ("Weighed", names(act for portion in portions for act in portion.weighings.all())),
        ("Read", names(act for run in everybody for act in run.readings.all())),
        ("Sieved", names(act for portion in portions for act in portion.sieve_masses.all())),
    ]


def agreement(strip: Sequence[StripRow]) -> dict[str, Any]:
    """What the second calculation says of all runs, once: how many agree, which differ, which it does not cover."""
    compared = [row for row in strip if row.second is not None and not row.second.not_covered]
    return {
        "agree": sum(not row.second.differs for row in compared if row.second is not None),
        "differ": [row for row in compared if row.second is not None and row.second.differs],
        "not_covered": [row for row in strip if row.second is not None and row.second.not_covered],
    }


def earlier_attempts(runs: Sequence[ExaminedRun]) -> list[tuple[Run, list[Attempt]]]:
    """Runs whose sample was analysed before, each with all attempts at it."""
    again = [e.run for e in runs if e.run.is_reported and e.run.portion and e.run.portion.attempt > 1]
    found = attempts_at([run.sample for run in again]) if again else {}
    return [(run, found[run.sample.pk]) for run in again]


def _odd_runs(runs: Sequence[ExaminedRun], odd: Sequence[tuple[str, Finding]]) -> list[tuple[Run, Finding]]:
    by_title = {each.run.title: each.run for each in runs}
    return [(by_title[label], finding) for label, finding in odd if label in by_title]


def _reviewing(
    runs: Sequence[ExaminedRun], causes: Sequence[AnsweredCause], moves: Sequence[Any], look: Any
) -> Acts:
    """What reviewers did in this batch, as sentences."""
    acts: Acts = [
        (answer.by, answer.at, f"answered “{answer.sentence}”: {answer.get_choice_display()}. {answer.note}")
        for each in causes
        for answer in each.answers
    ]
    acts += [
        (made.by, made.at, f"decided on {each.run.title}: {made.get_choice_display()}. {made.note}")
        for each in runs
        for made in each.decisions
    ]
    acts += [(move.by, move.at, f"moved the batch to “{move.to_state}”. {move.reason}") for move in moves]
    if look is not None:
        acts.append((look.by, look.at, f"looked at quality control. {look.note}"))
    return sorted(acts, key=lambda act: act[1])


def _pair_row(pair: Pair, forms: Mapping[str, Any], is_open: bool) -> dict[str, Any]:
    place = f"pair_{pair.duplicate.pk}"
    asks = is_open and bool(pair.severity) and pair.review is None
    return {
        "pair": pair,
        "place": place,
        "form": (forms.get(place) or PairNoteForm(prefix=place)) if asks else None,
    }


def _refused(batch: Batch, runs: Sequence[Run]) -> Any:
    """Refused entries for this batch, its portions or their bags."""
    portions = [run.portion for run in runs if run.portion is not None]
    return (
        refused_entries("run", (run.pk for run in runs))
        | refused_entries("portion", (portion.pk for portion in portions))
        | refused_entries("sample", (portion.sample_id for portion in portions))
        | refused_entries("batch", [batch.pk])
    ).order_by("pk")
