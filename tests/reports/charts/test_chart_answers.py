"""Chart descriptions for pages: what they hold, and what is said when there is nothing to draw."""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from batches.bench.rules import current_readings
from batches.computing.models import result_in_force
from batches.models import Batch, HydrometerRecord, Run
from particles.distribution import USDA_POLYGONS, MethodEdition
from reports.charts.from_records import NoChartError, frame_of, run_settling, section_triangle
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)


def _values(part: Any) -> list[dict[str, Any]]:
    """Every row of data of a description."""
    if isinstance(part, list):
        return [row for each in part for row in _values(each)]
    if not isinstance(part, dict):
        return []
    own = part.get("data", {}).get("values", [])
    return [*own, *(row for key, each in part.items() if key != "data" for row in _values(each))]


def _run_chart(client: Any, run: Run, chart: str) -> Any:
    return client.get(reverse("reports:run_chart", args=[run.pk, chart]))


def test_the_charts_of_a_run_hold_its_readings_and_its_result(
    client: Any, approved_job: Any, technician: Any
) -> None:
    client.force_login(technician)
    run = Batch.objects.get().sample_runs.first()
    rows = _values(_run_chart(client, run, "settling").json())
    own = {(row["elapsed_s"], row["reading_g_l"]) for row in rows if row.get("of") == "suspension"}
    assert own == {(float(s), float(g_l)) for s, g_l in factories.LOAM_G_L.items()}
    blank = {row["reading_g_l"] for row in rows if row.get("of") == "blank"}
    assert blank == {4.5}

    distribution = result_in_force(run).distribution
    rows = _values(_run_chart(client, run, "size-curve").json())
    drawn = [(row["diameter_um"], row["percent_finer"]) for row in rows if "source" in row]
    assert set(drawn) == {(point.diameter_um, point.percent_finer) for point in distribution.curve}
    assert {row["limit_um"] for row in rows if "limit_um" in row} == {2.0, 50.0}

    triangle = json.dumps(_run_chart(client, run, "triangle").json())
    assert all(name in triangle for name in USDA_POLYGONS)
    assert f"class {distribution.texture.name}" in triangle


def test_the_blank_has_readings_but_no_result(client: Any, approved_job: Any, technician: Any) -> None:
    client.force_login(technician)
    blank = Batch.objects.get().blank
    assert {row["of"] for row in _values(_run_chart(client, blank, "settling").json())} == {"blank"}
    for chart in ("size-curve", "triangle"):
        answer = _run_chart(client, blank, chart)
        assert answer.status_code == 404
        assert "There" in answer.json()["happened"]


def test_nothing_read_and_unknown_charts_are_not_found(
    client: Any, the_client: Any, clerk: Any, technician: Any, bench: Any
) -> None:
    job = factories.job(the_client, clerk)
    portion = factories.portion(factories.prepared(job.samples.get(), technician), technician, bench)
    batch = factories.batch([portion], technician, bench, at=timezone.now(), filled=False)
    client.force_login(technician)
    answer = _run_chart(client, batch.sample_runs.get(), "settling")
    assert answer.status_code == 404
    assert "holds a number yet" in answer.json()["happened"]
    assert _run_chart(client, batch.sample_runs.get(), "pie").status_code == 404


def test_a_relative_density_stem_is_not_drawn_on_an_axis_of_grams_per_litre(approved_job: Any) -> None:
    run = Batch.objects.get().sample_runs.select_related("batch__hydrometer").first()
    run.batch.hydrometer = HydrometerRecord(serial="H-9", scale="151H", depth_slope_cm_per_unit=Decimal(1))
    with pytest.raises(NoChartError, match="relative density"):
        run_settling(run, current_readings(run), [], name=run.title)


def test_a_certificate_draws_what_it_holds_whatever_was_computed_since(
    client: Any, certificate: Any, client_person: Any
) -> None:
    client.force_login(client_person)
    reported, without = certificate.context["samples"]

    def answer(sample: Any, chart: str) -> Any:
        return client.get(
            reverse("reports:certificate_chart", args=[certificate.number, sample["lab_number"], chart])
        )

    rows = _values(answer(reported, "size-curve").json())
    drawn = {(row["diameter_um"], row["percent_finer"]) for row in rows if "source" in row}
    assert drawn == {(row["diameter_um"], row["percent_finer"]) for row in reported["curve"]}
    assert {row["limit_um"] for row in rows if "limit_um" in row} == {2.0, 50.0}
    assert answer(reported, "triangle").status_code == 200
    for chart in ("size-curve", "triangle"):
        missing = answer(without, chart)
        assert missing.status_code == 404
        assert without["lab_number"] in missing.json()["happened"]
    assert answer(reported, "settling").status_code == 404
    assert answer({"lab_number": "00-00000"}, "triangle").status_code == 404


def test_a_class_on_a_line_is_still_highlighted(certificate: Any) -> None:
    section = certificate.context["samples"][0]
    edition = certificate.job.method.edition
    plain = section_triangle(section, edition)
    on_a_line = section_triangle(
        section | {"texture_class": f"{section['texture_class']} (on a class line)"}, edition
    )
    assert plain == on_a_line


def test_other_limits_get_no_classes() -> None:
    edition = MethodEdition(
        "other", "Other limits", "2026-01-05", (30.0,), clay_limit_um=2.0, sand_limit_um=63.0
    )
    frame = frame_of(edition)
    assert (frame.clay_limit_um, frame.sand_limit_um, frame.polygons) == (2.0, 63.0, {})
