"""After issue: a certificate is replaced by one that says what changed, or withdrawn; it never changes."""

from __future__ import annotations

import shutil
import subprocess
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict
from typing import Any

import pytest
from django.db import ProgrammingError, connection, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from batches.computing.models import result_in_force
from particles.corrections.rules import correct_facts
from particles.models import Sample
from particles.records.refusals import AlreadyThere, NotPossible, NotThisPerson
from reports.certificates.models import Certificate, Withdrawal
from reports.certificates.rules import amend_certificate, withdraw_certificate
from reports.content.changes import changes_between
from tests.conftest import SECRET
from tests.support import factories
from tests.support.approved import approve
from tests.support.example_context import ONE_SAMPLE

pytestmark = pytest.mark.django_db(transaction=True)
WHY = "The client had two fields of this name."


def _browser(person: Any) -> Client:
    browser = Client()
    browser.force_login(person)
    return browser


def _first_sample(certificate: Any) -> Sample:
    return Sample.objects.get(lab_number=certificate.context["samples"][0]["lab_number"])


def _relabelled(certificate: Any, clerk: Any, label: str = "Field 1 north") -> Sample:
    sample = _first_sample(certificate)
    correct_facts(sample, by=clerk, at=timezone.now(), reason="their letter", client_label=label)
    return sample


def _amended(certificate: Any, person: Any, why: str = WHY) -> Certificate:
    return amend_certificate(certificate, why=why, by=person, at=timezone.now(), secret=SECRET)


def _checked(certificate: Any) -> str:
    page = Client().get(reverse("reports:check", args=[certificate.number]), {"code": certificate.check_code})
    return page.content.decode()


def test_a_corrected_label_makes_a_new_certificate_that_says_so(
    certificate: Any, manager: Any, clerk: Any
) -> None:
    sample, before = _relabelled(certificate, clerk), bytes(certificate.pdf)
    browser, address = _browser(manager), reverse("reports:amend", args=[certificate.number])
    draft = browser.get(address, {"why": WHY})
    said = f"Sample {sample.lab_number}: label was Field 1, is Field 1 north. Why: {WHY}"
    assert said in draft.content.decode()
    assert Certificate.objects.count() == 1
    signed = {"why": WHY, "seen": draft.context["form"].initial["seen"], "secret": SECRET}
    answer = browser.post(address, signed)
    made = Certificate.objects.get(revision=1)
    assert answer.url == reverse("reports:certificate", args=[made.number])
    assert (made.number, made.replaces, made.issued_by) == (f"{certificate.number}-1", certificate, manager)
    assert made.context["what_changed"] == said
    assert made.check_code != certificate.check_code
    certificate.refresh_from_db()
    assert bytes(certificate.pdf) == before
    assert f"superseded by {made.number}" in _checked(certificate)
    assert "Genuine and current" in _checked(made)
    assert set(made.results.all()) == set(certificate.results.all())


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="Poppler is not installed here")
def test_the_paper_names_what_it_replaces_and_why(certificate: Any, manager: Any, clerk: Any) -> None:
    _relabelled(certificate, clerk)
    made = _amended(certificate, manager)
    command = ["pdftotext", "-layout", "-", "-"]
    done = subprocess.run(command, input=bytes(made.pdf), capture_output=True, check=True, timeout=60)
    text = " ".join(done.stdout.decode().split())
    assert f"Replaces certificate {certificate.number}." in text
    assert f"{made.number}, revision 1" in text
    assert WHY in text


