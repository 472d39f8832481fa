"""Samples of a certificate page, each beside the addresses of its charts."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.urls import reverse

from batches.models import Run
from particles.models import Job

CHARTS = ("size-curve", "triangle")


def certified_sections(number: str, content: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Samples of an issued certificate, from its stored content, with the addresses of their charts."""

    def address(lab_number: str, chart: str) -> str:
        return reverse("reports:certificate_chart", args=[number, lab_number, chart])

    return [_section(s, [address(s["lab_number"], c) for c in CHARTS]) for s in content["samples"]]


def draft_sections(job: Job, content: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Samples of a draft with the charts of their runs, because no certificate holds them yet."""
    runs = Run.objects.filter(portion__sample__job=job, portion__duplicate_of__isnull=True).order_by(
        "portion__attempt"
    )
    latest = dict(runs.values_list("portion__sample__lab_number", "pk"))

    def address(lab_number: str, chart: str) -> str:
        return reverse("reports:run_chart", args=[latest[lab_number], chart])

    return [_section(s, [address(s["lab_number"], c) for c in CHARTS]) for s in content["samples"]]


def _section(sample: Mapping[str, Any], addresses: list[str]) -> dict[str, Any]:
    curve, triangle = addresses
    qualifiers = [row | {"title": qualifier_title(row)} for row in sample["qualifiers"]]
    return {
        "sample": sample,
        "qualifiers": qualifiers,
        "titles": list(dict.fromkeys(row["title"] for row in qualifiers)),
        "curve": curve if sample["curve"] else "",
        "triangle": triangle if sample["sand_pct"] is not None else "",
    }


def qualifier_title(row: Mapping[str, str]) -> str:
    """Plain words of a stored qualifier; of a certificate issued before they were kept, what its paper shows."""
    return row["title"] if "title" in row else row["code"].replace("_", " ")
