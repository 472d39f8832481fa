"""What a certificate says of causes that no finding of a run tells: figures that stand against a likely exchange."""

from __future__ import annotations

from collections.abc import Iterator

from batches.causes.kept import cause_from_plain
from batches.causes.models import CauseAnswer
from batches.planning.models import Batch
from particles.distribution import Finding
from particles.distribution.causes.cause import Cause, Remedy
from particles.distribution.causes.find import EVEN_ODDS
from particles.distribution.findings.catalogue import finding

Evidence = CauseAnswer.Evidence


def exchanges_considered(batch: Batch) -> dict[str, list[Finding]]:
    """The findings to print of a signed batch, by label of the run: its figures stand against an exchange."""
    kept = batch.cause_lists.order_by("-pk").first()
    newest = {each.key: each for each in batch.cause_answers.order_by("pk")}
    found: dict[str, list[Finding]] = {}
    for data in kept.causes if kept is not None else ():
        cause = cause_from_plain(data)
        answer = newest.get(cause.key)
        if answer is None or cause.remedy is not Remedy.EXCHANGE:
            continue
        # Where it was rather so than not it is printed, whatever the reviewer marked.
        if not (answer.printed or (cause.odds or 0.0) >= EVEN_ODDS):
            continue
        for label, evidence, move_pct in _standing(cause, answer):
            found.setdefault(label, []).append(
                finding("exchange_considered", number=move_pct, evidence=Evidence(evidence).label)
            )
    return found


def _standing(cause: Cause, answer: CauseAnswer) -> Iterator[tuple[str, str, float]]:
    """Label, evidence and largest move of each run whose figures stand though the exchange would be decisive."""
    stands = answer.choice == CauseAnswer.Choice.STAND
    evidence = answer.evidence if stands else answer.rest_evidence
    for effect in cause.effects if evidence else ():
        if effect.decisive and effect.label not in answer.labels:
            yield effect.label, evidence, effect.largest_pct
