"""Passwords under a signature are not guessed without end."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.db import transaction
from django.utils import timezone

from batches.review import rules as approval
from batches.review.password import GUESSES, WAIT_S, require_secret
from particles.records.refusals import NotThisPerson
from reports.certificates.rules import issue_certificate
from tests.conftest import SECRET

pytestmark = pytest.mark.django_db(transaction=True)


def _guess(person: Any, times: int) -> None:
    for _ in range(times):
        with pytest.raises(NotThisPerson, match="does not belong to you"):
            require_secret(person, "a wrong password")


def test_after_five_wrong_ones_even_the_right_one_waits(manager: Any, qa_officer: Any) -> None:
    _guess(manager, GUESSES)
    with pytest.raises(NotThisPerson, match="Wait 5 minutes"):
        require_secret(manager, SECRET)
    require_secret(qa_officer, SECRET)
    with time_machine.travel(timezone.now() + timedelta(seconds=WAIT_S + 1)):
        require_secret(manager, SECRET)


def test_a_right_one_begins_the_count_anew(manager: Any) -> None:
    for _ in range(3):
        _guess(manager, GUESSES - 1)
        require_secret(manager, SECRET)
    _guess(manager, GUESSES)
    with pytest.raises(NotThisPerson, match="wrong passwords in a row"):
        require_secret(manager, SECRET)


def test_refused_signatures_count_although_their_acts_are_undone(
    submitted_batch: Any, qa_officer: Any, manager: Any
) -> None:
    for _ in range(GUESSES):
        with pytest.raises(NotThisPerson, match="does not belong"):
            approval.approve(submitted_batch, by=qa_officer, at=timezone.now(), secret="guess")
    with pytest.raises(NotThisPerson, match="wrong passwords in a row"):
        approval.approve(submitted_batch, by=qa_officer, at=timezone.now(), secret=SECRET)
    job = submitted_batch.sample_runs.first().portion.sample.job
    for _ in range(GUESSES):
        with pytest.raises(NotThisPerson, match="does not belong"):
            issue_certificate(job, by=manager, at=timezone.now(), secret="guess")
    with pytest.raises(NotThisPerson, match="wrong passwords in a row"):
        issue_certificate(job, by=manager, at=timezone.now(), secret=SECRET)
    assert not transaction.get_connection().in_atomic_block
