"""Limits are dated versions that a person enters; reference soils stand in batches and are never reported."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import DatabaseError, IntegrityError, transaction
from django.utils import timezone

from batches.limits.keys import ChartKey, Quantity
from batches.limits.points import reference_points
from batches.limits.rules import answer_point, chart_of, enter_limits, take_up_again
from batches.models import Batch, Entry, LimitsVersion
from batches.planning.rules import next_soil, unweighed_chosen
from batches.repeating.decided import COMPARED_ONLY, decision_of
from batches.review import rules as approval
from batches.voiding.rules import take_out
from particles.models import Client, MethodEditionRecord, Portion, ReferenceSoil
from particles.records.refusals import AlreadyThere, NotPossible, NotThisPerson
from particles.reference_soils.rules import use_up
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)
ROOM = ChartKey(Quantity.TEMPERATURE)


def entered(key: ChartKey, by: Any, *, at: datetime | None = None, **typed: Any) -> LimitsVersion:
    at = at or timezone.now()
    values = {"centre": Decimal("20.5"), "sd": Decimal("0.8"), "document": "Log of the room, 2025 (invented)",
              "reason": "The first limits of the room.", "seen": 0, "in_force_from": at}  # fmt: skip
    return enter_limits(key, by=by, at=at, **(values | typed))


@pytest.fixture
def soil(bench: Any, clerk: Any, technician: Any, qa_officer: Any) -> Callable[..., ReferenceSoil]:
    """A reference soil of the laboratory's own, dried, sieved and entered."""

    def made(name: str = "Sandbank", kind: str = "sandy") -> ReferenceSoil:
        own, _ = Client.objects.get_or_create(name="The laboratory itself (invented)", address="1 Lane")
        at = timezone.now() - timedelta(days=6)
        bag = factories.prepared(factories.job(own, clerk, at=at).samples.get(), technician, at=at)
        return ReferenceSoil.enter(
            bag, name=name, kind=kind, container="Bin 3, 20 kg (invented)", by=qa_officer, at=at
        )

    return made


@pytest.fixture
def batch_with_soil(
    soil: Any, the_client: Any, clerk: Any, technician: Any, bench: Any, work_off: Any
) -> Callable[..., Batch]:
    """A batch of one sample, its duplicate and a reference soil, read, computed and handed over."""

    def made(*, off_g_l: float = 0.0, planned_ago: timedelta = timedelta(days=3)) -> Batch:
        if not ReferenceSoil.objects.exists():
            soil()
        now = timezone.now()
        received_at = now - planned_ago - timedelta(days=1)
        the_job = factories.job(the_client, clerk, at=received_at)
        portion = factories.portion(
            factories.prepared(the_job.samples.get(), technician, at=received_at), technician, bench
        )
        batch = factories.batch_with_duplicates([portion], technician, bench, at=now - planned_ago)
        for run in batch.runs.order_by("position"):
            values = factories.off_by(off_g_l if run.is_reference else 0.0)
            values = factories.BLANK_G_L if run.is_blank else values
            factories.read_run(run, technician, values, started_at=now - planned_ago + timedelta(hours=20))
        work_off()
        batch.refresh_from_db()
        approval.submit(batch, by=technician, at=now)
        return batch

    return made


def test_limits_are_entered_by_a_named_person_with_a_reason_and_never_change(
    qa_officer: Any, technician: Any, bench: Any
) -> None:
    with pytest.raises(NotThisPerson, match="not authorised to enter limits"):
        entered(ROOM, technician)
    for typed, words in [
        ({"reason": "because"}, "Say in a sentence"),
        ({"document": ""}, "Name the document"),
        ({"sd": Decimal("3.1")}, "more than scatter can be"),
        ({"sd": Decimal("0")}, "is none"),
        (
            {"in_force_from": timezone.now() - timedelta(days=1)},
            "what is past was judged by those of its day",
        ),
        ({"rise": Decimal("0.5")}, "Only the spread of duplicates follows content"),
    ]:
        with pytest.raises(NotPossible, match=words):
            entered(ROOM, qa_officer, **typed)
    version = entered(ROOM, qa_officer)
    assert (version.by, version.low_action, version.high_warn) == (
        qa_officer,
        Decimal("18.1000"),
        Decimal("22.1000"),
    )
    with pytest.raises(DatabaseError, match="Cannot update"), transaction.atomic():
        LimitsVersion.objects.update(sd=Decimal("2.5"))
    same = {f.name: getattr(version, f.name) for f in version._meta.fields if f.name != "id"}
    backdated = same | {"in_force_from": version.at - timedelta(days=9), "supersedes": version}
    with pytest.raises(IntegrityError, match="never_backdated"), transaction.atomic():
        LimitsVersion.objects.create(**backdated)


