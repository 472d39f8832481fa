"""A client from the log-in page to the paper and the file, and somebody else's client who finds nothing."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from reports.certificates.rules import issue_certificate
from tests.conftest import SECRET
from tests.support.approved import make_approved_job

pytestmark = pytest.mark.django_db(transaction=True)


def _log_in(name: str) -> Client:
    browser = Client()
    answer = browser.post(reverse("account_login"), {"login": name, "password": SECRET})
    assert answer.status_code == 302, answer.content.decode()
    return browser


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="Poppler is not installed here")
def test_a_client_follows_a_job_and_reads_one_number_on_paper_and_in_the_file(
    the_client: Any,
    clerk: Any,
    technician: Any,
    qa_officer: Any,
    manager: Any,
    bench: Any,
    work_off: Any,
    client_person: Any,
    stranger: Any,
) -> None:
    job = make_approved_job(the_client, clerk, technician, qa_officer, bench, work_off)
    carla, sam = _log_in(client_person.username), _log_in(stranger.username)

    assert carla.get("/").url == reverse("reports:my_jobs")
    waiting = carla.get(reverse("reports:my_job", args=[job.number])).content.decode()
    assert "Approved, certificate in preparation" in waiting
    assert "No certificate has been issued yet" in waiting

    number = issue_certificate(job, by=manager, at=timezone.now(), secret=SECRET).number
    listed = carla.get(reverse("reports:my_jobs")).content.decode()
    assert "Certificate issued" in listed
    assert number in listed

    pdf = carla.get(reverse("reports:download", args=[number, "pdf"])).content
    data = json.loads(carla.get(reverse("reports:download", args=[number, "json"])).content)
    done = subprocess.run(["pdftotext", "-layout", "-", "-"], input=pdf, capture_output=True, check=True)
    paper = " ".join(done.stdout.decode().split())
    page = carla.get(reverse("reports:certificate", args=[number])).content.decode()
    assert data["number"] == number
    assert f"Certificate {number}" in paper
    for row in data["samples"][0]["fractions"]:
        assert f"{row['value_pct']} {row['interval_pct']}" in paper
        share, interval = re.escape(str(row["value_pct"])), re.escape(str(row["interval_pct"]))
        assert re.search(rf'<td [^>]*class="number"[^>]*>{share}</td><td [^>]*>{interval}</td>', page)

    for name, arguments in (
        ("my_job", [job.number]),
        ("certificate", [number]),
        ("download", [number, "pdf"]),
        ("download", [number, "json"]),
        ("api_certificate", [number]),
    ):
        assert sam.get(reverse(f"reports:{name}", args=arguments)).status_code == 404, name
    assert job.number not in sam.get(reverse("reports:my_jobs")).content.decode()