def test_a_sample_analysed_again_changes_the_figures_and_only_its_own(
    certificate: Any, manager: Any, technician: Any, qa_officer: Any, bench: Any, work_off: Any
) -> None:
    sample = _first_sample(certificate)
    other = certificate.results.exclude(run__portion__sample=sample).get()
    answer = _browser(qa_officer).post(
        reverse("reports:again", args=[sample.lab_number]), {"why": "The client doubts the clay."}
    )
    assert answer.status_code == 302
    with pytest.raises(NotPossible, match="is “prepared”"):
        _amended(certificate, manager)
    assert "Genuine and current" in _checked(certificate)
    sample.refresh_from_db()
    more_clay = {30: "30.5", 60: "28.5", 5400: "20.5", 86400: "17.0"}
    taken = factories.portion(sample, technician, bench, reason="The client doubts the clay.")
    batch = factories.measured([taken], technician, bench, values_g_l=more_clay)
    assert work_off() == 1
    approve(batch, technician, qa_officer)
    listed = _browser(manager).get(reverse("reports:certificates")).content.decode()
    assert f"amend {certificate.number}" in listed
    made = _amended(certificate, manager, why="Analysed again after the client's doubt.")
    was, now = (each.context["samples"][0] for each in (certificate, made))
    assert now["attempt"] == 2
    clay_was, clay_now = (
        next(row for row in section["fractions"] if row["name"] == "clay") for section in (was, now)
    )
    assert int(clay_now["value_pct"]) > int(clay_was["value_pct"]) + 10
    said = f"clay was {clay_was['value_pct']} % ({clay_was['interval_pct']}), is {clay_now['value_pct']} %"
    assert said in made.context["what_changed"]
    assert f"sample {other.run.portion.sample.lab_number}" not in made.context["what_changed"].lower()
    assert made.results.get(run__portion=taken) == result_in_force(batch.sample_runs.get())
    assert made.results.filter(pk=other.pk).exists()
    assert set(Sample.objects.values_list("state", flat=True)) == {"reported"}
    assert (
        f"amend {certificate.number}"
        not in _browser(manager).get(reverse("reports:certificates")).content.decode()
    )


def test_nothing_changed_nothing_to_amend(certificate: Any, manager: Any) -> None:
    answer = _browser(manager).get(reverse("reports:amend", args=[certificate.number]), {"why": WHY})
    assert answer.status_code == 409
    assert "would say the same" in answer.content.decode()
    with pytest.raises(NotPossible, match="would say the same"):
        _amended(certificate, manager)


def test_a_new_engine_alone_changes_nothing_a_reader_sees(
    certificate: Any, manager: Any, new_engine: Any
) -> None:
    new_engine()
    with pytest.raises(NotPossible, match="would say the same"):
        _amended(certificate, manager)


def test_a_replaced_certificate_is_neither_amended_nor_withdrawn(
    certificate: Any, manager: Any, clerk: Any
) -> None:
    _relabelled(certificate, clerk)
    made = _amended(certificate, manager)
    _relabelled(certificate, clerk, "Field 1 south")
    with pytest.raises(AlreadyThere, match=f"replaced by {made.number}"):
        _amended(certificate, manager)
    with pytest.raises(AlreadyThere, match=f"replaced by {made.number}"):
        withdraw_certificate(certificate, why=WHY, by=manager, at=timezone.now(), secret=SECRET)
    assert _amended(made, manager).number == f"{certificate.number}-2"


def test_two_people_amend_at_once_and_one_does(
    certificate: Any, manager: Any, qa_officer: Any, clerk: Any
) -> None:
    _relabelled(certificate, clerk)

    def go(person: Any) -> str:
        try:
            return _amended(Certificate.objects.get(pk=certificate.pk), person).number
        except AlreadyThere as refusal:
            return str(refusal)
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as both:
        answers = sorted(both.map(go, (manager, qa_officer)))
    assert Certificate.objects.count() == 2
    assert f"{certificate.number}-1" in answers
    assert any("was replaced by" in answer for answer in answers)


def test_changed_while_it_was_read(certificate: Any, manager: Any, clerk: Any) -> None:
    _relabelled(certificate, clerk)
    browser, address = _browser(manager), reverse("reports:amend", args=[certificate.number])
    seen = browser.get(address, {"why": WHY}).context["form"].initial["seen"]
    _relabelled(certificate, clerk, "Field 1 south")
    answer = browser.post(address, {"why": WHY, "seen": seen, "secret": SECRET})
    assert answer.status_code == 409
    assert Certificate.objects.count() == 1


