"""Free words for a texture by feel."""

from __future__ import annotations

import pytest

from particles.distribution import USDA_CLASSES
from particles.preparation.field_texture import felt_clayey, usda_class_by_feel


@pytest.mark.parametrize(
    ("words", "clayey"),
    [
        ("clay", True),
        ("Heavy  Clay", True),
        ("silty clay", True),
        ("sandy clay loam", True),
        ("clayey, stony", True),
        ("silt-loam", False),
        ("loamy sand", False),
        ("sands", False),
        ("", None),
        ("silty", None),
        ("loam, not clayey", None),
        ("slightly clayey loam", None),
        ("peat", None),
    ],
)
def test_whether_the_soil_felt_clayey(words: str, clayey: bool | None) -> None:
    assert felt_clayey(words) is clayey


def test_a_class_is_named_exactly_or_not_at_all() -> None:
    assert [usda_class_by_feel(name.upper()) for name in USDA_CLASSES] == list(USDA_CLASSES)
    assert usda_class_by_feel("silty  clay ") == "silty clay"
    assert [usda_class_by_feel(words) for words in ("", "silty", "heavy clay", "loam or clay")] == [None] * 4
