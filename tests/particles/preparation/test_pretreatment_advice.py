from __future__ import annotations

from decimal import Decimal

import pytest

from particles.preparation.advice import advise, wish_on_carbonates


@pytest.mark.parametrize(
    ("organic_matter_pct", "remove"), [(None, None), ("0", False), ("2", False), ("2.01", True), ("12", True)]
)
def test_organic_matter_above_two_percent_is_to_be_considered(
    organic_matter_pct: str | None, remove: bool
) -> None:
    measured = None if organic_matter_pct is None else Decimal(organic_matter_pct)
    organic, _, _ = advise(measured, None, "none")
    assert organic.remove is remove
    if measured is not None:
        assert f"{measured} %" in organic.sentence


@pytest.mark.parametrize(("ds_m", "remove"), [(None, None), ("0.5", False), ("0.501", True), ("4", True)])
def test_salts_above_half_a_decisiemens_are_washed(ds_m: str | None, remove: bool) -> None:
    _, _, salts = advise(None, None if ds_m is None else Decimal(ds_m), "none")
    assert salts.remove is remove


@pytest.mark.parametrize(
    ("fizz", "wish", "remove"),
    [
        ("strong", "", False),
        ("strong", "carbonate-free texture", True),
        ("strong", "keep carbonates", False),
        ("none", "remove carbonates", False),
        ("not tried", "", None),
    ],
)
def test_carbonates_are_removed_only_on_request(fizz: str, wish: str, remove: bool | None) -> None:
    _, carbonates, _ = advise(None, None, fizz, wish)
    assert carbonates.remove is remove


@pytest.mark.parametrize(
    ("wish", "says"),
    [
        ("", None),
        ("Please keep the carbonates", "leave"),
        ("do not remove lime", "leave"),
        ("without removal of carbonates", "leave"),
        ("Carbonates removed", "remove"),
        ("remove organic matter, keep carbonates", "leave"),
        ("keep organic matter but remove carbonates", "remove"),
        ("remove organic matter", None),
        ("carbonates?", None),
        ("remove carbonates; keep carbonates", None),
    ],
)
def test_the_clients_words_on_carbonates(wish: str, says: str | None) -> None:
    assert wish_on_carbonates(wish) == says
