"""The sand of a portion on its sieves."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.utils import timezone

from batches.bench.rules import missing_slots
from batches.models import Entry, Run, SieveMass
from batches.voiding.models import RunVoid
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
def read_run(the_client: Any, clerk: Any, technician: Any, bench: Any) -> Run:
    """A run that is read to the end, with its blank."""
    return factories.measured_batch(the_client, clerk, technician, bench).sample_runs.get()


@pytest.fixture
def at_balance(as_person: Any, technician: Any) -> Any:
    """One browser, so that what a page says after a redirect is read where it is said."""
    return as_person(technician)


@pytest.fixture
def sieve_run(bench: Any, at_balance: Any) -> Any:
    def post(run: Run, **typed: str) -> Any:
        fixed = {"entry_id": str(uuid4()), "balance": str(bench.balance.pk)}
        return at_balance.post(address(run), fixed | STACK | typed)

    return post


@pytest.fixture
def sieve(read_run: Run, sieve_run: Any) -> Any:
    return lambda **typed: sieve_run(read_run, **typed)


def address(run: Run) -> str:
    assert run.portion is not None
    return f"/portions/{run.portion.code}/sieve/"


def test_sum_and_loss_are_shown_after_saving(sieve: Any, read_run: Run, at_balance: Any) -> None:
    assert sieve().status_code == 302
    shown = at_balance.get(address(read_run)).content.decode()
    assert "19.90" in shown
    assert "0.10 (0.50 %)" in shown
    assert "Kept by the laboratory." in shown
    assert "Kept, and not certified so" not in shown


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


def test_bench_fault_65_no_sand_is_sieved_while_its_cylinder_is_still_read(
    running: Run, sieve_run: Any, technician: Any
) -> None:
    """Started two days ago and never read: every slot is open, the blank is not even started."""
    factories.stored(
        "reading", technician, run=running.pk, slot_s=30, state="read", reading="26.5", elapsed_s=30,
        temperature_c="20.0", source="paper",
    )  # fmt: skip
    answer = sieve_run(running)
    assert answer.status_code == 409
    shown = answer.content.decode()
    due = timezone.localtime(timezone.now() - timedelta(days=1))
    assert "Cylinder C02 still has open readings: 60 s, due since" in shown
    assert f"24 h, due since {due:%-d %b}" in shown
    assert "given as missed with its reason" in shown
    assert 'value="7.00"' in shown, "what was typed is still there"
    assert Entry.objects.get(kind="sieve").verdict.outcome == "refused"
    assert not SieveMass.objects.exists()
    for slot_s in missing_slots(running):
        factories.stored("reading", technician, run=running.pk, slot_s=slot_s, state="missed", reason="Closed.",
                         source="paper")  # fmt: skip
    assert sieve_run(running).status_code == 302, "the way on that was named is open"


def test_bench_fault_65_before_the_start_and_outside_a_batch_there_is_no_sand(
    filled_batch: Any,
    sieve_run: Any,
    the_client: Any,
    clerk: Any,
    technician: Any,
    bench: Any,
    at_balance: Any,
) -> None:
    run = filled_batch.runs.get(position=1)
    assert "has not been started" in sieve_run(run).content.decode()
    sample = factories.prepared(factories.job(the_client, clerk).samples.get(), technician)
    portion = factories.portion(sample, technician, bench)
    shown = at_balance.get(f"/portions/{portion.code}/sieve/").content.decode()
    assert "stands in no batch" in shown
    assert "Keep the masses" not in shown
    assert not SieveMass.objects.exists()


def test_a_void_run_is_told_what_it_is_and_not_sieved(running: Run, sieve_run: Any, technician: Any) -> None:
    void = {"why": RunVoid.Why.SPILL.value, "note": "Half of it.", "voided_at": timezone.now().isoformat()}
    factories.stored("void", technician, run=running.pk, **void)
    answer = sieve_run(running)
    assert answer.status_code == 409
    assert "Cylinder C02 is void: soil or liquid was lost (Half of it.)" in answer.content.decode()
    assert "gets a new portion" in answer.content.decode()
    assert not SieveMass.objects.exists()


def test_a_loss_beyond_the_edition_is_no_green_done(sieve: Any, read_run: Run, at_balance: Any) -> None:
    assert sieve(sieve_100_g="6.00").status_code == 302
    shown = at_balance.get(address(read_run)).content.decode()
    assert "1.10 g (5.5 %) of the mass put on the stack was lost" in shown
    assert "allows 2 %" in shown
    assert "Sieve again" in shown
    assert "Kept, and not certified so" in shown
    assert "flag-done" not in shown
    assert "beyond 2 %" in shown
    worklist = at_balance.get("/sieving/").content.decode()
    assert f"{read_run.portion.code} again" in worklist
    assert sieve(reason="A sieve was not emptied.").status_code == 302
    shown = at_balance.get(address(read_run)).content.decode()
    assert "Kept, and not certified so" not in shown


@pytest.mark.parametrize(("pan_g", "beyond"), [("0.10", False), ("0.09", True)])
def test_the_loss_is_judged_by_the_limit_of_the_edition(
    sieve: Any, read_run: Run, pan_g: str, beyond: bool, at_balance: Any
) -> None:
    """Of 20 g that went on the stack 2 % is 0.40 g."""
    assert sieve(pan_g=pan_g).status_code == 302
    shown = at_balance.get(address(read_run)).content.decode()
    assert ("Kept, and not certified so" in shown) is beyond


def test_a_gain_beyond_the_edition_is_refused_with_its_limit(sieve: Any) -> None:
    answer = sieve(sieve_100_g="7.50")
    assert answer.status_code == 409
    assert "hold 20.40 g, 0.40 g more than the 20.00 g put on the stack" in answer.content.decode()
    assert "allows 0." in answer.content.decode()
    assert 'value="7.50"' in answer.content.decode()
    assert not SieveMass.objects.exists()


def test_the_worklist_puts_first_what_can_be_sieved_and_says_what_the_others_wait_for(
    read_run: Run, running: Run, filled_batch: Any, sieve: Any, technician: Any, at_balance: Any
) -> None:
    client, void = at_balance, filled_batch.runs.get(position=2)
    factories.stored(
        "void", technician, run=void.pk, why=RunVoid.Why.BROKEN.value, voided_at=timezone.now().isoformat()
    )
    shown = client.get("/sieving/").content.decode()
    assert 'To be sieved now <span class="hush">1</span>' in shown
    now, waits, lost = (shown.index(f'id="{each}"') for each in ("now", "waits", "void"))
    assert now < shown.index(f"Sieve {read_run.portion.code}") < waits
    assert waits < shown.index("Cylinder C02 still has open readings: 30 s, due since") < lost
    assert lost < shown.index("Cylinder C03 is void: the cylinder broke")
    assert f"/portions/{running.portion.code}/sieve/" not in shown, "nobody is sent where it is refused"
    sieve()
    after = client.get("/sieving/").content.decode()
    assert after.index('id="sieved"') < after.index("loss 0.10 g (0.50 % of 2 % allowed)")
    assert "Nothing can be sieved now." in after


@pytest.mark.parametrize(
    ("person", "status"), [("clerk", 403), ("qa_officer", 403), ("technician", 200), ("client_person", 403)]
)
def test_who_sees_the_worklist(as_person: Any, request: Any, person: str, status: int) -> None:
    assert as_person(request.getfixturevalue(person)).get("/sieving/").status_code == status


def test_bench_fault_65_a_blank_that_is_not_read_is_said_where_the_sand_is_typed(
    running: Run, sieve_run: Any, technician: Any, at_balance: Any
) -> None:
    for slot_s in missing_slots(running):
        factories.stored("reading", technician, run=running.pk, slot_s=slot_s, state="missed", reason="Closed.",
                         source="paper")  # fmt: skip
    assert sieve_run(running).status_code == 302
    shown = at_balance.get(address(running)).content.decode()
    assert "The blank in cylinder C01 still has open readings: 30 s; 60 s; 90 min; 24 h" in shown
    factories.read_run(running.batch.blank, technician, factories.BLANK_G_L,
                       started_at=timezone.now() - timedelta(days=2))  # fmt: skip
    assert "The blank in cylinder" not in at_balance.get(address(running)).content.decode()
