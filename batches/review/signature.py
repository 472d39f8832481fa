"""
What a signature under a batch covers, and whether it still agrees with what stands there.

Every line below is part of the digest: limits in force, figures, flags with their notes, decisions, pairs, what was
exchanged, left out, put right or made void, the meaning, and whatever else the page showed. The lines are kept with
the signature, so that a difference is told line by line. A batch signed before they were kept has the digest of
rule 1, over results and choices alone, and stays valid under it.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from batches.computing.models import Result
from batches.computing.record import gather_batch
from batches.corrections.models import MassCorrection
from batches.exchanging.models import Exchange, LeftOut
from batches.planning.models import Batch, Run
from batches.quality.models import PairReview
from batches.repeating.decided import decision_of, newest_decision
from batches.review.models import Approval
from batches.voiding.models import RunVoid
from particles.distribution import ENGINE_VERSION
from particles.distribution.plain import record_digest

RULE = 2
"""Number of the rule by which a signature is made now."""
MEANING = (
    "I have reviewed the quality control, the causes, the figures and the changes of this batch, "
    "and approve its results."
)
SHOWN = "shown: "
"""Beginning of a line that the page showed and that is not worked out from records."""


def _spread_in_words(batch: Batch) -> str:
    """The spread between runs that was bound when the soak began, as a signature covers it."""
    own = {name: batch.between_run_of(name) for name in ("sand", "clay")}
    both = batch.between_run_sd_pct
    figure_pct = batch.method.edition.dispersion_sd_pct if both is None else float(both)
    words = f"{figure_pct:g} points, from {batch.between_run_pairs or 'no'} pairs"
    apart = [f"{name} {s.level_pct:g} rising {s.rise_pct:g}" for name, s in own.items() if s is not None]
    return ", ".join([*apart, words])


def covered_lines(
    batch: Batch, results: Sequence[Result], *, meaning: str, shown: Iterable[str] = ()
) -> list[str]:
    """
    Every line that a signature covers.

    Parameters
    ----------
    results : those in force, in the order of the cylinders.
    shown : further lines that the page showed, such as a verdict on quality control.
    """
    return [
        f"batch {batch.number}, {batch.method.edition.code}, lot {batch.lot_id}, hydrometer {batch.hydrometer_id}, "
        f"thermometer {batch.thermometer_id}",
        f"limits: between runs {_spread_in_words(batch)}",
        *(line for result in results for line in _lines_of(result)),
        *_pair_lines(results),
        *_put_right_lines(batch),
        f"meaning: {meaning}",
        *(SHOWN + _one_line(line) for line in shown),
    ]


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _lines_of(result: Result) -> Iterator[str]:
    """Lines about one run, each beginning with its title."""
    title = result.run.title
    figures = hashlib.sha256(json.dumps(result.figures, sort_keys=True).encode()).hexdigest()
    yield f"{title}: result {result.inputs_digest} by engine {result.engine_version}, figures {figures}"
    decision = newest_decision(result)
    yield f"{title}: {decision_of(result)}{_said(decision, decision.note if decision else '')}"
    for flag in sorted(result.flags.all(), key=lambda each: each.pk):
        review = getattr(flag, "review", None)
        note = "" if review is None else f"{'printed' if review.printed else 'not printed'}, {review.note}"
        yield f"{title}: {flag.severity} {flag.code}, {_one_line(flag.sentence)}{_said(review, note)}"


def _said(act: Any, words: str) -> str:
    """The words of an act with whoever said them and when; '' without an act."""
    return "" if act is None else f" [{_one_line(words)}; person {act.by_id}, {act.at.isoformat()}]"


def _pair_lines(results: Sequence[Result]) -> Iterator[str]:
    kept = PairReview.objects.filter(duplicate__in=results).select_related("first__run__portion__sample")
    for review in kept.order_by("pk"):
        cause = "a cause was found" if review.cause_found else "no cause was found"
        yield f"{review.first.run.title}: pair, {_one_line(review.sentence)}{_said(review, f'{review.note}, {cause}')}"


def _put_right_lines(batch: Batch) -> Iterator[str]:
    """Lines about records exchanged, left out, put right and made void, also of such acts that were taken back."""
    runs = (
        "first__cylinder",
        "first__portion__sample",
        "second__cylinder",
        "second__portion__sample",
        "undone",
    )
    for made in Exchange.objects.filter(first__batch=batch).select_related(*runs).order_by("pk"):
        yield _with_end(f"exchanged {made.in_words}", made, getattr(made, "undone", None))
    of_run = ("run__cylinder", "run__portion__sample", "lifted")
    for out in LeftOut.objects.filter(run__batch=batch).select_related(*of_run).order_by("pk"):
        yield _with_end(f"left out {out.slot_s} s of {out.run.title}", out, getattr(out, "lifted", None))
    right = MassCorrection.objects.filter(portion__run__batch=batch).select_related(
        "weighing__portion__sample"
    )
    for mass in right.order_by("pk"):
        yield _with_end(f"put right {mass.weighing} to {mass.in_words}", mass, None)
    for void in RunVoid.objects.filter(run__batch=batch).select_related(*of_run).order_by("pk"):
        yield _with_end(f"void {void.run.title}, {void.in_words}", void, getattr(void, "lifted", None))


def _with_end(what: str, act: Any, end: Any) -> str:
    taken_back = f", taken back{_said(end, end.reason)}" if end is not None else ""
    return f"{what}{_said(act, getattr(act, 'reason', ''))}{taken_back}"


def digest_of_lines(lines: Iterable[str]) -> str:
    """The digest of a signature of rule 2."""
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()


def digest_of_results(results: Sequence[Result]) -> str:
    """The digest of a signature of rule 1: every result and choice of the batch, in order of its cylinders."""
    lines = [f"{r.run_id} {r.inputs_digest} {r.engine_version} {decision_of(r)}" for r in results]
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()


def standing_results(batch: Batch) -> list[Result]:
    """The result in force of every run that has one, in the order of the cylinders, at hand for `covered_lines`."""
    runs = batch.sample_runs.prefetch_related(
        "requests", "results__flags__review", "results__decisions", "results__request"
    )
    return [result for run in runs.order_by("position") if (result := _in_force(run)) is not None]


def _in_force(run: Run) -> Result | None:
    request = max(run.requests.all(), key=lambda each: each.turn, default=None)
    found = next((each for each in run.results.all() if request and each.request_id == request.pk), None)
    if found is not None:
        found.run = run
    return found


def signature_in_force(batch: Batch) -> Approval | None:
    """The newest signature kept of a batch; None for one that is not signed or was before they were kept."""
    return batch.approvals.select_related("by").order_by("-pk").first() if batch.approved_by_id else None


def what_differs(batch: Batch, *, shown: Iterable[str] | None = None) -> list[str]:
    """
    What no longer agrees with the signature under a batch, as sentences; none when it agrees.

    Parameters
    ----------
    shown : what the page shows now beside the records; None to compare the records alone.
    """
    if not batch.approved_by_id:
        return []
    results, signature = standing_results(batch), signature_in_force(batch)
    if signature is None:
        agrees = digest_of_results(results) == batch.approved_digest
        found = [] if agrees else ["results or choices are not those that were signed"]
    else:
        found = [*_of_the_row(batch, signature), *_of_the_lines(batch, results, signature, shown)]
    return [*found, *_of_the_records(batch, results)]


def _of_the_row(batch: Batch, signature: Approval) -> Iterator[str]:
    if digest_of_lines(signature.covered.split("\n")) != signature.digest:
        yield "the lines kept with the signature are not those of its digest"
    same = (signature.digest, signature.by_id, signature.at)
    if (batch.approved_digest, batch.approved_by_id, batch.approved_at) != same:
        yield "the batch names another signature than the one kept"


def _of_the_lines(
    batch: Batch, results: Sequence[Result], signature: Approval, shown: Iterable[str] | None
) -> Iterator[str]:
    signed = signature.covered.split("\n")
    was_shown = [line.removeprefix(SHOWN) for line in signed if line.startswith(SHOWN)]
    now = covered_lines(
        batch, results, meaning=signature.meaning, shown=was_shown if shown is None else shown
    )
    yield from (f"signed, and not so any more: {line}" for line in signed if line not in now)
    yield from (f"not signed: {line}" for line in now if line not in signed)


def _of_the_records(batch: Batch, results: Sequence[Result]) -> Iterator[str]:
    """Runs whose records are not those their result was computed from, as far as this engine can tell."""
    edition = batch.method.edition
    by_run = {result.run_id: result for result in results}
    for gathered in gather_batch(batch):
        result = by_run.get(gathered.run.pk)
        if result is None:
            yield f"{gathered.run.title} has no result in force"
            continue
        engine = result.engine_version
        if (
            engine == ENGINE_VERSION
            and record_digest(gathered.record, edition, engine) != result.inputs_digest
        ):
            yield f"{gathered.run.title}: what is recorded is not what its figures were computed from"
