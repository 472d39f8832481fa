"""A job issued in parts: which samples go on the next part, which are still to come, and the sentence that says so."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from particles.models import Job, Portion, Sample, SampleState
from particles.records.refusals import NotPossible
from reports.certificates.models import Certificate
from reports.content.build import day_in_words
from reports.content.context import NotInPart, PartOfJob
from reports.portal.plain_words import ANALYSED_AGAIN, words_of

LEFT_OUT = (SampleState.REFUSED, SampleState.CANCELLED)
"""Samples that no certificate of a job waits for."""
BEGINNING = "This is part "
"""How the statement of a part begins, by which an amended one finds it again."""


@dataclass(frozen=True)
class Part:
    """The next part of a job's results."""

    number: int
    samples: tuple[Sample, ...]
    """Approved, and on no certificate yet."""
    still_to_come: tuple[Sample, ...]
    earlier: tuple[str, ...]
    """Numbers of the parts before, as first issued."""

    @property
    def statement(self) -> str:
        """The sentence that the certificate prints first among its statements."""
        job = self.samples[0].job.number
        coming = ", ".join(sample.lab_number for sample in self.still_to_come)
        after = (
            f"Still to come: samples {coming}." if coming else "With it every sample of the job is reported."
        )
        before = f" Earlier parts: {', '.join(self.earlier)}." if self.earlier else ""
        return f"{BEGINNING}{self.number} of the results of job {job}. {after}{before}"

    def told(self, at: datetime) -> PartOfJob:
        """What page, paper and data file say at their head: which part it is, and what is not in it and why."""
        numbers = {sample.lab_number for sample in self.samples}
        return PartOfJob(self.number, day_in_words(at), not_on(self.samples[0].job, numbers))


def not_on(job: Job, lab_numbers: Iterable[str]) -> tuple[NotInPart, ...]:
    """The samples of a job that are not among these, each with the reason in a client's words, as it is now."""
    held = set(lab_numbers)
    return tuple(each for each in _where_each_is(job) if each.lab_number not in held)


def not_on_each(job: Job) -> dict[str, tuple[NotInPart, ...]]:
    """For each certificate of a part that nothing has replaced, by its number: the samples that are not on it."""
    parts = job.certificates.filter(part__isnull=False, replaced_by__isnull=True)
    held = {each.number: _numbers_on(each) for each in parts.defer("pdf", "data_json", "data_csv")}
    where = _where_each_is(job) if held else ()
    return {
        number: tuple(each for each in where if each.lab_number not in on_it)
        for number, on_it in held.items()
    }


def _numbers_on(certificate: Certificate) -> set[str]:
    return {section["lab_number"] for section in certificate.context["samples"]}


def _where_each_is(job: Job) -> tuple[NotInPart, ...]:
    """Every sample of a job with the certificate it is on, or else its state in a client's words."""
    samples = list(job.samples.order_by("line"))
    issued = job.certificates.defer("pdf", "data_json", "data_csv").order_by("pk")
    on_paper = {lab_number: each.number for each in issued for lab_number in _numbers_on(each)}
    runs = Portion.objects.filter(sample__in=samples, duplicate_of__isnull=True, run__results__isnull=False)
    run_once = set(runs.values_list("sample", flat=True))
    return tuple(
        NotInPart(each.lab_number, each.client_label, _why_not(each, on_paper, each.pk in run_once))
        for each in samples
    )


def _why_not(sample: Sample, on_paper: dict[str, str], was_run: bool) -> str:
    number = on_paper.get(sample.lab_number)
    if number is not None:
        return f"on certificate {number}"
    again = ANALYSED_AGAIN.get(sample.state) if was_run else None
    return again or words_of(sample)[0]


def next_part(job: Job) -> Part | None:
    """
    The part that can be issued now; None when nothing new is approved, or when the job goes out as a whole.

    A job goes out as a whole while all its samples are approved and no part of it was issued.
    """
    issued = job.certificates.without_files().filter(revision=0).order_by("pk")
    if issued.filter(part__isnull=True).exists():
        return None
    earlier = tuple(issued.values_list("number", flat=True))
    on_paper = set(
        Sample.objects.filter(job=job, portions__run__results__certificates__isnull=False).values_list(
            "pk", flat=True
        )
    )
    of_job = [s for s in job.samples.order_by("line") if s.pk not in on_paper and s.state not in LEFT_OUT]
    ready = tuple(sample for sample in of_job if sample.state == SampleState.APPROVED)
    coming = tuple(sample for sample in of_job if sample.state != SampleState.APPROVED)
    if not ready or not (coming or earlier):
        return None
    return Part(len(earlier) + 1, ready, coming, earlier)


def require_next_part(job: Job) -> Part:
    """The part that can be issued now, or the refusal that says why there is none."""
    part = next_part(job)
    if part is None:
        raise NotPossible(
            f"No part of {job} can be issued: nothing new is approved, or it goes out as a whole."
        )
    return part


def samples_of_part(certificate: Certificate) -> list[Sample]:
    """The samples of a part, in its order, for the certificate that replaces it; refuses while one is at work."""
    numbers = [section["lab_number"] for section in certificate.context["samples"]]
    found = {s.lab_number: s for s in certificate.job.samples.filter(lab_number__in=numbers)}
    samples = [found[number] for number in numbers if found[number].state not in LEFT_OUT]
    _require_ready(certificate, samples)
    return samples


def _require_ready(certificate: Certificate, samples: Sequence[Sample]) -> None:
    ready = (SampleState.APPROVED, SampleState.REPORTED)
    waiting = [f"{s.lab_number} is “{s.state}”" for s in samples if s.state not in ready]
    if waiting:
        raise NotPossible(f"Not every sample of {certificate} is approved: {'; '.join(waiting)}.")


def told_by(certificate: Certificate) -> PartOfJob | None:
    """What a certificate says at its head of the part it is; None for the whole of a job, or before it was said."""
    told = certificate.context.get("part")
    if told is None:
        return None
    return PartOfJob(told["number"], told["as_of"], tuple(NotInPart(**each) for each in told["not_in_it"]))


def statement_of(certificate: Certificate) -> str:
    """The sentence on the part, as a certificate printed it; '' for the whole of a job."""
    return next((text for text in certificate.context["statements"] if text.startswith(BEGINNING)), "")
