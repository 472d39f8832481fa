"""The words a client reads instead of the laboratory's own."""

from __future__ import annotations

from collections.abc import Set

from particles.models import Sample, SampleState
from particles.receiving.models import status_in_words

S = SampleState

SAMPLE_STATES: dict[str, tuple[str, str]] = {
    S.ARRIVED: ("arrived, not looked at yet", "none"),
    S.ON_HOLD: ("waiting for an answer", "held"),
    S.ACCEPTED: ("accepted, waiting to be dried and sieved", "open"),
    S.REFUSED: ("not accepted", "refused"),
    S.CANCELLED: ("cancelled", "none"),
    S.PREPARED: ("dried and sieved", "open"),
    S.WAITING: ("weighed, waiting for its turn", "open"),
    S.IN_BATCH: ("being measured", "open"),
    S.CALCULATED: ("measured, being checked", "open"),
    S.UNDER_REVIEW: ("measured, being checked", "open"),
    S.APPROVED: ("checked and approved", "done"),
    S.REPORTED: ("on the certificate", "done"),
}
"""State -> words, and how the word is outlined."""

WAITS_FOR: dict[str, str] = {
    S.ARRIVED: "the receiving bench to accept it",
    S.ON_HOLD: "an answer",
    S.ACCEPTED: "drying and the 2 mm sieve",
    S.PREPARED: "a test portion",
    S.WAITING: "a place in a batch",
    S.IN_BATCH: "its last reading",
    S.CALCULATED: "the technician to hand the batch to review",
    S.UNDER_REVIEW: "the QA officer to approve the batch",
}
"""What a sample that is not approved waits for, for the people of the laboratory."""

JOB_KINDS = {
    "Certificate issued": "done",
    "Waiting for an answer": "held",
    "Being measured": "open",
    "Approved, certificate in preparation": "open",
}


def job_status(states: Set[str]) -> tuple[str, str]:
    """Words and outline of a job's state, from the states of its samples."""
    words = status_in_words(states)
    return words, JOB_KINDS.get(words, "none")


def asked_of_the_client(sample: Sample) -> str:
    """The open question when it is the client's move; else empty: it is the laboratory's own affair."""
    return sample.hold_reason if "client" in sample.hold_waits_for.lower() else ""


def waits_for(sample: Sample) -> str:
    """The step that an unapproved sample waits for; a hold names whose move it is and why."""
    if sample.state == S.ON_HOLD:
        return f"{sample.hold_waits_for}: {sample.hold_reason}"
    return WAITS_FOR.get(sample.state, "")
