"""The sand of a portion on its sieves."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest

from batches.models import SieveMass
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)

STACK = {
    "washed_sand_g": "20.00",
    "sieve_1000_g": "1.00",
    "sieve_500_g": "3.00",
    "sieve_250_g": "6.00",
    "sieve_100_g": "7.00",
    "sieve_53_g": "2.50",
    "pan_g": "0.40",
}


@pytest.fixture
def sieve(prepared_sample: Any, technician: Any, bench: Any, as_person: Any) -> Any:
    portion = factories.portion(prepared_sample, technician, bench)

    def post(**typed: str) -> Any:
        fixed = {"entry_id": str(uuid4()), "balance": str(bench.balance.pk)}
        return as_person(technician).post(f"/portions/{portion.code}/sieve/", fixed | STACK | typed)

    return post


def test_sum_and_loss_are_shown_after_saving(
    sieve: Any, prepared_sample: Any, technician: Any, as_person: Any
) -> None:
    assert sieve().status_code == 302
    shown = as_person(technician).get(f"/portions/{prepared_sample.portion.code}/sieve/").content.decode()
    assert "19.90" in shown
    assert "0.10 (0.50 %)" in shown


def test_a_sieve_left_empty_is_not_taken_for_zero(sieve: Any) -> None:
    answer = sieve(sieve_250_g="")
    assert answer.status_code == 422
    assert "Type 0 if nothing stayed" in answer.content.decode()
    assert 'value="7.00"' in answer.content.decode()
    assert not SieveMass.objects.exists()


def test_sieving_again_needs_a_reason_and_keeps_both(sieve: Any) -> None:
    sieve()
    assert sieve(sieve_53_g="2.60").status_code == 409
    assert sieve(sieve_53_g="2.60", reason="Sieve was not clean.").status_code == 302
    assert SieveMass.objects.filter(opening_um=53).count() == 2


@pytest.mark.parametrize("person", ["clerk", "qa_officer", "client_person"])
def test_who_may_not_sieve(
    prepared_sample: Any,
    technician: Any,
    bench: Any,
    as_person: Any,
    request: pytest.FixtureRequest,
    person: str,
) -> None:
    portion = factories.portion(prepared_sample, technician, bench)
    client = as_person(request.getfixturevalue(person))
    assert client.get(f"/portions/{portion.code}/sieve/").status_code == 403
