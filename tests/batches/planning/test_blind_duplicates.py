"""Nobody who weighs or reads is told which portions are duplicates; whoever judges is. All figures invented."""

from __future__ import annotations

import json
from datetime import timedelta
from random import Random, SystemRandom
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from batches.bench.state import state_of
from batches.models import Batch, Run
from batches.planning.blind import is_told
from batches.planning.places import second_places
from batches.planning.rules import start_soak, unweighed_chosen
from particles.models import Portion
from particles.portions.code import DRAW, SIGNS, code_of, row_of
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def measured_pair(the_client: Any, clerk: Any, technician: Any, bench: Any, work_off: Any) -> Batch:
    """One bag with two portions and the blank, read to the end and computed."""
    batch = factories.measured_pairs(the_client, clerk, technician, bench, off_g_l=[0.5])
    work_off()
    return batch


def pair(batch: Batch) -> tuple[Run, Run]:
    first, duplicate = batch.sample_runs.order_by("portion_id")
    assert duplicate.is_duplicate
    return first, duplicate


def addresses(batch: Batch, run: Run) -> list[str]:
    assert run.portion is not None
    return [
        f"/batches/{batch.number}/",
        f"/batches/{batch.number}/bench/",
        f"/batches/{batch.number}/bench/state/",
        "/bench/",
        "/bench/state/",
        f"/batches/{batch.number}/paper/?run={run.pk}",
        f"/runs/{run.pk}/",
        f"/portions/{run.portion.code}/sieve/",
        f"/portions/{run.portion.code}/weigh/",
    ]


def main_of(shown: str) -> str:
    """What a page shows below its menu; of a description in JSON, all of it."""
    return shown[shown.find("<main") :] if "<main" in shown else shown


def test_no_page_of_the_bench_tells_a_duplicate_or_the_bag_of_a_cylinder(
    measured_pair: Batch, technician: Any, as_person: Any
) -> None:
    client = as_person(technician)
    for run in pair(measured_pair):
        for address in addresses(measured_pair, run):
            answer = client.get(address)
            shown = main_of(answer.content.decode())
            assert answer.status_code == 200, address
            assert "uplicate" not in shown, address
            assert run.sample.lab_number not in shown, address
            assert run.sample.client_label not in shown, address
            assert run.portion.code in shown, address


def test_the_chart_of_a_run_is_named_by_who_looks(
    measured_pair: Batch, technician: Any, qa_officer: Any, as_person: Any
) -> None:
    _, duplicate = pair(measured_pair)
    assert duplicate.portion is not None
    address = reverse("reports:run_chart", args=[duplicate.pk, "settling"])
    at_the_bench = json.loads(as_person(technician).get(address).content)
    judging = json.loads(as_person(qa_officer).get(address).content)
    assert duplicate.portion.code in json.dumps(at_the_bench)
    assert duplicate.sample.lab_number not in json.dumps(at_the_bench)
    assert f"Settling, {duplicate.title}" in json.dumps(judging)


def test_whoever_judges_is_told(measured_pair: Batch, qa_officer: Any, manager: Any, as_person: Any) -> None:
    first, duplicate = pair(measured_pair)
    for person in (qa_officer, manager):
        client = as_person(person)
        shown = client.get(f"/batches/{measured_pair.number}/").content.decode()
        assert f"{duplicate.sample.lab_number} duplicate" in shown
        assert "Duplicates of the batch" in shown
        shown = client.get(f"/runs/{duplicate.pk}/").content.decode()
        assert "It is compared with the first portion and never reported." in shown
        assert "First portion and duplicate" in client.get(f"/runs/{first.pk}/").content.decode()


def test_somebody_of_both_roles_is_told_only_once_the_batch_is_handed_over(
    measured_pair: Batch, qa_officer: Any, as_person: Any
) -> None:
    qa_officer.roles = [*qa_officer.roles, "technician"]
    qa_officer.save()
    both = type(qa_officer).objects.get(pk=qa_officer.pk)
    assert not is_told(both, measured_pair)
    assert "uplicate" not in main_of(
        as_person(both).get(f"/batches/{measured_pair.number}/").content.decode()
    )
    measured_pair.state = "submitted for review"
    assert is_told(both, measured_pair)


def test_the_beaker_of_a_duplicate_carries_a_code_like_any_other(
    the_client: Any, clerk: Any, technician: Any, bench: Any, as_person: Any
) -> None:
    """Taking the bag is the one step that names it; there a first portion and a second one are named alike."""
    at = timezone.now() - timedelta(days=3)
    job = factories.job(the_client, clerk, at=at, samples=2)
    portions = [
        factories.portion(factories.prepared(s, technician, at=at), technician, bench)
        for s in job.samples.all()
    ]
    batch = factories.batch_with_duplicates(portions, technician, bench, at=at, filled=False)
    (second,) = unweighed_chosen(batch)
    first = second.duplicate_of
    client = as_person(technician)
    shown = {p: main_of(client.get(f"/portions/{p.code}/weigh/").content.decode()) for p in (first, second)}
    assert f"/{second.attempt} {second.code}" in shown[second], "not weighed yet: the bag has to be found"
    assert first.sample.lab_number not in shown[first]
    for portion, page in shown.items():
        assert portion.code in page
        assert "uplicate" not in page
        assert "second portion" not in page
    assert f'Write <b class="lab-number">{second.code}</b> on the beaker and on the tin' in shown[second]
    worklist = main_of(client.get("/weighing/").content.decode())
    assert second.number in worklist, "the bag has to be found"
    assert "uplicate" not in worklist
    batch_page = main_of(client.get(f"/batches/{batch.number}/").content.decode())
    assert "It is treated and read as every other." in batch_page
    assert "uplicate" not in batch_page
    refused = client.post(f"/batches/{batch.number}/soak/")
    assert refused.status_code == 409
    assert second.number in refused.content.decode()
    masses = {"balance": bench.balance.pk, **factories.MASSES_G}
    factories.stored("weighing", technician, portion=second.pk, **masses)
    start_soak(batch, by=technician, at=timezone.now())
    assert "uplicate" not in main_of(client.get(f"/batches/{batch.number}/").content.decode())


