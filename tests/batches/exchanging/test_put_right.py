"""Records put under the right cylinder, readings left out, wrong masses replaced: acts that both versions outlive."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.db import DatabaseError, IntegrityError, InternalError, transaction
from django.utils import timezone

from batches.balance.models import Purpose
from batches.computing.models import result_in_force
from batches.computing.record import gather, gather_batch
from batches.exchanging import rules
from batches.exchanging.arrangement import arrangement_of
from batches.models import Batch, ComputationRequest, Exchange, LeftOut, MassCorrection, Reading, Run, RunVoid
from batches.planning.freshness import page_version
from batches.review import rules as approval
from particles.records.refusals import AlreadyThere, NotPossible, NotThisPerson, WrongState
from tests.batches.exchanging.conftest import CLAYEY_G_L, SANDY_G_L
from tests.conftest import SECRET
from tests.support import factories
from tests.support.reviewing import causes_of, settle

pytestmark = pytest.mark.django_db(transaction=True)

WHY = "The bags of both were poured into each other's cylinder; the beaker cards say so."


def read_as(run: Run) -> list[float | None]:
    """Readings that a computation of the run starts from."""
    return [point.reading for point in gather(Run.objects.get(pk=run.pk)).readings]


def typed(values: dict[int, str]) -> list[float]:
    return [float(value) for value in values.values()]


def clay_pct(run: Run) -> float:
    result = result_in_force(run)
    assert result is not None
    assert result.distribution is not None
    assert result.distribution.fractions is not None
    return result.distribution.fractions.clay.value_pct


def exchanged(first: Run, second: Run, by: Any, **also: Any) -> Exchange:
    return rules.exchange(first, second, **({"reason": WHY} | also), by=by, at=timezone.now())


def test_an_exchange_of_whole_runs_gives_each_sample_the_others_figures(
    three: list[Run], qa_officer: Any, work_off: Any
) -> None:
    """Bench fault 59: both of the mixed-up samples get their own figures, though the batch is under review."""
    loam, _, clayey = three
    before = [clay_pct(run) for run in three]
    made = exchanged(loam, clayey, qa_officer)
    assert work_off() == 2
    assert [clay_pct(run) for run in three] == pytest.approx([before[2], before[1], before[0]])
    assert (made.by, made.reason) == (qa_officer, WHY)
    assert Reading.objects.filter(run=loam).count() == 4, "what was recorded at the cylinder stays with it"
    assert read_as(loam) == typed(CLAYEY_G_L)
    assert loam.readings.get(slot_s=30).reading == Decimal("26.5")


def test_rows_from_a_slot_on_are_exchanged_between_cylinders_that_stand_apart(
    three: list[Run], qa_officer: Any
) -> None:
    """Bench fault 59: a slipped row is one act, between any two cylinders and not only neighbours."""
    loam, _, clayey = three
    exchanged(loam, clayey, qa_officer, from_slot_s=5400)
    assert read_as(loam) == typed(factories.LOAM_G_L)[:2] + typed(CLAYEY_G_L)[2:]
    assert read_as(clayey) == typed(CLAYEY_G_L)[:2] + typed(factories.LOAM_G_L)[2:]


def test_one_reading_alone_is_exchanged(three: list[Run], qa_officer: Any) -> None:
    loam, sandy, _ = three
    made = exchanged(sandy, loam, qa_officer, from_slot_s=60, until_slot_s=60)
    assert made.what == "the reading at 60 s"
    assert read_as(loam) == [26.5, 16.0, 13.5, 10.0]
    assert read_as(sandy) == [19.5, 23.5, 8.5, 7.0]


def test_exchanges_follow_one_another_and_the_batch_is_gathered_the_same_way(
    three: list[Run], qa_officer: Any
) -> None:
    loam, sandy, clayey = three
    exchanged(loam, sandy, qa_officer)
    exchanged(loam, clayey, qa_officer)
    expected = [typed(CLAYEY_G_L), typed(factories.LOAM_G_L), typed(SANDY_G_L)]
    assert [read_as(run) for run in three] == expected
    together = gather_batch(Batch.objects.get(pk=loam.batch_id))
    assert [[p.reading for p in each.record.readings] for each in together] == expected
    assert all(each.complete for each in together)
    assert [each.record for each in together] == [gather(run) for run in three]


def test_undoing_is_another_act_and_the_figures_from_before_are_back(
    three: list[Run], qa_officer: Any, work_off: Any
) -> None:
    loam, _, clayey = three
    before = result_in_force(loam)
    made = exchanged(loam, clayey, qa_officer)
    work_off()
    assert result_in_force(loam) != before
    undone = rules.undo_exchange(
        made, reason="The cards were swapped, not the soil.", by=qa_officer, at=timezone.now()
    )
    assert (undone.exchange, undone.by) == (made, qa_officer)
    assert result_in_force(loam) == before
    assert ComputationRequest.objects.filter(state="asked").count() == 0
    with pytest.raises(AlreadyThere, match="undone already"):
        rules.undo_exchange(made, reason="Again.", by=qa_officer, at=timezone.now())
    assert Exchange.objects.count() == 1, "both acts stay"


def test_an_exchange_that_another_rests_on_is_undone_after_it(three: list[Run], qa_officer: Any) -> None:
    loam, sandy, clayey = three
    first, later = exchanged(loam, sandy, qa_officer), exchanged(sandy, clayey, qa_officer, from_slot_s=60)
    with pytest.raises(NotPossible, match="A later exchange rests on this one"):
        rules.undo_exchange(first, reason="No.", by=qa_officer, at=timezone.now())
    for made in (later, first):
        rules.undo_exchange(made, reason="No.", by=qa_officer, at=timezone.now())
    assert read_as(loam) == typed(factories.LOAM_G_L)


def test_the_same_exchange_sent_twice_is_one(three: list[Run], qa_officer: Any) -> None:
    """A second click would otherwise put everything back."""
    loam, _, clayey = three
    first = exchanged(loam, clayey, qa_officer)
    assert exchanged(clayey, loam, qa_officer) == first
    assert Exchange.objects.count() == 1


def test_whoever_exchanged_cannot_sign_and_somebody_else_can(
    three: list[Run], qa_officer: Any, second_officer: Any, work_off: Any
) -> None:
    """Bench faults 59 and 100: whoever put records right has worked in the batch."""
    batch = three[0].batch
    exchanged(three[0], three[2], qa_officer)
    work_off()
    with pytest.raises(NotThisPerson, match="somebody else must review"):
        approval.approve(batch, by=qa_officer, at=timezone.now(), secret=SECRET)
    signed = {"approved_by": qa_officer, "approved_at": timezone.now(), "approved_digest": "x"}
    with pytest.raises(DatabaseError, match="nobody approves a batch they worked in"), transaction.atomic():
        Batch.objects.filter(pk=batch.pk).update(state="approved", **signed)
    settle(batch, second_officer)
    approval.approve(batch, by=second_officer, at=timezone.now(), secret=SECRET)
    batch.refresh_from_db()
    assert batch.approved_by == second_officer


def test_what_cannot_be_exchanged_is_refused_with_the_reason(
    three: list[Run], qa_officer: Any, technician: Any
) -> None:
    loam, sandy, _ = three
    blank = loam.batch.blank
    refused: list[tuple[str, Run, Run, dict[str, Any]]] = [
        ("cannot be exchanged with itself", loam, loam, {}),
        ("45 s is not a time", loam, sandy, {"from_slot_s": 45}),
        ("60 s comes before 90 min", loam, sandy, {"from_slot_s": 5400, "until_slot_s": 60}),
        ("goes with a whole cylinder", loam, sandy, {"from_slot_s": 60, "with_sieve_masses": True}),
        ("Nothing is sieved of a blank", loam, blank, {"with_sieve_masses": True}),
        ("Say from which reading on", loam, sandy, {"until_slot_s": 60}),
        ("Say why", loam, sandy, {"reason": "  "}),
    ]
    for sentence, first, second, also in refused:
        with pytest.raises(NotPossible, match=sentence):
            exchanged(first, second, qa_officer, **also)
    with pytest.raises(NotThisPerson, match="the QA officer is"):
        exchanged(loam, sandy, technician)
    assert not Exchange.objects.exists()


def test_a_void_cylinder_takes_its_void_along(
    three: list[Run], technician: Any, qa_officer: Any, work_off: Any
) -> None:
    loam, sandy, _ = three
    batch = loam.batch
    approval.return_to_bench(batch, by=qa_officer, at=timezone.now(), reason="Was soil lost?")
    factories.stored(
        "void",
        technician,
        run=loam.pk,
        why=RunVoid.Why.SPILL,
        voided_at=timezone.now().isoformat(),
        note="Half.",
    )
    exchanged(loam, sandy, qa_officer)
    work_off()
    assert gather(Run.objects.get(pk=loam.pk)).void == ""
    assert gather(Run.objects.get(pk=sandy.pk)).void == "soil or liquid was lost (Half.)"
    assert result_in_force(sandy).certifiable is False


def test_what_stood_in_the_wrong_cylinder_was_also_washed_out_of_it(
    three: list[Run], technician: Any, qa_officer: Any, bench: Any
) -> None:
    """The sieved sand goes with a whole exchange when it is asked for, and only then; portion masses stay."""
    loam, sandy, _ = three
    approval.return_to_bench(loam.batch, by=qa_officer, at=timezone.now(), reason="Sieve the sand.")
    for run, washed, retained, pan in ((loam, "16.00", "15.50", "0.50"), (sandy, "26.00", "25.40", "0.60")):
        factories.stored(
            "sieve", technician, portion=run.portion_id, balance=bench.balance.pk, washed_sand_g=washed,
            pan_g=pan, sieve_1000_g="0", sieve_500_g="0", sieve_250_g="0", sieve_100_g="0", sieve_53_g=retained,
        )  # fmt: skip
    own = gather(loam)
    made = exchanged(loam, sandy, qa_officer)
    assert gather(loam).sieving == own.sieving
    rules.undo_exchange(made, reason="Also the sand.", by=qa_officer, at=timezone.now())
    exchanged(loam, sandy, qa_officer, with_sieve_masses=True)
    sieving = gather(loam).sieving
    assert sieving is not None
    assert sieving.washed_dry_mass_g == 26.0
    assert gather(loam).air_dry_mass_g == own.air_dry_mass_g


def test_a_reading_left_out_does_not_count_and_counts_again_when_that_is_lifted(
    three: list[Run], qa_officer: Any, work_off: Any
) -> None:
    loam = three[0]
    before = result_in_force(loam)
    [made] = rules.leave_out(loam, [60], reason="Foam at the stem.", by=qa_officer, at=timezone.now())
    assert read_as(loam) == [26.5, 13.5, 10.0]
    assert work_off() == 1
    result = result_in_force(loam)
    said = result.flags.get(code="reading_left_out")
    assert (said.severity, said.number) == ("note", 60.0)
    assert "left out by the QA officer" in said.sentence
    absent = [
        flag.sentence for flag in result.flags.filter(code="slots_absent") if "left out" in flag.sentence
    ]
    assert absent, "the record is not said to know nothing of it"
    [told] = [
        told.sentence
        for each in causes_of(loam.batch)
        for told in each.cause.told_by
        if (told.label, told.code) == (loam.title, "slots_absent")
    ]
    assert told == absent[0]
    rules.count_again(made, reason="It was at its neighbour.", by=qa_officer, at=timezone.now())
    assert result_in_force(loam) == before
    assert LeftOut.objects.count() == 1, "both acts stay"


def test_a_reading_of_the_blank_is_left_out_of_every_run(
    three: list[Run], qa_officer: Any, work_off: Any
) -> None:
    batch = three[0].batch
    rules.leave_out(batch.blank, [60], reason="Read in a hurry.", by=qa_officer, at=timezone.now())
    assert work_off() == 3
    for run in three:
        assert result_in_force(run).flags.filter(code="reading_left_out").exists()
        assert gather(run).readings[1].blank_number == 0, "the nearest that is left"


def test_a_reading_left_out_goes_with_its_cylinder(three: list[Run], qa_officer: Any) -> None:
    loam, sandy, _ = three
    rules.leave_out(loam, [60], reason="Foam.", by=qa_officer, at=timezone.now())
    exchanged(loam, sandy, qa_officer)
    assert read_as(loam) == typed(SANDY_G_L)
    assert read_as(sandy) == [26.5, 13.5, 10.0]
    assert arrangement_of(loam.batch).slots_left_out(sandy) == [60]
    rules.leave_out(loam, [30], reason="Foam there too.", by=qa_officer, at=timezone.now())
    assert LeftOut.objects.get(slot_s=30).run == sandy, "the cylinder at which it was read"


def test_what_cannot_be_left_out_is_refused(three: list[Run], qa_officer: Any, second_officer: Any) -> None:
    loam = three[0]
    rules.leave_out(loam, [60], reason="Foam.", by=qa_officer, at=timezone.now())
    assert len(rules.leave_out(loam, [60], reason="Foam.", by=qa_officer, at=timezone.now())) == 1
    assert LeftOut.objects.count() == 1, "sent twice it is one act"
    with pytest.raises(AlreadyThere, match="left out already"):
        rules.leave_out(loam, [60], reason="Roots.", by=second_officer, at=timezone.now())
    for slots, sentence in (
        ([45], "holds nothing at 45 s"),
        ([], "Say which"),
        ([30, 5400, 86400], "would be left"),
    ):
        with pytest.raises(NotPossible, match=sentence):
            rules.leave_out(loam, slots, reason="Foam.", by=qa_officer, at=timezone.now())
    assert LeftOut.objects.count() == 1


def test_a_wrong_mass_is_put_right_and_what_was_typed_stays(
    three: list[Run], qa_officer: Any, second_officer: Any, work_off: Any
) -> None:
    portion = three[0].portion
    before, before_it = clay_pct(three[0]), page_version(three[0].batch)

    def put_right(mass_g: str, by: Any = qa_officer, **also: Any) -> MassCorrection:
        said = {"reason": "The sheet says 50.00 g."} | also
        return rules.put_mass_right(
            portion, Purpose.PORTION, mass_g=Decimal(mass_g), **said, by=by, at=timezone.now()
        )

    made = put_right("50.00")
    work_off()
    assert gather(three[0]).air_dry_mass_g == 50.0
    assert clay_pct(three[0]) == pytest.approx(before * 40 / 50, rel=1e-3)
    assert portion.weighings.get(purpose="portion").mass_g == Decimal("40.00")
    assert put_right("50.00") == made
    with pytest.raises(NotPossible, match="lies outside"):
        put_right("0.4")
    with pytest.raises(
        AlreadyThere, match=r"Since this page was opened: .*mass correction.*Nothing was put right"
    ):
        put_right("45.00", second_officer, seen=before_it)
    again = put_right("45.00", second_officer, seen=page_version(portion.run.batch))
    assert again.supersedes == made
    with pytest.raises(NotPossible, match="on record already"):
        put_right("45.0", qa_officer)


def test_nothing_is_put_right_in_a_batch_that_is_signed_nor_by_the_database(
    submitted_batch: Any, qa_officer: Any, second_officer: Any
) -> None:
    """Bench fault 101."""
    run = submitted_batch.sample_runs.get()
    settle(submitted_batch, qa_officer)
    approval.approve(submitted_batch, by=qa_officer, at=timezone.now(), secret=SECRET)
    with pytest.raises(WrongState, match="nothing is put right"):
        rules.leave_out(run, [60], reason="Foam.", by=second_officer, at=timezone.now())
    with pytest.raises((IntegrityError, InternalError), match="nothing is put right"), transaction.atomic():
        LeftOut.objects.create(run=run, slot_s=60, reason="Foam.", by=second_officer, at=timezone.now())
    with pytest.raises((IntegrityError, InternalError), match="nothing is put right"), transaction.atomic():
        Exchange.objects.create(
            first=run, second=submitted_batch.blank, reason="Swap.", by=second_officer, at=timezone.now()
        )
