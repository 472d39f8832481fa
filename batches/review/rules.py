"""Review by somebody else: flags and pairs first, then a decision for each run, then a signature."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from django.db import transaction
from django.db.models import QuerySet

from batches.causes.answered import is_from_before, with_reopening
from batches.causes.kept import AnsweredCause, causes_in_force, find_for_pages
from batches.computing.models import Flag, Result
from batches.computing.record import gather
from batches.computing.rules import ask_for_batch, is_complete
from batches.limits.keys import Kind
from batches.planning.freshness import require_current
from batches.planning.models import MOVES, Batch, BatchMove, BatchState, Run
from batches.quality.judged_batch import IT_COUNTS, Line, Verdict
from batches.quality.models import PairReview
from batches.quality.pairs import Pair, pair_of, pairs_among
from batches.repeating.decided import HELD_BACK, WITH_FIGURES, decision_of, newest_decision
from batches.repeating.going_back import stands_here
from batches.repeating.rules import new_portion_asked_for
from batches.review.examination import ExaminedRun, examine
from batches.review.models import Approval, QualityLook, RunDecision
from batches.review.password import require_secret
from batches.review.returning import since_return
from batches.review.signature import signature_in_force
from batches.review.signing import against_a_part, move_sample, require_under_review, sign, was_reopened
from batches.review.verdict import verdict_of
from particles.distribution import record_digest
from particles.distribution.spoken import spoken_count
from particles.models import SampleState
from particles.records.act import done
from particles.records.person import Person
from particles.records.refusals import NotPossible, NotThisPerson, WrongState
from particles.records.sentence import HOW_TO_SAY, is_a_sentence, names_a_thing

NEXT_WHEN_IT_DIFFERS = "Return the batch to the bench and tell whoever looks after the program."
NOT_SIGNED = "Nothing was signed."


def fresh_result(run: Run) -> Result | None:
    """The result that belongs to what is recorded now; None while it is being computed."""
    if not is_complete(run):
        return None
    digest = record_digest(gather(run), run.batch.method.edition)
    return run.results.filter(inputs_digest=digest).first()


def submit(batch: Batch, *, by: Person, at: datetime, note: str = "") -> None:
    """
    Hand a batch to review: all readings there, all runs computed from what is recorded now.

    One that was returned and is handed back with nothing changed needs a note of what was looked at.
    """
    with transaction.atomic():  # kept even when the batch cannot be submitted yet
        locked = batch.lock()
        if BatchState.SUBMITTED not in MOVES.get(locked.state, ()):
            raise WrongState(f"{locked} is “{locked.state}” and cannot be handed over to review.")
        ask_for_batch(locked, by=by, at=at)  # a new engine, for instance, leaves nothing computed
    with transaction.atomic():
        _submit(batch.lock(), by=by, at=at, note=note.strip())


def _submit(batch: Batch, *, by: Person, at: datetime, note: str) -> None:
    runs = examine(batch)
    waiting = [each.run.cylinder.serial for each in runs if each.result is None]
    if waiting:
        raise NotPossible(
            f"Not computed yet: cylinder {', '.join(waiting)}. Wait for the worker, or complete the readings."
        )
    _require_changed_or_said(batch, note)
    batch.transition(BatchState.SUBMITTED, by=by, at=at, reason=note)
    for each in runs:
        sample = each.run.sample
        if each.run.is_reported and sample.state == SampleState.CALCULATED and stands_here(each.run):
            sample.transition(SampleState.UNDER_REVIEW, by=by, at=at, reason=str(batch))
    find_for_pages(batch, runs, at=at)


def _require_changed_or_said(batch: Batch, note: str) -> None:
    """Refuse a returned batch that is handed back as it was, without a word."""
    since = since_return(batch) if batch.state == BatchState.RETURNED else None
    if since is not None and since.is_unchanged and not note:
        raise NotPossible(
            f"Nothing was changed since {since.by} returned {batch}: {since.reason} "
            "Say what was looked at, and why it stays as it is."
        )


def _opened(batch: Batch, *, by: Person, seen: str | None, nothing: str = "Nothing was changed.") -> Batch:
    """Lock a batch under review for an act of `by`, made on a page of this version."""
    locked = batch.lock()
    require_under_review(locked, nothing=nothing)
    locked.require_other_person(by)
    require_current(locked, seen, by=by, nothing=nothing)
    return locked


@transaction.atomic
def look_at_quality(
    batch: Batch, *, note: str, by: Person, at: datetime, seen: str | None = None
) -> QualityLook:
    """Keep a reviewer's word that quality control was looked at; what did not pass needs words."""
    batch = _opened(batch, by=by, seen=seen, nothing="Nothing was kept.")
    verdict = verdict_of(batch, examine(batch))
    earlier = quality_look_in_force(batch, verdict)
    if earlier is not None:
        return earlier
    if not verdict.passed and not is_a_sentence(note):
        failed = ", ".join(line.name for line in verdict.lines if not line.passed)
        raise NotPossible(
            f"{failed}: did not pass. Say in a sentence what was looked at, and what follows. {HOW_TO_SAY}"
        )
    return QualityLook.objects.create(
        batch=batch, passed=verdict.passed, said=verdict.in_words, note=note.strip(), **done(by, at)
    )


