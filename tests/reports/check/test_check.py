"""The page for anybody who holds the paper."""

from __future__ import annotations

from typing import Any

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from reports.certificates.forms import LARGEST_FILE

pytestmark = pytest.mark.django_db(transaction=True)


def _address(number: str) -> str:
    return reverse("reports:check", args=[number])


def _hides_the_data(page: str, certificate: Any) -> None:
    content = certificate.context
    sample = content["samples"][0]
    for hidden in (
        content["client_name"],
        content["job_number"],
        sample["client_label"],
        sample["lab_number"],
    ):
        assert hidden not in page
    for row in sample["fractions"]:
        assert row["interval_pct"] not in page


def test_number_and_code_say_genuine_and_current_without_showing_data(client: Any, certificate: Any) -> None:
    answer = client.get(certificate.context["check_url"].removeprefix(settings.PUBLIC_URL))
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "Genuine and current" in page
    _hides_the_data(page, certificate)


def test_a_replaced_paper_is_genuine_but_superseded(client: Any, certificate: Any, amended: Any) -> None:
    page = client.get(_address(certificate.number), {"code": certificate.check_code}).content.decode()
    assert f"Genuine, but superseded by {amended.number}" in page
    assert "Genuine and current" not in page
    _hides_the_data(page, certificate)
    newer = client.get(_address(amended.number), {"code": amended.check_code}).content.decode()
    assert "Genuine and current" in newer


def test_a_wrong_code_and_a_wrong_number_get_the_same_answer(client: Any, certificate: Any) -> None:
    wrong_code = client.get(_address(certificate.number), {"code": "000000000000"})
    wrong_number = client.get(_address("C00-0000"), {"code": certificate.check_code})
    assert (wrong_code.status_code, wrong_number.status_code) == (404, 404)
    same = wrong_number.content.decode().replace("C00-0000", certificate.number)
    assert wrong_code.content.decode() == same.replace(certificate.check_code, "000000000000")
    assert certificate.sha256 not in wrong_code.content.decode()


@pytest.mark.parametrize("code", ["é", "0" * 64, "' OR 1=1"])
def test_odd_codes_are_unknown(client: Any, certificate: Any, code: str) -> None:
    assert client.get(_address(certificate.number), {"code": code}).status_code == 404


def test_without_a_code_nothing_is_said(client: Any, certificate: Any) -> None:
    asked = client.get(_address(certificate.number))
    unknown = client.get(_address("C00-0000"))
    assert "Genuine" not in asked.content.decode()
    assert asked.content.decode() == unknown.content.decode().replace("C00-0000", certificate.number)
    assert client.get(_address(certificate.number), {"code": " "}).status_code == 422
    assert client.get(_address(certificate.number), {"code": "0" * 65}).status_code == 422


def _compare(client: Any, certificate: Any, content: bytes, code: str = "") -> Any:
    sent = {"code": code or certificate.check_code, "file": SimpleUploadedFile("a.pdf", content)}
    return client.post(_address(certificate.number), sent)


def test_the_issued_file_is_told_from_an_altered_one(client: Any, certificate: Any) -> None:
    issued = bytes(certificate.pdf)
    assert "These are the bytes we issued" in _compare(client, certificate, issued).content.decode()
    altered = _compare(client, certificate, issued + b"\n").content.decode()
    assert "The file is altered" in altered
    assert "These are the bytes we issued" not in altered


def test_a_file_is_compared_only_for_whoever_has_the_code(client: Any, certificate: Any) -> None:
    answer = _compare(client, certificate, bytes(certificate.pdf), code="000000000000")
    assert answer.status_code == 404
    assert "bytes we issued" not in answer.content.decode()


def test_empty_missing_and_too_large_files_are_refused(client: Any, certificate: Any) -> None:
    assert _compare(client, certificate, b"").status_code == 422
    missing = client.post(_address(certificate.number), {"code": certificate.check_code})
    assert missing.status_code == 422
    assert "Choose the PDF file." in missing.content.decode()
    slightly = _compare(client, certificate, bytes(LARGEST_FILE + 1))
    assert slightly.status_code == 422
    far = _compare(client, certificate, bytes(LARGEST_FILE + 100_000))
    assert far.status_code == 413


def test_whoever_comes_without_the_number_is_asked_for_it(client: Any, certificate: Any) -> None:
    assert "Number of the certificate" in client.get(reverse("reports:ask")).content.decode()
    typed = {"number": certificate.number, "code": certificate.check_code}
    answer = client.get(reverse("reports:ask"), typed, follow=True)
    assert "Genuine and current" in answer.content.decode()
    wrong = client.get(reverse("reports:ask"), {"number": "C26 0001?", "code": "x"})
    assert wrong.status_code == 422
    assert "letters, digits and hyphens only" in wrong.content.decode()
