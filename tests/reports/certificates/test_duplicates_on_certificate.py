"""A duplicate's figures never reach a certificate; that the two portions lie apart does."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

import pytest
from django.utils import timezone

from batches.computing.models import result_in_force
from batches.quality.pairs import pair_of
from batches.review import rules as approval
from batches.review.signed import results_of
from particles.distribution import client_words
from particles.models import Laboratory
from reports.certificates.models import CertificateResult
from reports.certificates.rules import issue_certificate
from tests.conftest import SECRET
from tests.support import factories
from tests.support.approved import approve
from tests.support.reviewing import settle

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def issue(
    the_client: Any, clerk: Any, technician: Any, qa_officer: Any, manager: Any, bench: Any, work_off: Any
) -> Any:
    def made(off_g_l: float, note: str = "") -> Any:
        batch = factories.measured_pairs(the_client, clerk, technician, bench, off_g_l=[off_g_l])
        Laboratory.objects.update(invented=True)
        assert work_off() == 2
        job = batch.reported_runs.get().sample.job
        if not note:
            approve(batch, technician, qa_officer)
        else:
            _approve_apart(batch, technician, qa_officer, note)
        return issue_certificate(job, by=manager, at=timezone.now(), secret=SECRET)

    return made


def _approve_apart(batch: Any, technician: Any, qa_officer: Any, note: str) -> None:
    now = timezone.now()
    approval.submit(batch, by=technician, at=now)
    for run in batch.sample_runs:
        if run.is_duplicate:
            approval.review_pair(run, note=note, cause_found=False, by=qa_officer, at=now)
    settle(batch, qa_officer)
    approval.approve(batch, by=qa_officer, at=now, secret=SECRET)


def test_one_bag_is_one_sample_with_the_first_portions_figures(issue: Any) -> None:
    certificate = issue(0.5)
    (section,) = certificate.context["samples"]
    sample = certificate.job.samples.get()
    pair = pair_of(sample.portion.run)
    assert pair is not None
    first, duplicate = (r.distribution.fractions for r in (pair.first_result, pair.duplicate_result))
    assert section["clay_pct"] == first.clay.value_pct != duplicate.clay.value_pct
    assert section["attempt"] == 1
    assert results_of([sample]) == [pair.first_result]
    assert [row.result for row in CertificateResult.objects.all()] == [pair.first_result]
    assert client_words("duplicate_outside_limit") not in [row["title"] for row in section["qualifiers"]]


def test_neither_file_holds_a_figure_of_the_duplicate(issue: Any) -> None:
    certificate = issue(2.0, note="The bag is uneven.")
    duplicate = certificate.job.samples.get().portion.duplicate.run
    parts = result_in_force(duplicate).distribution.fractions
    read = json.loads(bytes(certificate.data_json))
    assert len(read["samples"]) == 1
    figures = {row["value_pct"] for row in read["samples"][0]["fractions"]}
    assert f"{parts.clay.value_pct:.0f}" not in figures
    assert f"{parts.sand.value_pct:.0f}" not in figures
    rows = list(csv.DictReader(io.StringIO(bytes(certificate.data_csv).decode("utf-8-sig"))))
    assert len([row for row in rows if row["kind"] == "fraction"]) == 3
    assert result_in_force(duplicate).inputs_digest not in bytes(certificate.data_json).decode()


def test_a_pair_beyond_its_limit_is_a_qualifier_of_the_sample(issue: Any) -> None:
    certificate = issue(2.0, note="The bag is uneven.")
    (section,) = certificate.context["samples"]
    (row,) = [row for row in section["qualifiers"] if row["title"] == client_words("duplicate_outside_limit")]
    assert row["severity"] == "warn"
    assert row["sentence"] == (
        "Two portions of this sample differ by 5.4 percentage points of sand; the repeatability limit is 4.2."
    )


def test_the_own_figure_stands_in_the_certificates_words(
    the_client: Any, clerk: Any, technician: Any, qa_officer: Any, manager: Any, bench: Any, work_off: Any
) -> None:
    Laboratory.objects.create(pk=1, name="Example", address="1 Lane", contact="-", invented=True)
    now = timezone.now()
    sample = factories.prepared(factories.job(the_client, clerk).samples.get(), technician)
    portion = factories.portion(sample, technician, bench)
    batch = factories.batch([portion], technician, bench, at=now, filled=False)
    # Bound when the soak begins, as from eight pairs.
    batch.transition(
        "soaking",
        by=technician,
        at=now,
        soak_started_at=now - timezone.timedelta(days=3),
        between_run_sd_pct="0.912",
        between_run_pairs=8,
    )
    batch.disperse(by=technician, at=now - timezone.timedelta(days=2, hours=1), mixing_minutes=5)
    for run in batch.runs.order_by("position"):
        values = factories.BLANK_G_L if run.is_blank else factories.LOAM_G_L
        factories.read_run(run, technician, values, started_at=now - timezone.timedelta(days=2))
    work_off()
    batch.refresh_from_db()
    job = approve(batch, technician, qa_officer)
    certificate = issue_certificate(job, by=manager, at=now, secret=SECRET)
    words = " ".join(certificate.context["method_statements"])
    assert "with 0.91 percentage points between runs (from the laboratory's duplicates, 8 pairs)" in words
