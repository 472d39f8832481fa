"""The issued file read back: what the laboratory approved is what the paper says."""

from __future__ import annotations

import csv
import io
import json
import os
import shutil
import subprocess
from typing import Any

import pytest
from django.test import Client

from batches.models import Flag, RunDecision
from particles.distribution import CATALOGUE
from particles.distribution.explained.notes import UNCONFIRMED
from reports.content.build import WITHOUT_FIGURES
from reports.content.effects import REMARKS, WORKED_OUT
from reports.content.reasons import NEXT, why_no_figures
from tests.support.approved import WHY_WITHOUT

NO_POPPLER = shutil.which("pdftotext") is None and "CI" not in os.environ
OF_THE_RUN = {WORKED_OUT, *(title for _, title, _ in REMARKS)}
"""Names of what a run says of how its figures came about."""
pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(NO_POPPLER, reason="Poppler is not installed here; on CI it has to be"),
]


def _text(page_bytes: bytes) -> str:
    command = ["pdftotext", "-layout", "-", "-"]
    done = subprocess.run(command, input=page_bytes, capture_output=True, check=True, timeout=60)
    return " ".join(done.stdout.decode().split())


def test_paper_and_files_carry_the_same_number_figures_class_and_reasons(certificate: Any) -> None:
    text = _text(bytes(certificate.pdf))
    data = json.loads(bytes(certificate.data_json))
    rows = list(csv.DictReader(io.StringIO(bytes(certificate.data_csv).decode("utf-8-sig"))))
    assert certificate.number in text
    assert data["number"] == certificate.number
    assert {row["certificate_number"] for row in rows} == {certificate.number}
    assert certificate.check_code in text
    reported, without = data["samples"]
    result = certificate.results.get(run__portion__sample__lab_number=reported["lab_number"])
    values = {row["name"]: row for row in reported["fractions"]}
    for name, row in values.items():
        exact = getattr(result.distribution.fractions, name).value_pct
        assert abs(float(row["value_pct"]) - exact) < 1
        assert f"{row['value_pct']} {row['interval_pct']}" in text
        assert row["limits"] in text
    assert sum(int(row["value_pct"]) for row in values.values()) == 100
    assert reported["texture_class"] == result.distribution.texture.name
    assert reported["texture_class"] in text
    assert without["fractions"] == []
    (why,) = [row["sentence"] for row in without["qualifiers"] if row["title"] == WITHOUT_FIGURES]
    assert why == why_no_figures([])
    assert why in text


def test_what_a_reviewer_notes_for_the_laboratory_stays_in_it(
    certificate: Any, manager: Any, client: Client
) -> None:
    assert RunDecision.objects.get(choice="without figures").note == WHY_WITHOUT, "kept on record"
    client.force_login(manager)
    page = client.get(f"/certificates/{certificate.number}/").content.decode()
    files = bytes(certificate.data_json).decode(), bytes(certificate.data_csv).decode("utf-8-sig")
    for shown in (_text(bytes(certificate.pdf)), page, *files):
        assert "clumped in the first hour" not in shown
        assert NEXT in shown


def test_limits_and_classes_are_drawn(certificate: Any) -> None:
    text = _text(bytes(certificate.pdf))
    for limit in ("clay | silt 2 µm", "silt | sand 50 µm"):
        assert limit in text
    for name in ("clay loam", "silty clay", "silt loam"):
        assert name in text


def test_what_all_printed_figures_share_stands_once(certificate: Any) -> None:
    """Also beside a sample without figures, which says less of how its own came about."""
    text = _text(bytes(certificate.pdf))
    assert text.count("Monte Carlo draws over reading") == 1
    remarks = [
        row for s in certificate.context["samples"] for row in s["qualifiers"] if row["title"] in OF_THE_RUN
    ]
    assert remarks == []


def test_no_code_of_the_program_leaves_the_laboratory(certificate: Any, manager: Any, client: Client) -> None:
    assert Flag.objects.exists(), "a certificate without a flag proves nothing"
    client.force_login(manager)
    page = client.get(f"/certificates/{certificate.number}/").content.decode()
    files = bytes(certificate.data_json).decode(), bytes(certificate.data_csv).decode("utf-8-sig")
    for shown in (_text(bytes(certificate.pdf)), page, *files):
        assert not [code for code in CATALOGUE if "_" in code and code in shown]
    titles = {row["title"] for s in certificate.context["samples"] for row in s["qualifiers"]}
    assert titles
    assert titles <= {row.client for row in CATALOGUE.values()} | OF_THE_RUN | {WITHOUT_FIGURES}


def test_nothing_remembered_stands_on_a_certificate(certificate: Any) -> None:
    text = _text(bytes(certificate.pdf))
    assert "checked against IAPWS" in text
    for shown in (
        text,
        bytes(certificate.data_json).decode(),
        bytes(certificate.data_csv).decode("utf-8-sig"),
    ):
        assert "from memory" not in shown
        assert UNCONFIRMED not in shown