def quality_look_in_force(batch: Batch, verdict: Verdict) -> QualityLook | None:
    """The newest look at quality control that saw what it says now; None without."""
    return look_that_holds(newest_look(batch), verdict)


def look_that_holds(look: QualityLook | None, verdict: Verdict) -> QualityLook | None:
    """A look at quality control, fetched by `newest_look`, if it saw what that says now; else None."""
    holds = look is not None and look.said == verdict.in_words and not is_from_before(look)
    return look if holds else None


def newest_look(batch: Batch) -> QualityLook | None:
    """The newest look at quality control, whether it still holds or not."""
    looks: QuerySet[QualityLook] = batch.quality_looks.select_related("by").order_by("-pk")
    return with_reopening(looks).first()


def _require_said(note: str, severity: str) -> None:
    if severity == Flag.Severity.STOP and not is_a_sentence(note):
        raise NotPossible("A stop needs a sentence: what was looked at, and what follows.")
    if not note.strip():
        raise NotPossible("Write what was looked at.")


@transaction.atomic
def review_pair(
    duplicate: Run, *, note: str, cause_found: bool, by: Person, at: datetime, seen: str | None = None
) -> PairReview:
    """Keep a reviewer's note on two runs of one sample that differ by too much; the certificate always says so."""
    batch = duplicate.batch.lock()
    pair = pair_of(duplicate)
    if (
        pair is not None
        and pair.review is not None
        and (pair.review.by_id, pair.review.note) == (by.pk, note)
    ):
        return pair.review
    _opened(batch, by=by, seen=seen, nothing="The note was not kept.")
    first, second = (None, None) if pair is None else (pair.first_result, pair.duplicate_result)
    if pair is None or first is None or second is None or not pair.severity:
        raise NotPossible(f"{duplicate.title} lies within its limits; there is nothing to say to it.")
    if pair.review is not None:
        raise WrongState(f"This pair was reviewed already by {pair.review.by}.")
    _require_said(note, pair.severity)
    return PairReview.objects.create(
        first=first,
        duplicate=second,
        sentence=pair.sentence,
        severity=pair.severity,
        note=note,
        cause_found=cause_found,
        **done(by, at),
    )


@transaction.atomic
def decide(
    result: Result, choice: str, *, note: str, by: Person, at: datetime, seen: str | None = None
) -> RunDecision:
    """
    Decide what leaves the laboratory for one run.

    The note is what a certificate prints of a qualifier; why there are no figures, or it is repeated, stays in the
    house. Which result is reported after a repeat is settled here, by `RULE_BEFORE`.
    """
    batch = result.run.batch.lock()
    newest = newest_decision(result)
    if newest is not None and (newest.by_id, newest.choice, newest.note) == (by.pk, choice, note):
        return newest
    _opened(batch, by=by, seen=seen, nothing="Nothing was decided.")
    if not result.run.is_reported:
        raise NotPossible(f"{result.run.title} is only compared and never reported.")
    if choice in WITH_FIGURES:
        _require_reportable(result)
        if newest is not None and newest.choice in HELD_BACK and not is_a_sentence(note):
            raise NotPossible(
                f"{newest.by} decided “{newest.choice}” for {result.run.title}: {newest.note} Say in a sentence why "
                "that is taken back; what it settled is asked again."
            )
    if choice != RunDecision.Choice.REPORT and not note.strip():
        raise NotPossible(
            "Write the qualifier: the certificate prints your words."
            if choice == RunDecision.Choice.QUALIFIED
            else "Say why the figures are not reported as they are."
        )
    if choice == RunDecision.Choice.WITHOUT_FIGURES and not is_a_sentence(note):
        raise NotPossible(
            "Say in a sentence why no figures are reported; the client reads what was found, not your words."
        )
    return RunDecision.objects.create(result=result, choice=choice, note=note, **done(by, at))


