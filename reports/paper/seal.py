"""
The laboratory's electronic signature inside a certificate's PDF: PAdES, no change allowed afterwards.

The page is PDF/A-2b and PDF/UA-1 before it is signed; the signature is invisible so that it disturbs neither. No
validator has seen the signed file. Without a key of its own a laboratory gets a self-made one: it shows that a file
is unaltered and from the same hand as the others, not whose hand that is.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from io import BytesIO
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import pkcs12
from cryptography.x509.oid import NameOID
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.sign import fields, signers

FIELD = "Laboratory"
YEARS = 20
"""For which a self-made key is good; certificates are kept long."""


class SigningError(ValueError):
    """The key cannot be used; the message says which and why."""


@dataclass(frozen=True, slots=True)
class SigningKey:
    """The place of the key (PKCS#12) and the passphrase that opens it."""

    path: Path
    passphrase: str = ""
    self_made: bool = True
    """Whether one may be made there when there is none."""


@dataclass(frozen=True, slots=True)
class SignedPdf:
    """A signed PDF, with the digest of the key that signed it."""

    content: bytes
    key_sha256: str
    """Of the signer's X.509 certificate, in hex: what a PDF reader shows as its fingerprint."""


def sign_pdf(page: bytes, key: SigningKey, *, laboratory: str) -> SignedPdf:
    """
    The page with the laboratory's signature over all of it.

    Raises
    ------
    SigningError : no key, a key that does not open, or one that is out of date.
    """
    if not key.path.exists():
        if not key.self_made:
            raise SigningError(f"There is no key at {key.path}. Put the PKCS#12 file there.")
        make_key(key, laboratory)
    signer, until, fingerprint = _signer(key, key.path.stat().st_mtime_ns)
    if until < datetime.now(UTC):
        raise SigningError(f"The key at {key.path} was good until {until:%-d %B %Y}. Get a new one.")
    metadata = signers.PdfSignatureMetadata(
        field_name=FIELD,
        md_algorithm="sha256",
        certify=True,
        docmdp_permissions=fields.MDPPerm.NO_CHANGES,
        subfilter=fields.SigSeedSubFilter.PADES,
        name=laboratory,
        reason="Certificate of analysis as issued",
    )
    signed = signers.PdfSigner(metadata, signer=signer).sign_pdf(IncrementalPdfFileWriter(BytesIO(page)))
    return SignedPdf(signed.getvalue(), fingerprint)


def make_key(key: SigningKey, laboratory: str) -> None:
    """A P-256 key with a certificate signed by itself, readable by its owner only; one already there stays."""
    private = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name(
        [
            x509.NameAttribute(NameOID.ORGANIZATION_NAME, laboratory[:64]),
            x509.NameAttribute(NameOID.COMMON_NAME, "Certificates of analysis"),
        ]
    )
    now = datetime.now(UTC)
    usage = dict.fromkeys(("key_encipherment", "data_encipherment", "key_agreement"), False)
    usage |= dict.fromkeys(("key_cert_sign", "crl_sign", "encipher_only", "decipher_only"), False)
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(private.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=365 * YEARS))
        .add_extension(x509.KeyUsage(digital_signature=True, content_commitment=True, **usage), critical=True)
        .sign(private, hashes.SHA256())
    )
    guard: serialization.KeySerializationEncryption = serialization.NoEncryption()
    if key.passphrase:
        guard = serialization.BestAvailableEncryption(key.passphrase.encode())
    content = pkcs12.serialize_key_and_certificates(b"siltbook", private, certificate, None, guard)
    key.path.parent.mkdir(parents=True, exist_ok=True)
    whole = key.path.with_suffix(f".{os.getpid()}")
    with os.fdopen(os.open(whole, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as file:
        file.write(content)
    try:
        # A link appears whole and never replaces a key that another process has just made.
        os.link(whole, key.path)
    except FileExistsError:
        pass
    finally:
        whole.unlink()


@lru_cache(maxsize=4)
def _signer(key: SigningKey, changed_ns: int) -> tuple[signers.SimpleSigner, datetime, str]:
    """The opened key, read once while its file stays as it is: (signer, good until, SHA-256 of its certificate)."""
    passphrase = key.passphrase.encode() or None
    try:
        held = pkcs12.load_key_and_certificates(key.path.read_bytes(), passphrase)
    except ValueError as error:
        raise SigningError(f"The key at {key.path} does not open: {error}.") from error
    _, certificate, _ = held
    if certificate is None:
        raise SigningError(f"The file at {key.path} holds no certificate beside its key.")
    signer = signers.SimpleSigner.load_pkcs12(str(key.path), passphrase=passphrase)
    if signer is None:
        raise SigningError(f"The key at {key.path} cannot sign.")
    return signer, certificate.not_valid_after_utc, certificate.fingerprint(hashes.SHA256()).hex()