@pytest.mark.parametrize("act", ["amend", "withdraw"])
def test_without_reason_or_password_nothing_is_signed(
    certificate: Any, manager: Any, clerk: Any, act: str
) -> None:
    _relabelled(certificate, clerk)
    browser, address = _browser(manager), reverse(f"reports:{act}", args=[certificate.number])
    assert browser.post(address, {"why": "", "secret": SECRET, "seen": "x"}).status_code == 422
    seen = {}
    if act == "amend":
        seen = {"seen": browser.get(address, {"why": WHY}).context["form"].initial["seen"]}
    assert browser.post(address, {"why": WHY, "secret": "another's"} | seen).status_code == 409
    assert (Certificate.objects.count(), Withdrawal.objects.count()) == (1, 0)


def test_people_without_the_authority(certificate: Any, technician: Any) -> None:
    for act in (amend_certificate, withdraw_certificate):
        with pytest.raises(NotThisPerson):
            act(certificate, why=WHY, by=technician, at=timezone.now(), secret=SECRET)


def test_a_withdrawn_certificate_says_so_everywhere_and_stays_as_issued(
    certificate: Any, manager: Any, client_person: Any
) -> None:
    before = bytes(certificate.pdf)
    browser, address = _browser(manager), reverse("reports:withdraw", args=[certificate.number])
    assert browser.post(address, {"why": "Wrong bag.", "secret": SECRET}).status_code == 302
    assert "Genuine, but withdrawn" in _checked(certificate)
    assert "Wrong bag." not in _checked(certificate)
    reader = _browser(client_person)
    page = reader.get(reverse("reports:certificate", args=[certificate.number])).content.decode()
    assert "Do not rely on this certificate" in page
    assert "Wrong bag." in page
    assert "withdrawn" in reader.get(reverse("reports:my_jobs")).content.decode()
    assert (
        "withdrawn" in reader.get(reverse("reports:my_job", args=[certificate.job.number])).content.decode()
    )
    listed = reader.get(reverse("reports:api_certificates")).json()["results"]
    assert listed[0]["withdrawn_at"] is not None
    again = browser.post(address, {"why": "Wrong bag.", "secret": SECRET})
    assert again.status_code == 409
    assert "was withdrawn on" in again.content.decode()
    certificate.refresh_from_db()
    assert bytes(certificate.pdf) == before
    with pytest.raises(ProgrammingError), transaction.atomic():
        Withdrawal.objects.update(reason="none")


def test_a_withdrawn_one_may_still_be_replaced(certificate: Any, manager: Any, clerk: Any) -> None:
    withdraw_certificate(certificate, why="Wrong label.", by=manager, at=timezone.now(), secret=SECRET)
    _relabelled(certificate, clerk)
    made = _amended(certificate, manager)
    assert f"superseded by {made.number}" in _checked(certificate)


@pytest.mark.parametrize("state", ["prepared", "in batch"])
def test_only_what_was_approved_is_analysed_again(
    the_client: Any, clerk: Any, technician: Any, qa_officer: Any, bench: Any, state: str
) -> None:
    sample = factories.prepared(factories.job(the_client, clerk).samples.get(), technician)
    if state == "in batch":
        factories.batch([factories.portion(sample, technician, bench)], technician, bench, at=timezone.now())
    answer = _browser(qa_officer).post(reverse("reports:again", args=[sample.lab_number]), {"why": "x"})
    assert answer.status_code == 409
    assert f"is “{state}”" in answer.content.decode()


def test_differences_are_named_in_the_order_of_the_page() -> None:
    before = asdict(ONE_SAMPLE)
    after = asdict(ONE_SAMPLE)
    assert changes_between(before, after) == []
    section = after["samples"][0]
    after["client_name"] = "Other Estate (invented)"
    after["deviations"] = ("Soaked for 9 h.",)
    section["depth"] = "0-30 cm"
    section["qualifiers"] = ({"title": "x", "severity": "warn", "sentence": "Read late."},)
    section["engine_version"], section["seed"], after["check_code"] = "9", 9, "z"
    number, was = section["lab_number"], before["samples"][0]
    assert changes_between(before, after) == [
        f"client name was {before['client_name']}, is Other Estate (invented)",
        "deviations changed",
        f"sample {number}: depth was {was['depth']}, is 0-30 cm",
        f"sample {number}: added “Read late.”",
        *(f"sample {number}: left out “{row['sentence']}”" for row in was["qualifiers"]),
    ]
