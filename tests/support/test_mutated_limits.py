"""Which numbers the mutation of limits takes for limits, and how it moves them."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.support.mutated_limits.found import Limit, limits_of

SOURCE = '''
"""Forty-two is no limit here: 42."""
from dataclasses import dataclass, field

LIMIT_G = 2.0
RANGE_C = (10.0, 40.0)
DAY_S = 2 * 3600.0
TABLE = (1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0)
BY_SCALE = {"152H": 3.0, "151H": 0.003}
SEED = 7
POSSIBLE_G = Possible(5.0, 200.0, "g")
_TINY = 1e-9
lower_case = 5.0


@dataclass
class Limits:
    share: float = 1.02
    nothing: float = 0.0
    count: int = field(default=4)

    def holds(self, größe: float, quantile: float = 3.3) -> bool:
        return größe > 20.0 and 100.0 * größe < 7.5 * self.share and len("ab") == 0


MINE = Limits(count=6)
'''


@pytest.fixture
def found(tmp_path: Path) -> dict[str, Limit]:
    (tmp_path / "invented.py").write_text(SOURCE, encoding="utf-8")
    return {limit.name: limit for limit in limits_of(tmp_path)}


def test_named_numbers_defaults_of_fields_and_what_is_compared_with(found: dict[str, Limit]) -> None:
    assert {name: limit.value for name, limit in found.items()} == {
        "LIMIT_G": 2.0,
        "RANGE_C[0]": 10.0,
        "RANGE_C[1]": 40.0,
        "DAY_S": 7200.0,
        "BY_SCALE['152H']": 3.0,
        "BY_SCALE['151H']": 0.003,
        "POSSIBLE_G[0]": 5.0,
        "POSSIBLE_G[1]": 200.0,
        "Limits.share": 1.02,
        "Limits.count": 4,
        "Limits.holds.quantile": 3.3,
        "Limits.holds: 20.0 in größe > 20.0": 20.0,
        "Limits.holds: 7.5 in 100.0 * größe < 7.5 * self.share": 7.5,
        "count=": 6,
    }


@pytest.mark.parametrize(
    ("name", "lower", "higher"),
    [
        ("LIMIT_G", 4.0 / 3.0, 3.0),
        ("RANGE_C[0]", 10.0 / 1.5, 15.0),
        ("RANGE_C[1]", 32.5, 47.5),
        ("POSSIBLE_G[0]", 5.0 / 1.5, 7.5),
        ("POSSIBLE_G[1]", 151.25, 248.75),
        ("Limits.share", 1.0 + 0.02 / 1.5, 1.03),
        ("Limits.count", 3, 5),
    ],
)
def test_each_is_moved_by_what_matters(
    found: dict[str, Limit], name: str, lower: float, higher: float
) -> None:
    assert found[name].moved() == pytest.approx((lower, higher))


@pytest.mark.parametrize("name", ["DAY_S", "Limits.holds: 20.0 in größe > 20.0", "count="])
def test_nothing_else_of_the_source_changes(found: dict[str, Limit], name: str) -> None:
    before, written = {
        "DAY_S": ("DAY_S = ", "2 * 3600.0"),
        "Limits.holds: 20.0 in größe > 20.0": ("größe > ", "20.0"),
        "count=": ("count=", "6"),
    }[name]
    changed = found[name].mutated(SOURCE.encode(), 99).decode()
    assert changed == SOURCE.replace(before + written, f"{before}99", 1) != SOURCE
