"""A job issued in parts: which samples go on the next part, which are still to come, and the sentence that says so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from particles.models import Job, Sample, SampleState
from particles.records.refusals import NotPossible
from reports.certificates.models import Certificate

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


def statement_of(certificate: Certificate) -> str:
    """The sentence on the part, as a certificate printed it; '' for the whole of a job."""
    return next((text for text in certificate.context["statements"] if text.startswith(BEGINNING)), "")
