"""The index of models that Django looks for; each stands in its station."""

from reports.certificates.models import Certificate, CertificateResult, Download, Withdrawal

__all__ = ["Certificate", "CertificateResult", "Download", "Withdrawal"]
