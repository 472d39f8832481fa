"""Files as issued, by page and for programs: who gets them, and that it is written down."""

from __future__ import annotations

import json
from typing import Any

import pytest
from django.db import ProgrammingError, connection, transaction
from django.urls import reverse
from django.utils import timezone

from reports.certificates.models import Download
from reports.certificates.rows import certified_sections
from reports.certificates.rules import withdraw_certificate
from tests.conftest import SECRET

pytestmark = pytest.mark.django_db(transaction=True)
FILES = [
    ("pdf", "pdf", "application/pdf"),
    ("json", "data_json", "application/json"),
    ("csv", "data_csv", "text/csv; charset=utf-8"),
]


def test_every_file_comes_exactly_as_stored_and_is_counted(
    client: Any, certificate: Any, client_person: Any, qa_officer: Any
) -> None:
    for person in (client_person, qa_officer):
        client.force_login(person)
        for kind, field, content_type in FILES:
            answer = client.get(reverse("reports:download", args=[certificate.number, kind]))
            assert answer.content == bytes(getattr(certificate, field))
            assert answer["Content-Type"] == content_type
            assert answer["Content-Disposition"] == f'attachment; filename="{certificate.number}.{kind}"'
            assert answer["X-Content-Type-Options"] == "nosniff"
            assert "no-store" in answer["Cache-Control"]
    counted = Download.objects.order_by("pk").values_list("by", "kind", "certificate")
    people = [client_person.pk] * 3 + [qa_officer.pk] * 3
    assert list(counted) == [
        (by, kind, certificate.pk) for by, kind in zip(people, ["pdf", "json", "csv"] * 2, strict=True)
    ]


@pytest.mark.parametrize("who", ["stranger", "technician", "clerk", "custodian"])
def test_others_find_nothing_and_nothing_is_counted(
    request: Any, client: Any, certificate: Any, who: str
) -> None:
    client.force_login(request.getfixturevalue(who))
    for kind, _, _ in FILES:
        assert client.get(reverse("reports:download", args=[certificate.number, kind])).status_code == 404
    assert client.get(reverse("reports:api_certificate", args=[certificate.number])).status_code == 404
    assert not Download.objects.exists()


def test_a_file_of_another_kind_or_number_is_not_found(
    client: Any, certificate: Any, client_person: Any
) -> None:
    client.force_login(client_person)
    assert client.get(reverse("reports:download", args=[certificate.number, "docx"])).status_code == 404
    assert client.get(reverse("reports:download", args=["C00-0000", "pdf"])).status_code == 404
    assert not Download.objects.exists()


def test_a_superseded_certificate_can_still_be_fetched_and_its_page_says_so(
    client: Any, certificate: Any, amended: Any, client_person: Any
) -> None:
    client.force_login(client_person)
    page = client.get(reverse("reports:certificate", args=[certificate.number])).content.decode()
    assert f"This certificate was replaced by {amended.number}" in page
    answer = client.get(reverse("reports:download", args=[certificate.number, "pdf"]))
    assert answer.content == bytes(certificate.pdf)
    newer = client.get(reverse("reports:certificate", args=[amended.number])).content.decode()
    assert "was replaced by" not in newer


def test_the_certificate_page_shows_the_stored_figures_with_units_limits_and_qualifiers(
    client: Any, certificate: Any, client_person: Any
) -> None:
    client.force_login(client_person)
    page = client.get(reverse("reports:certificate", args=[certificate.number])).content.decode()
    reported, without = certificate.context["samples"]
    for row in reported["fractions"]:
        assert f'data-label="Share, % by mass">{row["value_pct"]}</td>' in page
        assert row["limits"] in page
        assert row["interval_pct"] in page
    for row in reported["curve"]:
        assert f">{row['diameter_text']}</td>" in page
    for row in (*reported["qualifiers"], *without["qualifiers"]):
        assert row["sentence"] in page
    assert "No figures are reported" in page
    charts = reverse(
        "reports:certificate_chart", args=[certificate.number, reported["lab_number"], "triangle"]
    )
    assert f'data-chart-url="{charts}"' in page
    assert page.count("data-chart-url") == 2
    assert "Fetched" not in page