def test_a_later_day_begins_then_and_two_people_cannot_both_be_right(
    qa_officer: Any, manager: Any, bench: Any
) -> None:
    first = entered(ROOM, qa_officer)
    with pytest.raises(AlreadyThere, match="Quinn Example entered limits meanwhile"):
        entered(ROOM, manager)
    later = timezone.now() + timedelta(days=7)
    second = entered(ROOM, manager, seen=first.pk, in_force_from=later, centre=Decimal("21"))
    chart = chart_of(ROOM, timezone.now())
    assert chart.in_force(timezone.now()) == first
    assert chart.in_force(later) == second
    assert second.supersedes == first


def test_a_way_back_is_one_more_version_that_says_which(qa_officer: Any, manager: Any, bench: Any) -> None:
    first = entered(ROOM, qa_officer)
    second = entered(ROOM, manager, seen=first.pk, centre=Decimal("23"))
    with pytest.raises(NotPossible, match="newest already"):
        take_up_again(
            second,
            reason="The air conditioning of the room works again.",
            seen=second.pk,
            by=manager,
            at=timezone.now(),
        )
    third = take_up_again(
        first, reason="The new room was given up in summer.", seen=second.pk, by=manager, at=timezone.now()
    )
    assert (third.centre, third.sd, third.takes_up) == (first.centre, first.sd, first)
    assert [v.pk for v in LimitsVersion.of(ROOM)] == [first.pk, second.pk, third.pk], "all stay"


def test_only_a_bag_of_the_laboratorys_own_becomes_a_reference_soil(
    the_client: Any, client_person: Any, clerk: Any, technician: Any, qa_officer: Any, bench: Any
) -> None:
    bag = factories.prepared(factories.job(the_client, clerk).samples.get(), technician)
    facts = {"name": "Marsh", "kind": "clayey", "container": "Bin 1", "by": qa_officer, "at": timezone.now()}
    with pytest.raises(NotPossible, match="Log-ins of Example Estate"):
        ReferenceSoil.enter(bag, **facts)
    two = factories.job(Client.objects.create(name="Own (invented)", address="-"), clerk, samples=2)
    with pytest.raises(NotPossible, match="holds other bags too"):
        ReferenceSoil.enter(factories.prepared(two.samples.first(), technician), **facts)


def test_soils_take_turns_and_stand_at_drawn_places(
    soil: Any, the_client: Any, clerk: Any, technician: Any, bench: Any
) -> None:
    sandy, clayey = soil(), soil("Marsh", "clayey")
    factories.more_cylinders(bench, 16)
    placed = []
    for _ in range(3):
        job = factories.job(the_client, clerk, at=timezone.now() - timedelta(days=4), samples=2)
        portions = [
            factories.portion(factories.prepared(s, technician), technician, bench) for s in job.samples.all()
        ]
        made = factories.batch_with_duplicates(portions, technician, bench, at=timezone.now(), filled=False)
        [run] = [run for run in made.sample_runs if run.is_reference]
        placed.append((run.portion.reference_soil, run.position))
        assert run.portion in unweighed_chosen(made), "it is weighed before the soak"
        bench.cylinders = bench.cylinders[5:]
    assert [each for each, _ in placed] == [sandy, clayey, sandy]
    assert all(1 <= place <= 4 for _, place in placed)
    use_up(sandy, reason="The bin is empty.", by=technician, at=timezone.now())
    assert next_soil(MethodEditionRecord.objects.get(code=factories.FOUR_READINGS)) == clayey


