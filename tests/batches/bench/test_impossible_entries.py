"""What cannot be true together is refused at entry, with the numbers."""

from __future__ import annotations

from typing import Any

import pytest

from batches.balance.forms import SieveForm, WeighingForm
from batches.models import SieveMass
from batches.planning.forms import FillingForm
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)

STACK_G = {f"sieve_{um}_g": "2.00" for um in SieveForm.OPENINGS_UM}


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"washed_sand_g": "125.00"}, "more than its portion of 40.00 g"),
        ({"sieve_500_g": "9.00"}, "more than the 11.00 g put on the stack"),
    ],
)
def test_a_stack_heavier_than_what_went_on_it_is_refused(
    measured: Any, technician: Any, bench: Any, changed: dict[str, str], said: str
) -> None:
    run = measured.sample_runs.get()
    masses = STACK_G | {"washed_sand_g": "11.00", "pan_g": "0.90"} | changed
    place = {"portion": run.portion.pk, "balance": bench.balance.pk}
    answer = factories.send("sieve", technician, **place, **masses)
    assert not answer.stored
    assert said in answer.sentence
    assert SieveMass.objects.count() == 0


def test_times_out_of_order_are_refused(running: Any, technician: Any) -> None:
    typed = {"run": running.pk, "state": "read", "temperature_c": "20.0", "source": "paper"}
    factories.stored("reading", technician, slot_s=30, elapsed_s="50", reading="25", **typed)
    answer = factories.send("reading", technician, slot_s=60, elapsed_s="20", reading="28", **typed)
    assert not answer.stored
    assert "contradicts 50.0 s for the 30 s reading" in answer.sentence


@pytest.mark.parametrize(("minutes", "good"), [("5", True), ("0.2", False), ("300", False)])
def test_a_mixing_time_in_seconds_is_noticed(minutes: str, good: bool, filled_batch: Any) -> None:
    form = FillingForm({"batch": filled_batch.pk, "mixing_minutes": minutes, "to_the_line": "on"})
    assert form.is_valid() is good


def test_a_decimal_comma_reaches_the_laboratory_and_is_refused(bench: Any) -> None:
    box = str(WeighingForm()["portion_g"])
    assert 'type="text"' in box
    assert 'inputmode="decimal"' in box