def test_the_laboratory_sees_who_fetched_what(
    client: Any, certificate: Any, client_person: Any, manager: Any
) -> None:
    client.force_login(client_person)
    client.get(reverse("reports:download", args=[certificate.number, "csv"]))
    client.force_login(manager)
    page = client.get(reverse("reports:certificate", args=[certificate.number]))
    assert [(each.by, each.kind) for each in page.context["downloads"]] == [(client_person, "csv")]
    assert "Fetched 1 time" in page.content.decode()


def test_the_record_of_downloads_cannot_be_changed(client: Any, certificate: Any, client_person: Any) -> None:
    client.force_login(client_person)
    client.get(reverse("reports:download", args=[certificate.number, "csv"]))
    with (
        pytest.raises(ProgrammingError, match="reports_download"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute("DELETE FROM reports_download")
    assert Download.objects.count() == 1


def test_programs_get_the_data_file_unchanged_and_are_counted(
    client: Any, certificate: Any, client_person: Any
) -> None:
    client.force_login(client_person)
    answer = client.get(reverse("reports:api_certificate", args=[certificate.number]))
    assert answer.content == bytes(certificate.data_json)
    assert answer["Content-Type"] == "application/json"
    assert json.loads(answer.content)["number"] == certificate.number
    assert Download.objects.get().kind == "json"


def test_programs_list_only_what_the_person_may_see(
    client: Any, certificate: Any, amended: Any, client_person: Any, stranger: Any
) -> None:
    address = reverse("reports:api_certificates")
    assert client.get(address).status_code == 403
    client.force_login(stranger)
    assert client.get(address).json()["results"] == []
    client.force_login(client_person)
    answer = client.get(address).json()
    assert [(each["number"], each["replaced_by"]) for each in answer["results"]] == [
        (amended.number, None),
        (certificate.number, amended.number),
    ]
    assert client.get(answer["results"][1]["data_file"]).content == bytes(certificate.data_json)
    assert client.post(address).status_code in (403, 405)


def test_a_row_of_the_summary_names_each_qualifier_once(certificate: Any) -> None:
    """Two readings above the scale are two sentences beside the sample, and one word in its row."""
    content = certificate.context
    above = {"code": "reading_above_scale", "title": "reading above the scale", "severity": "stop"}
    twice = content | {
        "samples": [content["samples"][0] | {"qualifiers": [above, above | {"sentence": "At 60 s."}]}]
    }
    [section] = certified_sections(certificate.number, twice)
    assert section["titles"] == ["reading above the scale"]
    assert len(section["qualifiers"]) == 2


def test_a_withdrawn_certificate_says_so_on_its_buttons_its_tables_and_its_file_names(
    client: Any, certificate: Any, client_person: Any, manager: Any
) -> None:
    client.force_login(client_person)
    address = reverse("reports:certificate", args=[certificate.number])
    main_button = '<a class="button" '
    assert main_button in client.get(address).content.decode()
    withdraw_certificate(certificate, why="Wrong bag.", by=manager, at=timezone.now(), secret=SECRET)
    page = client.get(address).content.decode()
    assert main_button not in page, "nothing of it is the main act any more"
    assert "PDF as issued, withdrawn" in page
    assert 'ends in <span class="unbroken">“-withdrawn”</span>' in page
    tables = page.split("<table")[1:]
    assert len(tables) == 3, "summary, fractions and curve"
    for table in tables:
        assert ">withdrawn</span>" in table.split("</table>")[0]
    assert "Withdrawn: results in percent by mass" in " ".join(page.split())
    assert page.count("Withdrawn. ") == page.count("data-chart-url") == 2
    for kind, field, _ in FILES:
        for name in ("download", "api_certificate") if kind == "json" else ("download",):
            arguments = [certificate.number] if name == "api_certificate" else [certificate.number, kind]
            answer = client.get(reverse(f"reports:{name}", args=arguments))
            assert answer.content == bytes(getattr(certificate, field)), "as issued, byte for byte"
            named = f'attachment; filename="{certificate.number}-withdrawn.{kind}"'
            assert answer["Content-Disposition"] == named
    job = client.get(reverse("reports:my_job", args=[certificate.job.number])).content.decode()
    assert [word for word in ("PDF", "JSON", "CSV") if f">{word}, withdrawn</a>" in job] == [
        "PDF",
        "JSON",
        "CSV",
    ]
    assert 'class="button button-small"' not in job