def test_a_container_that_is_nearly_empty_is_passed_over(soil: Any, technician: Any) -> None:
    sandy = soil()
    factories.bag_of(sandy.sample, 90, technician, at=timezone.now())
    assert next_soil(MethodEditionRecord.objects.get(code=factories.FOUR_READINGS)) is None


def test_nobody_opens_a_portion_of_a_reference_soil_by_hand(
    soil: Any, technician: Any, as_person: Any
) -> None:
    sandy = soil()
    with pytest.raises(NotPossible, match="the program places its portions"):
        Portion.take(sandy.sample, by=technician, at=timezone.now())
    shown = as_person(technician).get("/weighing/").content.decode()
    assert sandy.sample.lab_number not in shown


def test_a_reference_portion_goes_the_way_of_others_and_is_never_reported(
    batch_with_soil: Any, qa_officer: Any, manager: Any
) -> None:
    batch = batch_with_soil()
    [run] = [run for run in batch.sample_runs if run.is_reference]
    container = run.sample
    assert container.state == "prepared"
    assert run not in batch.reported_runs
    assert run.title.endswith("reference soil")
    result = run.results.get()
    with pytest.raises(NotPossible, match="only compared and never reported"):
        approval.decide(result, "report", note="", by=qa_officer, at=timezone.now())
    assert decision_of(result) == COMPARED_ONLY
    points = reference_points()
    root = MethodEditionRecord.roots()[batch.method_id]
    [point] = points[ChartKey(Quantity.REFERENCE_CLAY, run.portion.reference_soil_id, root)]
    assert (point.run, point.place) == (run.pk, run.position)
    assert point.value == result.distribution.fractions.clay.value_pct
    approval.return_to_bench(batch, by=qa_officer, at=timezone.now(), reason="Look again.")
    container.refresh_from_db()
    assert container.state == "prepared"


def test_one_that_cannot_be_weighed_is_taken_out_with_a_reason(
    soil: Any, the_client: Any, clerk: Any, technician: Any, bench: Any
) -> None:
    soil()
    job = factories.job(the_client, clerk, at=timezone.now() - timedelta(days=4))
    portion = factories.portion(factories.prepared(job.samples.get(), technician), technician, bench)
    batch = factories.batch_with_duplicates([portion], technician, bench, at=timezone.now(), filled=False)
    [run] = [run for run in batch.sample_runs if run.is_reference]
    entry = Entry.objects.create(
        entry_id="00000000-0000-4000-8000-000000000009", kind="cannot be weighed", content={}, by=technician,
        received_at=timezone.now(),
    )  # fmt: skip
    take_out(run.portion, reason="The bin is wet.", entry=entry, by=technician, at=timezone.now())
    assert run.portion not in unweighed_chosen(batch)


def test_an_answer_is_given_by_somebody_who_did_not_work_in_the_batch(
    batch_with_soil: Any, qa_officer: Any, technician: Any, manager: Any
) -> None:
    batch = batch_with_soil(off_g_l=3.0)
    [run] = [run for run in batch.sample_runs if run.is_reference]
    words = {"counts": False, "reason": "Wrong bin, found on the shelf.", "at": timezone.now()}
    with pytest.raises(NotThisPerson):
        answer_point(Quantity.REFERENCE_CLAY, run, by=technician, **words)
    with pytest.raises(NotPossible, match="Say in a sentence"):
        answer_point(Quantity.REFERENCE_CLAY, run, by=qa_officer, **(words | {"reason": "ok"}))
    with pytest.raises(NotPossible, match="no point of a chart of this kind"):
        answer_point(Quantity.DUPLICATES_CLAY, run, by=qa_officer, **words)
    answer_point(Quantity.REFERENCE_CLAY, run, by=manager, **words)
    assert run.point_answers.get().by == manager