def _require_reportable(result: Result) -> None:
    """Refuse figures of a run with a stop, one that asks for a new portion, or a pair beyond its action limit."""
    title, pair, asked = result.run.title, pair_of(result.run), new_portion_asked_for(result)
    if asked is not None:
        raise NotPossible(
            f"{title} asks for a new portion: {asked.reason} No percentage leaves the laboratory."
        )
    if not result.certifiable:
        raise NotPossible(f"{title} has a stop: its figures cannot be certified. Report without, or repeat.")
    if pair is not None and pair.severity == Flag.Severity.STOP:
        raise NotPossible(f"{title}: {pair.sentence} Report it without figures, or repeat it.")


def what_stands_against(
    runs: list[ExaminedRun], causes: Sequence[AnsweredCause], verdict: Verdict, look: QualityLook | None
) -> list[str]:
    """Reasons that keep a batch of these runs from being approved, as sentences."""
    settled = {(told.label, told.code, told.reading_index) for each in causes for told in each.cause.told_by}
    found = []
    if not verdict.passed and look is None:
        found.append("Quality control did not pass, and nobody has answered it.")
    found += [f"{', '.join(each.cause.labels)}: {each.asks}" for each in causes if each.is_open]
    for each in runs:
        title, result = each.run.title, each.result
        if result is None:
            waits = "waits for the worker" if each.waits_for_worker else "no result for what is recorded now"
            found.append(f"{title}: {waits}.")
            continue
        if each.second is not None and each.second.differs:
            found.append(f"{title}: {each.second.sentence} {NEXT_WHEN_IT_DIFFERS}")
        open_flags = [
            f
            for f in result.flags.all()
            if f.needs_review and (title, f.code, f.reading_index) not in settled
        ]
        if open_flags:
            found.append(f"{title}: {spoken_count(len(open_flags), 'flag')} without a reviewer's note.")
        if decision_of(result) is None:
            found.append(f"{title}: decide whether it is repeated or reported without figures.")
    return found + [sentence for pair in pairs_of(runs) for sentence in _against_a_pair(pair)]


def what_control_stops(verdict: Verdict) -> list[str]:
    """What quality control stops a batch for and nobody has answered, as sentences; pairs have their own notes."""
    return [
        f"Quality control, {line.about}: {line.sentence} {_what_opens(line)}"
        for line in verdict.stops
        if line.chart and line.about != Kind.DUPLICATES
    ]


def _what_opens(line: Line) -> str:
    if IT_COUNTS in line.sentence:
        return (
            "Only a cause found in that cylinder alone, said on its chart, would say that the others stand."
        )
    return "Say on its chart why it lies there."


def pairs_of(runs: list[ExaminedRun]) -> list[Pair]:
    """Pairs among the examined runs of one batch."""
    return pairs_among([(each.run, each.result) for each in runs], runs[0].run.batch) if runs else []


def _against_a_pair(pair: Pair) -> list[str]:
    if not pair.severity:
        return []
    title, found = pair.first.title, []
    if pair.review is None:
        found.append(f"{title}: it differs from its duplicate, and there is no reviewer's note on that.")
    stops = pair.severity == Flag.Severity.STOP
    if stops and pair.first_result is not None and decision_of(pair.first_result) in WITH_FIGURES:
        found.append(
            f"{title}: beyond the action limit; decide whether it is repeated or reported without figures."
        )
    return found


def approve(
    batch: Batch,
    *,
    by: Person,
    at: datetime,
    secret: str,
    why_rest: str = "",
    what_became: str = "",
    seen: str | None = None,
    shown: Iterable[str] = (),
    failed: Sequence[str] = (),
) -> Approval:
    """
    Sign a batch, whole or in part. Refused to whoever worked in it, and without the person's secret.

    Parameters
    ----------
    why_rest : why what went wrong does not touch the samples that are approved; needed when one is to be repeated.
    what_became : what became of what was found wrong; needed when the batch was re-opened.
    seen : version of the page that was signed, from `page_version`; None for a signature without a page.
    shown : lines that the page showed beside what is on record; the signature covers them.
    failed : sentences on quality control that failed; then no figures are approved.
    """
    if not by.has_perm("batches.review"):
        raise NotThisPerson(f"{by} is not authorised to approve batches.")
    require_secret(by, secret)
    with transaction.atomic():
        locked = batch.lock()
        signed = signature_in_force(locked)
        if signed is not None and signed.by_id == by.pk:
            return signed  # sent twice
        return _approve(
            locked,
            by=by,
            at=at,
            why_rest=why_rest.strip(),
            what_became=what_became.strip(),
            seen=seen,
            shown=list(shown),
            failed=failed,
        )


