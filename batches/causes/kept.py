"""The causes of a batch: found once for what is recorded, kept, read by every page, found anew after a change."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from batches.causes.answered import CHANGED, what_it_tells, why_fallen, with_reopening
from batches.causes.evidence import assigned_to, evidence_of
from batches.causes.models import CauseAnswer, CauseList
from batches.causes.standing import known_of, standing_of
from batches.computing.models import Flag
from batches.planning.freshness import DoneInBatch, done_in
from batches.planning.models import UNDER_REVIEW, Batch
from batches.quality.judged_batch import Verdict
from batches.repeating.decided import HELD_BACK, decided_as
from batches.review.examination import ExaminedRun
from batches.review.odd_values import odd_values
from batches.review.verdict import verdict_of
from particles.distribution import ENGINE_VERSION, Finding
from particles.distribution.answer import Severity
from particles.distribution.causes.cause import Cause, Needs, Told, cause_of
from particles.distribution.causes.find import find_causes
from particles.distribution.plain import plain, value_from_plain
from particles.distribution.triple import SandSiltClay

NEEDS_OF_A_FLAG = {Severity.STOP: Needs.DECISION, Severity.WARN: Needs.NOTE, Severity.NOTE: Needs.LOOK}
RULE = 2
"""Goes up whenever more is kept of a cause, so that lists from before are found anew."""


@dataclass(frozen=True)
class AnsweredCause:
    """One cause in force with the answers it has had, the newest last."""

    cause: Cause
    answers: tuple[CauseAnswer, ...]
    why_fallen: str = ""
    """Why the newest of them holds no more; '' while it does."""
    told: dict[str, Any] | None = None
    """What an answer to it answers now; None for a list from before that was kept."""

    @property
    def answer(self) -> CauseAnswer | None:
        """The answer in force; None while none does for what the cause is now."""
        return self.answers[-1] if self.answers and not self.why_fallen else None

    @property
    def fallen(self) -> CauseAnswer | None:
        """The newest answer where it holds no more."""
        return self.answers[-1] if self.answers and self.why_fallen else None

    @property
    def is_open(self) -> bool:
        """Whether it still waits for an answer."""
        return self.cause.needs is not Needs.LOOK and self.answer is None

    @property
    def in_words(self) -> str:
        """The cause with its effect and its answer in one line, as a signature covers it."""
        cause, answer = self.cause, self.answer
        said = f"{cause.kind} in {', '.join(cause.labels)}, {cause.largest_pct:.2f} points: {cause.sentence}"
        if answer is None:
            return said
        words = " ".join(answer.note.split())
        if answer.rest_note:
            words += f"; the others stand, {answer.rest_evidence}: {' '.join(answer.rest_note.split())}"
        return f"{said} [{answer.choice} {answer.evidence}; {words}; person {answer.by_id}, {answer.at.isoformat()}]"

    @property
    def asks(self) -> str:
        """What it waits for, as a sentence."""
        what = "a decision" if self.cause.needs is Needs.DECISION else "a reviewer's note"
        return f"waits for {what}: {self.cause.sentence}"


@dataclass(frozen=True)
class InForce:
    """What was found in a batch as it is recorded now."""

    causes: tuple[AnsweredCause, ...]
    odd: tuple[tuple[str, Finding], ...]
    """Values that were kept though they are odd, each with the label of its run."""


def page_in_force(
    batch: Batch, runs: Sequence[ExaminedRun], done: DoneInBatch, *, at: datetime
) -> tuple[Verdict, InForce]:
    """
    The verdict and the causes as a page shows them: those kept, while all they stand on is as it was.

    Else both are found anew and, under review, kept. An act never goes by a kept verdict.
    """
    kept, standing = batch.cause_lists.order_by("-pk").first(), standing_of(batch, runs, done)
    if kept is not None and kept.verdict is not None and kept.standing == standing:
        return value_from_plain(Verdict, kept.verdict), _answered(batch, runs, kept)
    verdict = verdict_of(batch, runs)
    if batch.state in UNDER_REVIEW:
        kept = _keep_verdict(batch, runs, verdict, kept, standing, at)
    return verdict, _answered(batch, runs, kept)


def _keep_verdict(
    batch: Batch,
    runs: Sequence[ExaminedRun],
    verdict: Verdict,
    kept: CauseList | None,
    standing: str,
    at: datetime,
) -> CauseList:
    """One more list with the verdict as it is now; the causes are found anew only if anything of theirs has changed."""
    if kept is None or kept.digest != digest_of_batch(batch, runs, at=at):
        return find_and_keep(batch, runs, at=at, judged=(verdict, standing))
    return CauseList.objects.create(
        batch=batch,
        digest=kept.digest,
        causes=kept.causes,
        odd=kept.odd,
        asks=kept.asks,
        told=kept.told,
        found_at=kept.found_at,
        verdict=plain(verdict),
        standing=standing,
    )


def causes_in_force(batch: Batch, runs: Sequence[ExaminedRun], *, at: datetime) -> InForce:
    """
    The causes of a batch with their answers: under review of what is recorded now, else as they were last found.

    They are found and kept when anything has changed since.
    """
    kept = batch.cause_lists.order_by("-pk").first()
    if batch.state in UNDER_REVIEW and (kept is None or kept.digest != digest_of_batch(batch, runs, at=at)):
        kept = find_and_keep(batch, runs, at=at)
    return _answered(batch, runs, kept)


def _answered(batch: Batch, runs: Sequence[ExaminedRun], kept: CauseList | None) -> InForce:
    """The causes of a kept list with the answers they have had."""
    if kept is None:
        return InForce((), tuple(odd_in(runs)))
    answers = list(with_reopening(batch.cause_answers.select_related("by")).order_by("pk"))
    causes, held = [cause_from_plain(data) for data in kept.causes], set(decided_as(runs, HELD_BACK))
    return InForce(
        tuple(_with_answers(each, kept.told.get(each.key), answers, held) for each in causes),
        tuple((label, value_from_plain(Finding, data)) for label, data in kept.odd),
    )


def _with_answers(
    cause: Cause, told: dict[str, Any] | None, answers: Sequence[CauseAnswer], held: set[str]
) -> AnsweredCause:
    """The cause with its answers; without one of its own, with those to the same thing in the same runs before."""
    own = tuple(each for each in answers if each.key == cause.key)
    if own:
        return AnsweredCause(cause, own, why_fallen(own[-1], cause.needs, told, held), told)
    labels = set(cause.labels)
    alike = tuple(e for e in answers if e.kind == cause.kind and e.told and set(e.told["figures"]) == labels)
    return AnsweredCause(cause, alike, CHANGED if alike else "", told)


def find_for_pages(batch: Batch, runs: Sequence[ExaminedRun], *, at: datetime) -> CauseList:
    """Find and keep the causes and the verdict of a locked batch."""
    standing = standing_of(batch, runs, done_in(batch))
    return find_and_keep(batch, runs, at=at, judged=(verdict_of(batch, runs), standing))


def find_and_keep(
    batch: Batch, runs: Sequence[ExaminedRun], *, at: datetime, judged: tuple[Verdict, str] | None = None
) -> CauseList:
    """
    Find and keep the causes of examined runs.

    Parameters
    ----------
    judged : the verdict that is kept with them, and the digest of what it stands on; None for causes alone.
    """
    found = find_causes(evidence_of(runs, at=at), batch.method.edition)
    causes = [*found, *_of_untold_flags(runs, found)]
    return CauseList.objects.create(
        batch=batch,
        digest=digest_of_batch(batch, runs, at=at),
        causes=[cause_to_plain(each) for each in causes],
        told={each.key: what_it_tells(each, runs) for each in causes},
        odd=[[label, plain(finding)] for label, finding in odd_in(runs)],
        asks={each.key: each.needs.value for each in causes if each.needs is not Needs.LOOK},
        verdict=None if judged is None else plain(judged[0]),
        standing="" if judged is None else judged[1],
        found_at=at,
    )


def _of_untold_flags(runs: Sequence[ExaminedRun], causes: Sequence[Cause]) -> list[Cause]:
    """One more cause for each code of a flag that no cause tells, so that nothing stored is passed over."""
    told = {(each.label, each.code, each.reading_index) for cause in causes for each in cause.told_by}
    groups: dict[tuple[str, str], list[Told]] = {}
    for each in runs:
        for flag in each.result.flags.all() if each.result is not None else ():
            if (each.run.title, flag.code, flag.reading_index) not in told:
                groups.setdefault((flag.severity, flag.code), []).append(_told(each.run.title, flag))
    in_order = sorted(groups.items(), key=lambda group: -Severity(group[0][0]).weight)
    return [_of_flags(tuple(flags)) for _, flags in in_order]


def _told(label: str, flag: Flag) -> Told:
    severity = Severity(flag.severity)
    return Told(label, flag.code, severity, flag.sentence, flag.next_step, flag.reading_index)


def _of_flags(flags: tuple[Told, ...]) -> Cause:
    first = flags[0]
    labels = dict.fromkeys(flag.label for flag in flags)
    return cause_of(first, labels, needs=NEEDS_OF_A_FLAG[first.severity], told_by=flags)


def digest_of_batch(batch: Batch, runs: Sequence[ExaminedRun], *, at: datetime) -> str:
    """Digest of all that causes are found in: records, results, what is known of the soils."""
    basis = {
        "rule": RULE,
        "engine": ENGINE_VERSION,
        "method": batch.method.code,
        "runs": [known_of(each) for each in runs],
        "assigned": [plain(assigned_to(each.run, at=at)) for each in runs if each.run.is_reference],
    }
    return hashlib.sha256(json.dumps(basis, sort_keys=True).encode()).hexdigest()


def odd_in(runs: Sequence[ExaminedRun]) -> list[tuple[str, Finding]]:
    """Values that were kept though they are odd, each with its run, unless a flag of the result says the same."""
    found = []
    for each in runs:
        flagged = set() if each.result is None else {flag.code for flag in each.result.flags.all()}
        found += [(each.run.title, odd) for odd in odd_values(each.run) if odd.code not in flagged]
    return found


def cause_to_plain(cause: Cause) -> dict[str, Any]:
    """JSON-ready dict of a cause; `cause_from_plain` gives back an equal value."""
    return dict(plain(cause))


def cause_from_plain(data: dict[str, Any]) -> Cause:
    """The cause `cause_to_plain` wrote."""
    effects = [_effect_with_triples(each) for each in data["effects"]]
    return value_from_plain(Cause, {**data, "effects": effects})


def _effect_with_triples(data: dict[str, Any]) -> dict[str, Any]:
    triples = {name: data[name] and SandSiltClay(*data[name]) for name in ("before", "after")}
    return {**data, **triples}
