from __future__ import annotations

import pytest

from particles.receiving.list_checks import depth_question, label_question


@pytest.mark.parametrize(
    ("text", "first", "second"),
    [
        ("Oct-20", "10-20", "20-10"),
        ("5-Jan", "1-5", "5-1"),
        ("20-Oct-26", "10-20", "20-10"),
        ("October 20", "10-20", "20-10"),
        ("Oct-20 cm", "10-20", "20-10"),
        ("2026-10-20", "10-20", "20-10"),
        ("2026-10-20 00:00:00", "10-20", "20-10"),
        ("20/10/2026", "20-10", "10-20"),
    ],
)
def test_a_date_in_place_of_a_depth_gives_both_readings(text: str, first: str, second: str) -> None:
    question = depth_question(text)
    assert question is not None
    assert f"“{text}” looks like a date" in question
    assert f"“{first}” or “{second}”" in question


def test_a_day_count_is_read_back_to_its_day() -> None:
    # Day 45 000 of the 1900 calendar is 15 March 2023: published documentation of spreadsheets gives
    # 39 448 for 1 January 2008, 5 552 days earlier.
    question = depth_question("45000")
    assert question is not None
    assert "“3-15” or “15-3” (day 45000 is 15 Mar 2023)" in question
    assert "1 Jan 2008" in str(depth_question("39448"))


@pytest.mark.parametrize("text", ["0-20", "10 to 20", "0–5", "20", "0-6.5", "99999", "12345"])
def test_a_depth_without_unit_is_questioned(text: str) -> None:
    assert "has no unit" in str(depth_question(text))


@pytest.mark.parametrize(
    "text",
    [
        "0-20 cm",
        "0-20cm",
        "4-8 in",
        "0-6 inches",
        '0-6"',
        "0–0.2 m",
        "100-200 mm",
        "1 ft",
        "",
        "topsoil",
        "horizon Bt2",
        "0-20 cm (Oct)",
        "marsh",
    ],
)
def test_a_depth_with_its_unit_or_in_words_is_taken_as_written(text: str) -> None:
    assert depth_question(text) is None


@pytest.mark.parametrize("label", ["1.2E+04", "1E5", "12e03", "1,2E+04"])
def test_scientific_notation_is_questioned(label: str) -> None:
    assert label in str(label_question(label))


@pytest.mark.parametrize("label", ["007", "E5", "Field 1", "12-E-3", "1.2", "1E5b"])
def test_ordinary_labels_are_not(label: str) -> None:
    assert label_question(label) is None