def _approve(
    batch: Batch,
    *,
    by: Person,
    at: datetime,
    why_rest: str,
    what_became: str,
    seen: str | None,
    shown: list[str],
    failed: Sequence[str],
) -> Approval:
    require_under_review(batch, nothing=NOT_SIGNED)
    batch.require_other_person(by)
    require_current(batch, seen, by=by, nothing=NOT_SIGNED, also_own=True)
    runs = examine(batch)
    verdict = verdict_of(batch, runs)
    failed = [*failed, *what_control_stops(verdict)]
    look = quality_look_in_force(batch, verdict)
    causes = causes_in_force(batch, runs, at=at).causes
    against = [
        *what_stands_against(runs, causes, verdict, look),
        *against_a_part(runs, causes, why_rest, failed),
    ]
    again = was_reopened(list(batch.moves.order_by("pk")))
    if again and not is_a_sentence(what_became):
        against.append("The batch was re-opened. Say in a sentence what became of what was found wrong.")
    if against:
        raise NotPossible("\n".join(against))
    earlier = batch.approvals.order_by("-pk").first()
    approval = sign(
        batch,
        runs,
        by=by,
        at=at,
        why_rest=why_rest,
        what_became=what_became if again else "",
        shown=[*_shown(verdict, look, causes), *shown],
    )
    for each in runs:
        move_sample(each, approval, earlier, by=by, at=at)
    return approval


def _shown(verdict: Verdict, look: QualityLook | None, causes: Sequence[AnsweredCause]) -> list[str]:
    """What the page says of quality control and causes, with who answered it: the signature covers that too."""
    said = f" [{look.note}; person {look.by_id}, {look.at.isoformat()}]" if look is not None else ""
    return [
        *(line for line in f"{verdict.in_words}{said}".split("\n")),
        *(each.in_words for each in causes),
    ]


@transaction.atomic
def return_to_bench(
    batch: Batch, *, by: Person, at: datetime, reason: str, seen: str | None = None
) -> BatchMove:
    """Return the batch to the technician with a reason that bench and reviewer both see; nothing recorded is lost."""
    sent_twice = _moved_already(batch.lock(), BatchState.RETURNED, reason, by=by)
    if sent_twice is not None:
        return sent_twice
    batch = _opened(batch, by=by, seen=seen, nothing="Nothing was returned.")
    if not names_a_thing(reason):
        raise NotPossible(f"Say what the bench should look at. {HOW_TO_SAY}")
    batch.transition(BatchState.RETURNED, by=by, at=at, reason=reason)
    for run in batch.reported_runs:
        sample = run.sample
        if sample.state == SampleState.UNDER_REVIEW and stands_here(run):
            sample.transition(SampleState.IN_BATCH, by=by, at=at, reason=reason)
            sample.transition(SampleState.CALCULATED, by=by, at=at, reason="results so far")
    return _last_move(batch)


@transaction.atomic
def reject(batch: Batch, *, by: Person, at: datetime, reason: str, seen: str | None = None) -> BatchMove:
    """Reject a batch that cannot be used: every sample goes back for a new portion."""
    locked = batch.lock()
    sent_twice = _moved_already(locked, BatchState.REJECTED, reason, by=by)
    if sent_twice is not None:
        return sent_twice
    if locked.state != BatchState.RETURNED:
        require_under_review(locked, nothing="Nothing was rejected.")
    locked.require_other_person(by)
    require_current(locked, seen, by=by, nothing="Nothing was rejected.")
    if not names_a_thing(reason):
        raise NotPossible(f"Say why the batch is rejected. {HOW_TO_SAY}")
    locked.transition(BatchState.REJECTED, by=by, at=at, reason=reason)
    for run in locked.reported_runs:
        if SampleState.PREPARED in run.sample.MOVES.get(run.sample.state, ()) and _stays_here(run):
            run.sample.transition(SampleState.PREPARED, by=by, at=at, reason=f"{locked} rejected: {reason}")
    return _last_move(locked)


def _stays_here(run: Run) -> bool:
    """Whether a sample goes with the portion of a run and waits for no batch."""
    return stands_here(run) and run.sample.state != SampleState.WAITING


def _last_move(batch: Batch) -> BatchMove:
    return batch.moves.order_by("pk").reverse()[0]


def _moved_already(batch: Batch, to: str, reason: str, *, by: Person) -> BatchMove | None:
    """The last move of a batch when it is the one asked for now, by the same person: a form that was sent twice."""
    last = batch.moves.order_by("pk").last()
    same = last is not None and (last.to_state, last.reason, last.by_id) == (to, reason, by.pk)
    return last if same and batch.state == to else None
