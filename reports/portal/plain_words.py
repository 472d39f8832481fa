"""The words a client reads instead of the laboratory's own."""

from __future__ import annotations

from collections.abc import Set

from particles.models import Sample, SampleState
from particles.receiving.models import status_in_words

SAMPLE_STATES: dict[str, tuple[str, str]] = {
    SampleState.ARRIVED: ("arrived, not looked at yet", "none"),
    SampleState.ON_HOLD: ("waiting for an answer", "held"),
    SampleState.ACCEPTED: ("accepted, waiting to be dried and sieved", "open"),
    SampleState.REFUSED: ("not accepted", "refused"),
    SampleState.CANCELLED: ("cancelled", "none"),
    SampleState.PREPARED: ("dried and sieved", "open"),
    SampleState.WAITING: ("weighed, waiting for its turn", "open"),
    SampleState.IN_BATCH: ("being measured", "open"),
    SampleState.CALCULATED: ("measured, being checked", "open"),
    SampleState.UNDER_REVIEW: ("measured, being checked", "open"),
    SampleState.APPROVED: ("checked and approved", "done"),
    SampleState.REPORTED: ("on the certificate", "done"),
}
"""State -> words, and how the word is outlined."""

ANALYSED_AGAIN: dict[str, str] = {
    SampleState.ACCEPTED: "must be analysed again; it is dried and sieved first",
    SampleState.PREPARED: "must be analysed again; a new portion is weighed next",
    SampleState.WAITING: "is analysed again; the new portion waits for its turn",
    SampleState.IN_BATCH: "is analysed again; the new portion is being measured",
}
"""The same of a sample that was measured before, until its new portion has a result."""

WAITS_FOR: dict[str, str] = {
    SampleState.ARRIVED: "the receiving bench to accept it",
    SampleState.ON_HOLD: "an answer",
    SampleState.ACCEPTED: "drying and the 2 mm sieve",
    SampleState.PREPARED: "a test portion",
    SampleState.WAITING: "a place in a batch",
    SampleState.IN_BATCH: "its last reading",
    SampleState.CALCULATED: "the technician to hand the batch to review",
    SampleState.UNDER_REVIEW: "the QA officer to approve the batch",
}
"""What a sample that is not approved waits for, for the people of the laboratory."""

LOOKED_AT_AGAIN = ("on the certificate, being looked at again", "held")
FALLEN = ("measured again or put right, another certificate follows", "held")
"""Of a sample whose figures on an issued certificate are in doubt, or do not stand any more."""
ASKED = ("waiting for an answer from you", "held")
HELD = ("held, the laboratory clears it", "held")
"""Of a sample on hold: the client's move, or the laboratory's own affair."""
JOB_ASKED = ("Waiting for an answer from you", "held")
JOB_HELD = ("Held, the laboratory clears it", "held")
NOTHING_TO_DO = "There is nothing to do for you."
WITHOUT_FIGURES = ("on the certificate, without figures", "none")
WITHDRAWN = ("on a withdrawn certificate, its figures do not stand", "refused")
JOB_LOOKED_AT_AGAIN = ("Being looked at again", "held")

JOB_KINDS = {
    "Certificate issued": "done",
    "Waiting for an answer": "held",
    "Being measured": "open",
    "Part issued, the rest follows": "open",
    "Approved, certificate in preparation": "open",
}


def job_status(states: Set[str]) -> tuple[str, str]:
    """Words and outline of a job's state, from the states of its samples."""
    words = status_in_words(states)
    return words, JOB_KINDS.get(words, "none")


ASKED_OF_THE_CLIENT = {"state": SampleState.ON_HOLD, "hold_waits_for__icontains": "client"}
"""The same as `asked_of_the_client`, as a filter of samples."""


def asked_of_the_client(sample: Sample) -> str:
    """The open question when it is the client's move; else empty: it is the laboratory's own affair."""
    asked = sample.state == SampleState.ON_HOLD and "client" in sample.hold_waits_for.lower()
    return sample.hold_reason if asked else ""


def words_of(sample: Sample) -> tuple[str, str]:
    """Words of a sample's state, of a hold with whose move it is, and how they are outlined."""
    if sample.state == SampleState.ON_HOLD:
        return ASKED if asked_of_the_client(sample) else HELD
    return SAMPLE_STATES[sample.state]


def waits_for(sample: Sample) -> str:
    """The step that an unapproved sample waits for; a hold names whose move it is and why."""
    if sample.state == SampleState.ON_HOLD:
        return f"{sample.hold_waits_for}: {sample.hold_reason}"
    return WAITS_FOR.get(sample.state, "")
