"""A sample that is on the certificate without figures is not said to be done like the others."""

from __future__ import annotations

from typing import Any

import pytest

from reports.certificates.models import Certificate


@pytest.mark.django_db(transaction=True)
def test_a_sample_without_figures_is_called_so_and_is_not_green(
    client: Any, certificate: Certificate, client_person: Any
) -> None:
    client.force_login(client_person)
    page = client.get(f"/my/{certificate.job.number}/")
    first, second = page.context["samples"]
    assert (first["words"], first["kind"]) == ("on the certificate", "done")
    assert (second["words"], second["kind"]) == ("on the certificate, without figures", "none")
    assert "on the certificate, without figures" in page.content.decode()