def test_taking_one_out_tells_no_more_than_its_code(
    the_client: Any, clerk: Any, technician: Any, bench: Any, as_person: Any, qa_officer: Any
) -> None:
    at = timezone.now() - timedelta(days=3)
    sample = factories.prepared(factories.job(the_client, clerk, at=at).samples.get(), technician, at=at)
    portion = factories.portion(sample, technician, bench)
    batch = factories.batch_with_duplicates([portion], technician, bench, at=at, filled=False)
    (second,) = unweighed_chosen(batch)
    typed = {"reason": "The bag is empty.", "entry_id": "6b0f0c5e-6a54-4f0a-8a52-0f7f0d0d1a02"}
    answer = as_person(technician).post(
        f"/batches/{batch.number}/portions/{second.run.pk}/take-out/", typed, follow=True
    )
    shown = main_of(answer.content.decode())
    assert f"{second.code}</a>, cylinder {second.run.cylinder.serial}: could not be weighed" in shown
    assert "uplicate" not in shown
    told = as_person(qa_officer).get(f"/batches/{batch.number}/").content.decode()
    assert f"{sample.lab_number} duplicate</a>, cylinder" in told


def test_the_tablet_is_sent_codes_and_no_bag(measured_pair: Batch) -> None:
    first, duplicate = pair(measured_pair)
    assert first.portion is not None
    assert duplicate.portion is not None
    [sent] = state_of([measured_pair])["batches"]
    titles = {each["title"] for each in sent["runs"]}
    assert titles == {"blank", first.portion.code, duplicate.portion.code}
    assert first.sample.lab_number not in json.dumps(sent)


def test_the_places_of_second_portions_are_spread_over_the_row() -> None:
    """Over many batches each place is drawn about as often: the last cylinder tells nothing."""
    draw = Random(26)
    drawn = [second_places(8, 1, draw=draw)[0] for _ in range(800)]
    counts = [drawn.count(place) for place in range(1, 9)]
    assert sum(counts) == 800
    # Binomial(800, 1/8): mean 100, standard deviation 9.4; five of them either way.
    assert all(53 <= count <= 147 for count in counts)
    assert second_places(4, 0, draw=draw) == []
    assert len(set(second_places(24, 3, draw=draw))) == 3


def test_a_code_of_an_earlier_edition_leads_back_to_its_portion_and_nothing_else_does(
    technician: Any,
) -> None:
    rows = [1, 2, 3, 279_840, 279_841, 279_842, 6_436_342, 6_436_343, 10**12]
    codes = [code_of(row) for row in rows]
    assert [row_of(code) for code in codes] == rows
    assert len({code_of(row) for row in range(1, 20_000)}) == 19_999
    assert [len(code) for code in codes[:7]] == [4, 4, 4, 4, 5, 5, 5]
    assert [row_of(no) for no in ("", "2", "O0II", "26-00001", "K74", code_of(5)[:3] + "A")] == [None] * 6
    assert len(SIGNS) == len(set(SIGNS))
    assert not Portion.of_code("ZZZZ").exists()


def test_the_program_draws_from_the_machines_own_noise() -> None:
    """A seed, or a checksum, is worked out at the bench by whoever reads the program."""
    assert type(DRAW) is SystemRandom


def test_a_drawn_code_is_nobody_elses_and_is_found_again(
    the_client: Any, clerk: Any, technician: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = factories.job(the_client, clerk, samples=2)
    first, second = (factories.prepared(sample, technician) for sample in job.samples.all())
    taken = Portion.take(first, by=technician, at=timezone.now())
    assert taken.drawn_code == taken.code != code_of(taken.pk)
    assert Portion.of_code(f" {taken.code.lower()} ").get() == taken
    assert not Portion.of_code(code_of(taken.pk)).exists(), "its row does not lead to it"
    signs = iter([*taken.code, *"GHJK"])
    monkeypatch.setattr(DRAW, "choice", lambda _: next(signs))
    assert Portion.take(second, by=technician, at=timezone.now()).code == "GHJK"


def test_neighbouring_codes_do_not_look_like_neighbours() -> None:
    """Two portions opened one after the other share no more signs than two drawn by chance."""
    shared = [sum(a == b for a, b in zip(code_of(n), code_of(n + 1), strict=True)) for n in range(1, 2_001)]
    assert sum(shared) / len(shared) < 4 / 23 * 1.5
