"""A round from its samples to the answers: hidden from the bench, locked before the report. All invented."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from batches.models import AssignedValue, Round, RoundLock, RoundSample, RoundSampleTakenBack, ScoreAnswer
from batches.proficiency import rules
from batches.proficiency.models import figures_digest
from particles.models import Portion
from particles.records.refusals import AlreadyThere, NotPossible, NotThisPerson, WrongState
from tests.support import approved, factories

pytestmark = pytest.mark.django_db(transaction=True)


def entered(link: RoundSample, by: Any, **typed: Any) -> AssignedValue:
    values = {
        "fraction": "clay",
        "value_pct": Decimal(20),
        "sigma_pt_pct": Decimal("1.5"),
        "uncertainty_pct": Decimal("0.2"),
        "participants_pct": [],
        "reason": "",
    } | typed
    return rules.enter_assigned(link, by=by, at=timezone.now(), **values)


def test_fault_110_nobody_who_weighs_or_reads_sees_which_samples_are_of_a_round(
    the_round: Round,
    links: Any,
    technician: Any,
    clerk: Any,
    custodian: Any,
    client_person: Any,
    as_person: Any,
) -> None:
    """Bench fault 110: a round sample known to the bench is treated specially."""
    sample = links[0].sample
    portion = sample.portion
    batch = portion.run.batch
    for person in (technician, clerk, custodian, client_person):
        client = as_person(person)
        assert client.get("/rounds/").status_code == 403
        assert client.get(f"/rounds/{the_round.pk}/").status_code == 403
    client = as_person(technician)
    for address in (
        "/batches/",
        f"/batches/{batch.number}/",
        f"/batches/{batch.number}/bench/",
        f"/batches/{batch.number}/bench/state/",
        f"/batches/{batch.number}/paper/",
        f"/runs/{portion.run.pk}/",
        f"/samples/{sample.lab_number}/weigh/",
        f"/samples/{sample.lab_number}/prepare/",
        f"/samples/{sample.lab_number}/pretreatment/",
        f"/portions/{portion.code}/weigh/",
        f"/portions/{portion.code}/sieve/",
        "/preparation/",
        "/weighing/",
    ):
        answer = client.get(address)
        assert answer.status_code == 200, address
        shown = answer.content.decode()
        for told in (the_round.provider_code, "ounds/", "roficiency", "round sample"):
            assert told not in shown, (address, told)


def test_fault_110_a_qa_officer_who_also_reads_is_kept_out_too(
    the_round: Round, qa_officer: Any, as_person: Any, signed_job: Any
) -> None:
    """Bench fault 110: a role at the bench shuts the page, whatever other role somebody has."""
    qa_officer.roles = [*qa_officer.roles, "technician"]
    qa_officer.save()
    client = as_person(qa_officer)
    for address in ("/rounds/", f"/rounds/{the_round.pk}/"):
        refused = client.get(address)
        assert refused.status_code == 403
        assert "weighs or reads here" in refused.content.decode()
        assert the_round.provider_code not in refused.content.decode()
    both = type(qa_officer).objects.get(pk=qa_officer.pk)
    now = timezone.now()
    with pytest.raises(NotThisPerson):
        rules.add_sample(the_round, sample=signed_job.samples.first(), item="A", by=both, at=now)
    with pytest.raises(NotThisPerson):
        rules.open_round(provider_code="X", closes_on=timezone.localdate(), note="", by=both, at=now)
    with pytest.raises(NotThisPerson):
        rules.lock_results(the_round, by=both, at=now)


def test_fault_110_results_are_locked_before_the_report_and_never_changed(
    the_round: Round, links: Any, qa_officer: Any
) -> None:
    """Bench fault 110: lock the result before the report; the database holds the order."""
    with pytest.raises(WrongState, match="Lock the results of round PT-26-2 first"):
        entered(links[0], qa_officer)
    lock = rules.lock_results(the_round, by=qa_officer, at=timezone.now())
    assert (lock.is_unaltered, lock.digest) == (True, figures_digest(lock.figures))
    signed, without = lock.figures
    assert signed["lab_number"] == links[0].sample.lab_number
    assert set(signed["figures"]) == {"sand", "silt", "clay"}
    in_force = links[0].sample.portion.run.results.get().distribution.fractions.clay
    assert signed["figures"]["clay"] == {
        "value_pct": in_force.value_pct,
        "standard_uncertainty_pct": in_force.standard_uncertainty_pct,
    }
    assert (without["figures"], without["without_figures"]) == ({}, approved.WHY_WITHOUT)
    with pytest.raises(WrongState, match="were locked by"):
        rules.lock_results(the_round, by=qa_officer, at=timezone.now())
    with pytest.raises(WrongState, match="nothing joins or leaves"):
        rules.take_back(links[0], reason="Another.", by=qa_officer, at=timezone.now())


def test_fault_110_the_database_refuses_scores_without_a_lock_and_changes_after_it(
    the_round: Round, links: Any, qa_officer: Any
) -> None:
    """Bench fault 110: triggers, whatever the program does."""

    def refused(statement: str, *values: Any) -> str:
        with pytest.raises(DatabaseError) as caught, transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement, values)
        return str(caught.value)

    now = timezone.now()
    another = rules.open_round(provider_code="PT-26-3", closes_on=now.date(), note="", by=qa_officer, at=now)
    lock_row = "INSERT INTO batches_roundlock (round_id, figures, digest, by_id, at) VALUES (%s, '[]', 'x', %s, now())"
    assert "without samples has nothing to lock" in refused(lock_row, another.pk, qa_officer.pk)
    value = (
        "INSERT INTO batches_assignedvalue (lock_id, link_id, fraction, attempt, value_pct, sigma_pt_pct,"
        " uncertainty_pct, participants_pct, reason, by_id, at)"
        " VALUES (%s, %s, 'clay', 1, 20, 1.5, 0, '{}', '', %s, now())"
    )
    no = "no assigned value before the results of its round are locked"
    assert no in refused(value, None, links[0].pk, qa_officer.pk)
    lock = rules.lock_results(the_round, by=qa_officer, at=now)
    with transaction.atomic():
        sample = links[1].sample
        job = factories.job(sample.job.client, qa_officer, samples=1)
        other = rules.add_sample(another, sample=job.samples.get(), item="C", by=qa_officer, at=now)
    assert no in refused(value, lock.pk, other.pk, qa_officer.pk), "a lock of another round is none"
    never = "Cannot update or delete"
    assert never in refused("UPDATE batches_roundlock SET figures = '[]'")
    assert never in refused("DELETE FROM batches_roundlock")
    kept = entered(links[0], qa_officer)
    assert never in refused("UPDATE batches_assignedvalue SET value_pct = 22")
    join = "INSERT INTO batches_roundsample (round_id, sample_id, item, by_id, at) VALUES (%s, %s, 'D', %s, now())"
    assert "are locked" in refused(join, the_round.pk, job.samples.get().pk, qa_officer.pk)
    back = "INSERT INTO batches_roundsampletakenback (link_id, reason, by_id, at) VALUES (%s, 'x', %s, now())"
    assert "are locked" in refused(back, links[1].pk, qa_officer.pk)
    assert kept.lock == lock


def test_fault_99_every_attempt_at_a_round_sample_is_locked_with_its_reason_and_shown(
    the_round: Round,
    links: Any,
    qa_officer: Any,
    manager: Any,
    technician: Any,
    bench: Any,
    as_person: Any,
    work_off: Any,
) -> None:
    """Bench fault 99: analysed again until it fits; attempts are counted and their reasons shown beside the result."""
    sample = links[0].sample
    sample.analyse_again(by=manager, at=timezone.now(), reason="The officer hoped for more.")
    with pytest.raises(NotPossible, match="Results are locked once every sample is approved"):
        rules.lock_results(the_round, by=qa_officer, at=timezone.now())
    factories.portion(sample, technician, bench, reason="The officer hoped for more.")
    attempts = Portion.objects.filter(sample=sample, duplicate_of__isnull=True)
    assert attempts.count() == 2
    batch = factories.batch([attempts.last()], technician, bench, at=timezone.now() - timedelta(days=3))
    for run in batch.runs.order_by("position"):
        values = factories.BLANK_G_L if run.is_blank else factories.LOAM_G_L
        factories.read_run(run, technician, values, started_at=timezone.now() - timedelta(days=2))
    batch.refresh_from_db()
    work_off()
    approved.approve(batch, technician, qa_officer)
    lock = rules.lock_results(the_round, by=qa_officer, at=timezone.now())
    assert [each["attempt"] for each in lock.figures[0]["attempts"]] == [1, 2]
    shown = as_person(manager).get(f"/rounds/{the_round.pk}/").content.decode()
    assert "2 attempts" in shown
    assert "attempt 2 (The officer hoped for more.)" in shown


def test_scores_come_from_what_was_locked_whatever_is_found_later(
    lock: RoundLock, links: Any, qa_officer: Any
) -> None:
    figure = lock.figures[0]["figures"]["clay"]
    kept = entered(links[0], qa_officer)
    found = rules.scores_of(kept)
    assert found.z == pytest.approx((figure["value_pct"] - 20) / 1.5)
    assert found.zeta == pytest.approx(
        (figure["value_pct"] - 20) / (figure["standard_uncertainty_pct"] ** 2 + 0.04) ** 0.5
    )
    with pytest.raises(NotPossible, match="locked without figures: there is no clay to score"):
        entered(links[1], qa_officer)


def test_a_figure_of_the_report_is_corrected_with_a_reason_and_both_stay(
    lock: RoundLock, links: Any, qa_officer: Any
) -> None:
    first = entered(links[0], qa_officer)
    with pytest.raises(AlreadyThere, match="To correct it, say why"):
        entered(links[0], qa_officer, value_pct=Decimal(21))
    second = entered(links[0], qa_officer, value_pct=Decimal(21), reason="Read the line of sand.")
    assert (first.attempt, second.attempt, AssignedValue.objects.count()) == (1, 2, 2)
    words = "Readings and masses looked at, nothing found."
    with pytest.raises(WrongState, match="has corrected the report meanwhile"):
        rules.answer(first, cause=words, action=words, by=qa_officer, at=timezone.now())


def test_a_score_off_asks_for_an_answer_in_words_and_a_good_one_for_none(
    lock: RoundLock, links: Any, qa_officer: Any
) -> None:
    now, clay = timezone.now(), lock.figures[0]["figures"]["clay"]["value_pct"]
    off = entered(links[0], qa_officer, value_pct=Decimal(str(round(clay - 10, 2))))
    good = entered(links[0], qa_officer, fraction="sand", value_pct=Decimal(str(round(
        lock.figures[0]["figures"]["sand"]["value_pct"], 2))))  # fmt: skip
    words = {
        "cause": "Blank, masses and readings were looked at.",
        "action": "Tomas reads with a second person.",
    }
    with pytest.raises(NotPossible, match="nothing asks for an answer"):
        rules.answer(good, **words, by=qa_officer, at=now)
    with pytest.raises(NotPossible, match="Say in a sentence what was looked at"):
        rules.answer(off, cause="ok", action=words["action"], by=qa_officer, at=now)
    with pytest.raises(NotPossible, match="Say in a sentence what is done"):
        rules.answer(off, cause=words["cause"], action="ok ok ok", by=qa_officer, at=now)
    rules.answer(off, **words, by=qa_officer, at=now)
    with pytest.raises(AlreadyThere):
        rules.answer(off, **words, by=qa_officer, at=now)
    assert ScoreAnswer.objects.get().by == qa_officer


def test_a_sample_put_in_by_mistake_is_taken_back_and_both_rows_stay(
    the_round: Round, links: Any, qa_officer: Any
) -> None:
    now = timezone.now()
    with pytest.raises(AlreadyThere, match="is A of round PT-26-2 already"):
        rules.add_sample(the_round, sample=links[0].sample, item="C", by=qa_officer, at=now)
    with pytest.raises(AlreadyThere, match="a of round PT-26-2 is another sample already"):
        rules.add_sample(the_round, sample=the_round.samples.model.objects.none() or factories.job(
            links[0].sample.job.client, qa_officer).samples.get(), item="a", by=qa_officer, at=now)  # fmt: skip
    with pytest.raises(NotPossible, match="Say why"):
        rules.take_back(links[1], reason=" ", by=qa_officer, at=now)
    rules.take_back(links[1], reason="The other bag.", by=qa_officer, at=now)
    with pytest.raises(AlreadyThere, match="was taken back already"):
        rules.take_back(RoundSample.objects.get(pk=links[1].pk), reason="Again.", by=qa_officer, at=now)
    assert [each.item for each in rules.standing(the_round)] == ["A"]
    rules.add_sample(the_round, sample=links[1].sample, item="B", by=qa_officer, at=now)
    assert (RoundSample.objects.count(), RoundSampleTakenBack.objects.count()) == (3, 1)


def test_an_empty_round_has_nothing_to_lock(the_round: Round, qa_officer: Any) -> None:
    with pytest.raises(NotPossible, match="holds no sample"):
        rules.lock_results(the_round, by=qa_officer, at=timezone.now())
    with pytest.raises(AlreadyThere, match="Round pt-26-2 is there already"):
        rules.open_round(
            provider_code="pt-26-2", closes_on=the_round.closes_on, note="", by=qa_officer, at=timezone.now()
        )
