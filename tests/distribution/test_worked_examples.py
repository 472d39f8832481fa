"""Every published figure that can be right is reproduced within its source's own rounding."""

from __future__ import annotations

from typing import Any

import pytest

from particles import distribution
from particles.bench_sheet.read import RunSheet, read_bench_sheet
from particles.distribution import DistributionError, compute_distribution, errors
from tests.support.published_figures import FUNCTIONS, examples, quantity

REPRODUCED = 206
"""Published figures compared below; a fixture gained or lost changes it."""
EXAMPLES = examples()
SHEETS = [e for e in EXAMPLES if e["sheet"] and e["sheet"]["kind"] == "run"]


def _figures() -> list[Any]:
    rows = []
    for example in EXAMPLES:
        for row in example["expected"]:
            for k, (published, tolerance) in enumerate(zip(row["published"], row["tolerance"], strict=True)):
                if published is not None:
                    name = f"{example['id']}-{row['what']}-{k}"
                    rows.append(pytest.param(example["sheet"], row["what"], k, published, tolerance, id=name))
    return rows


FIGURES = _figures()
CALLS = [
    pytest.param(call, id=f"{example['id']}-{call['function']}-{k}")
    for example in EXAMPLES
    for k, call in enumerate(example.get("calls", []))
]
REFUTED = [
    pytest.param(example["sheet"], row, id=f"{example['id']}-{row['what']}")
    for example in EXAMPLES
    for row in example.get("refuted", [])
]


@pytest.mark.parametrize(("sheet", "what", "k", "published", "tolerance"), FIGURES)
def test_published_figure(sheet: dict[str, Any], what: str, k: int, published: Any, tolerance: float) -> None:
    computed = quantity(sheet, what)[k]
    if isinstance(published, str):
        assert computed == published
    else:
        assert computed == pytest.approx(published, abs=tolerance, rel=0)


@pytest.mark.parametrize("call", CALLS)
def test_published_point(call: dict[str, Any]) -> None:
    computed = FUNCTIONS[call["function"]](*call["arguments"])
    assert computed == pytest.approx(call["published"], abs=call["tolerance"], rel=0)


@pytest.mark.parametrize(("sheet", "row"), REFUTED)
def test_wrong_published_figure_is_not_reproduced(sheet: dict[str, Any], row: dict[str, Any]) -> None:
    """The published figure is wrong by a known ratio; ours differs by just that."""
    computed = quantity(sheet, row["what"])
    assert 0 < len(row["published"]) <= len(computed)
    for published, ours in zip(row["published"], computed, strict=False):
        assert published / ours == pytest.approx(row["published_over_computed"], rel=row["tolerance"])


@pytest.mark.parametrize("example", SHEETS, ids=lambda e: e["id"])
def test_findings_are_exactly_the_expected_ones(example: dict[str, Any]) -> None:
    sheet = read_bench_sheet(example["sheet"])
    assert isinstance(sheet, RunSheet)
    if "expect_error" in example:
        kind = getattr(errors, example["expect_error"]["class"])
        with pytest.raises(kind, match=example["expect_error"]["says"]):
            compute_distribution(sheet.record, sheet.method, draws=0)
        return
    answer = compute_distribution(sheet.record, sheet.method, draws=0)
    assert sorted({finding.code for finding in answer.findings}) == example["expect_findings"]
    assert not answer.certifiable


def test_number_of_reproduced_figures() -> None:
    assert len(FIGURES) + len(CALLS) == REPRODUCED


def test_every_example_has_its_source() -> None:
    assert all(example["source"]["ref"] and example["source"]["read"] for example in EXAMPLES)
    assert issubclass(distribution.DistributionError, ValueError)
    assert DistributionError is distribution.DistributionError
