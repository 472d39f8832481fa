"""Where a client's job and its samples stand, in the client's words: what became of a certificate comes first."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from particles.models import SampleState
from reports.certificates.doubt import Doubt
from reports.content.build import day_in_words
from reports.portal.plain_words import (
    ANALYSED_AGAIN,
    FALLEN,
    JOB_ASKED,
    JOB_HELD,
    JOB_LOOKED_AT_AGAIN,
    LOOKED_AT_AGAIN,
    NOTHING_TO_DO,
    WITHDRAWN,
    WITHOUT_FIGURES,
    asked_of_the_client,
    job_status,
    words_of,
)

AT_REST = {SampleState.REPORTED, SampleState.REFUSED, SampleState.CANCELLED}
"""States in which the laboratory is not at work on a sample."""


@dataclass(frozen=True)
class JobStatus:
    """Where a job stands."""

    words: str
    kind: str
    """How the words are outlined."""
    meaning: str = ""
    """What that means for the client and what comes next; '' where the words say it all."""


@dataclass(frozen=True)
class WithdrawnOne:
    """A withdrawn certificate that no other has replaced, as the page of its job tells of it."""

    number: str
    sentence: str
    next_step: str


def job_standing(states: Collection[str], certificates: Sequence[Any], *, asked: bool) -> JobStatus:
    """
    Words of a job's state.

    Parameters
    ----------
    states : of its samples.
    certificates : all of the job, by `with_standing`.
    asked : whether one of its samples waits for an answer from the client.
    """
    withdrawn = withdrawn_of(certificates)
    if withdrawn:
        return JobStatus(_withdrawn_words(withdrawn, certificates), "refused", _what_next(withdrawn, states))
    if any(each.doubted_since for each in certificates):
        return JobStatus(*JOB_LOOKED_AT_AGAIN)
    if SampleState.ON_HOLD in states:
        return JobStatus(*JOB_ASKED) if asked else JobStatus(*JOB_HELD, NOTHING_TO_DO)
    return JobStatus(*job_status(set(states)))


def withdrawn_of(certificates: Sequence[Any]) -> list[Any]:
    """Those of these certificates that are withdrawn and that no other has replaced."""
    return [each for each in certificates if each.withdrawn_at and not each.newer]


def _withdrawn_words(withdrawn: Sequence[Any], certificates: Sequence[Any]) -> str:
    """What is withdrawn: the certificate, or those parts of the results while others stand."""
    if len(withdrawn) == sum(not each.newer for each in certificates):
        return "Certificate withdrawn" if len(withdrawn) == 1 else "Certificates withdrawn"
    parts = ", ".join(str(number) for number in sorted(each.part for each in withdrawn))
    return f"Part{'s' if len(withdrawn) > 1 else ''} {parts} of the results withdrawn"


def _what_next(withdrawn: Sequence[Any], states: Collection[str]) -> str:
    """What a withdrawal means, and whether the laboratory is at work on the samples again."""
    at_work = all(each.part is None for each in withdrawn) and not AT_REST.issuperset(states)
    follows = (
        "The laboratory is at work on samples of it again; another certificate takes its place when they are approved."
        if at_work
        else "Ask the laboratory whether another certificate comes."
    )
    return f"The figures do not stand; do not rely on them. {follows}"


def told_of_withdrawal(certificates: Sequence[Any], states: Collection[str]) -> list[WithdrawnOne]:
    """Each withdrawn certificate with the day, the reason the client is given, and what it means."""
    return [
        WithdrawnOne(
            each.number,
            f"Certificate {each.number} was withdrawn on {day_in_words(each.withdrawn_at)}. "
            f"Why: {each.withdrawn_because}",
            _what_next([each], states),
        )
        for each in withdrawn_of(certificates)
    ]


def certificate_of_each(certificates: Sequence[Any]) -> dict[str, Any]:
    """Laboratory number of each sample with the newest certificate that it is on."""
    newest = [each for each in certificates if not each.newer]
    return {section["lab_number"]: each for each in newest for section in each.context["samples"]}


def sample_row(sample: Any, doubts: Sequence[Doubt | None], on: Mapping[str, Any]) -> dict[str, Any]:
    """
    One sample as the client's page shows it.

    Parameters
    ----------
    sample : with its `refusals`.
    on : the certificate of each sample, by `certificate_of_each`.
    """
    words, kind = _sample_words(sample, doubts, on.get(sample.lab_number))
    refused = sample.refusals[-1].reason if sample.state == SampleState.REFUSED and sample.refusals else ""
    return {
        "of": sample,
        "words": words,
        "kind": kind,
        "asked": asked_of_the_client(sample),
        "refused": refused,
    }


def _sample_words(sample: Any, doubts: Sequence[Doubt | None], certificate: Any) -> tuple[str, str]:
    for doubt in doubts:
        if doubt is not None and sample.lab_number in doubt.looked_at:
            return LOOKED_AT_AGAIN
        if doubt is not None and sample.lab_number in doubt.fallen:
            return FALLEN
    words, kind = words_of(sample)
    if certificate is None:
        return words, kind
    if sample.state == SampleState.REPORTED and certificate.withdrawn_at:
        return WITHDRAWN
    if sample.state == SampleState.REPORTED and not _has_figures(sample, certificate):
        return WITHOUT_FIGURES
    return ANALYSED_AGAIN.get(sample.state, words), kind


def _has_figures(sample: Any, certificate: Any) -> bool:
    sections = certificate.context["samples"]
    return any(each["reported"] for each in sections if each["lab_number"] == sample.lab_number)
