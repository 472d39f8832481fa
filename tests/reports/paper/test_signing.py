"""The signature inside a PDF: there, whole, by the laboratory, and broken by one flipped byte."""

from __future__ import annotations

import io
import shutil
import stat
import subprocess
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import time_machine
from asn1crypto.x509 import Certificate as Asn1Certificate
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding, pkcs12
from django.test import Client
from django.urls import reverse
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.validation import validate_pdf_signature
from pyhanko_certvalidator import ValidationContext

from reports.certificates.models import Certificate
from reports.paper.pdf import render_pdf
from reports.paper.seal import YEARS, SigningError, SigningKey, make_key, sign_pdf
from tests.conftest import SECRET
from tests.support.example_context import ONE_SAMPLE

LABORATORY = "Tarn Moor Soil Laboratory"


@pytest.fixture
def key(tmp_path: Path) -> SigningKey:
    return SigningKey(tmp_path / "home" / "key.p12")


@pytest.fixture(scope="session")
def page() -> bytes:
    return render_pdf(ONE_SAMPLE)


def _held(key: SigningKey) -> x509.Certificate:
    passphrase = key.passphrase.encode() or None
    _, certificate, _ = pkcs12.load_key_and_certificates(key.path.read_bytes(), passphrase)
    assert certificate is not None
    return certificate


def _status(content: bytes, key: SigningKey) -> Any:
    root = Asn1Certificate.load(_held(key).public_bytes(Encoding.DER))
    (signature,) = PdfFileReader(io.BytesIO(content)).embedded_signatures
    return validate_pdf_signature(signature, ValidationContext(trust_roots=[root]))


def test_the_whole_file_is_signed_and_may_not_be_changed(page: bytes, key: SigningKey) -> None:
    status = _status(sign_pdf(page, key, laboratory=LABORATORY).content, key)
    assert status.intact
    assert status.valid
    assert status.trusted
    assert status.bottom_line
    assert status.coverage.name == "ENTIRE_FILE"
    assert status.docmdp_ok


def test_one_flipped_byte_breaks_it(page: bytes, key: SigningKey) -> None:
    signed = bytearray(sign_pdf(page, key, laboratory=LABORATORY).content)
    signed[signed.index(b"stream") + 40] ^= 1
    status = _status(bytes(signed), key)
    assert not (status.intact and status.valid)


def test_the_signed_file_begins_with_the_page_and_keeps_its_tags(page: bytes, key: SigningKey) -> None:
    signed = sign_pdf(page, key, laboratory=LABORATORY).content
    assert signed.startswith(page)
    assert len(signed) - len(page) < 40_000
    root = PdfFileReader(io.BytesIO(signed)).root
    assert "/StructTreeRoot" in root
    assert bool(root["/MarkInfo"]["/Marked"])


def test_poppler_agrees(page: bytes, key: SigningKey, tmp_path: Path, require: Any) -> None:
    require("poppler", shutil.which("pdfsig") is not None)
    file = tmp_path / "signed.pdf"
    file.write_bytes(sign_pdf(page, key, laboratory=LABORATORY).content)
    done = subprocess.run(["pdfsig", file], capture_output=True, text=True, timeout=60)
    assert "Signature is Valid" in done.stdout
    assert "Total document signed" in done.stdout
    assert LABORATORY in done.stdout


def test_a_self_made_key_is_made_once_and_is_its_owners_only(page: bytes, key: SigningKey) -> None:
    first, second = (sign_pdf(page, key, laboratory=LABORATORY) for _ in range(2))
    assert first.key_sha256 == second.key_sha256
    assert stat.S_IMODE(key.path.stat().st_mode) == 0o600
    assert [each.name for each in key.path.parent.iterdir()] == ["key.p12"]


def test_two_processes_making_a_key_keep_one(key: SigningKey) -> None:
    make_key(key, LABORATORY)
    before = key.path.read_bytes()
    make_key(key, "Another laboratory")
    assert key.path.read_bytes() == before


def test_a_given_key_with_its_passphrase(page: bytes, tmp_path: Path) -> None:
    given = SigningKey(tmp_path / "given.p12", "open sesame", self_made=False)
    make_key(given, LABORATORY)
    assert _status(sign_pdf(page, given, laboratory=LABORATORY).content, given).bottom_line
    with pytest.raises(SigningError, match="does not open"):
        sign_pdf(page, SigningKey(given.path, "wrong", self_made=False), laboratory=LABORATORY)


def test_a_missing_given_key_is_not_replaced_by_a_self_made_one(page: bytes, tmp_path: Path) -> None:
    with pytest.raises(SigningError, match="There is no key at"):
        sign_pdf(page, SigningKey(tmp_path / "none.p12", self_made=False), laboratory=LABORATORY)
    assert not (tmp_path / "none.p12").exists()


def test_a_key_out_of_date_signs_nothing(page: bytes, key: SigningKey) -> None:
    make_key(key, LABORATORY)
    later = datetime.now(UTC) + timedelta(days=365 * YEARS + 2)
    with time_machine.travel(later), pytest.raises(SigningError, match="was good until"):
        sign_pdf(page, key, laboratory=LABORATORY)


def test_a_file_that_is_no_key(page: bytes, key: SigningKey) -> None:
    key.path.parent.mkdir()
    key.path.write_bytes(b"no key")
    with pytest.raises(SigningError, match="does not open"):
        sign_pdf(page, key, laboratory=LABORATORY)


def test_two_certificates_signed_at_once(page: bytes, key: SigningKey) -> None:
    """Web threads share the opened key."""
    make_key(key, LABORATORY)
    with ThreadPoolExecutor(4) as threads:
        signed = list(threads.map(lambda _: sign_pdf(page, key, laboratory=LABORATORY).content, range(8)))
    assert all(_status(content, key).bottom_line for content in signed)


@pytest.mark.django_db(transaction=True)
def test_an_issued_certificate_is_signed_and_tells_the_fingerprint(
    certificate: Any, certificate_key: Path, client: Any
) -> None:
    key = SigningKey(certificate_key)
    assert _status(bytes(certificate.pdf), key).bottom_line
    asked = {"code": certificate.check_code}
    shown = client.get(reverse("reports:check", args=[certificate.number]), asked).content.decode()
    assert certificate.key_sha256 in shown


@pytest.mark.django_db(transaction=True)
def test_without_its_key_nothing_is_issued_and_the_page_says_why(
    approved_job: Any, manager: Any, settings: Any
) -> None:
    settings.CERTIFICATE_KEY = "/nowhere/key.p12"
    browser, address = Client(), reverse("reports:issue", args=[approved_job.number])
    browser.force_login(manager)
    seen = browser.get(address).context["form"].initial["seen"]
    answer = browser.post(address, {"seen": seen, "secret": SECRET})
    assert answer.status_code == 409
    assert "There is no key at /nowhere/key.p12" in answer.content.decode()
    assert not Certificate.objects.exists()
    assert set(approved_job.samples.values_list("state", flat=True)) == {"approved"}
