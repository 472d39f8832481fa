"""USDA classes against an independent polygon set, and the lines themselves."""

from __future__ import annotations

import json
from pathlib import Path as FilePath

import numpy as np
import pytest
from matplotlib.path import Path
from mpltern.datasets import soil_texture_classes

from particles.distribution import USDA_CLASSES, USDA_POLYGONS, round_to_total, usda_class
from particles.distribution.texture.usda import onto_triangle, usda_codes

REFERENCE = FilePath(__file__).parents[3] / "fixtures" / "reference" / "texture_classes.json"


def _grid(step: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Points off every class line: whole percents moved by an odd share."""
    sand, clay = np.meshgrid(np.arange(0, 100, step) + 0.137, np.arange(0, 100, step) + 0.219)
    inside = sand + clay < 100
    sand, clay = sand[inside], clay[inside]
    return sand, 100 - sand - clay, clay


def test_rules_agree_with_the_polygons_of_mpltern() -> None:
    sand, silt, clay = _grid(0.5)
    names = np.array(USDA_CLASSES)[usda_codes(sand, silt, clay)]
    points = np.column_stack([sand, clay])
    covered = 0
    for name, corners in soil_texture_classes.items():
        ring = np.array([(s, c) for c, s, _ in corners])
        inside = Path(ring).contains_points(points)
        assert set(names[inside]) == {name}
        covered += int(inside.sum())
    assert covered == len(points)


def test_our_polygons_are_those_of_the_reference() -> None:
    rings = json.loads(REFERENCE.read_text(encoding="utf-8"))["systems"]["USDA"]["classes"]
    assert set(rings) == set(USDA_POLYGONS) == set(USDA_CLASSES)
    for name, ring in rings.items():
        assert [(p["sand"], p["silt"], p["clay"]) for p in ring] == list(USDA_POLYGONS[name])


@pytest.mark.parametrize(
    ("sand", "silt", "clay", "name"),
    [
        (40.0, 33.0, 27.0, "clay loam"),
        (45.0, 20.0, 35.0, "clay loam"),
        (20.0, 50.0, 30.0, "silty clay loam"),
        (85.0, 15.0, 0.0, "loamy sand"),
        (52.0, 41.0, 7.0, "loam"),
        (30.0, 30.0, 40.0, "clay"),
    ],
)
def test_a_point_on_a_line_is_decided_by_the_rules_and_said_so(
    sand: float, silt: float, clay: float, name: str
) -> None:
    texture = usda_class(sand, silt, clay)
    assert (texture.name, texture.on_the_line) == (name, True)


def test_the_last_binary_digit_does_not_move_a_point_off_its_line() -> None:
    texture = usda_class(40.0, 33.0 + 4e-15, 27.0 - 4e-15)
    assert (texture.name, texture.on_the_line) == ("clay loam", True)


def test_off_the_line() -> None:
    assert not usda_class(40.0, 40.0, 20.0).on_the_line
    assert not usda_class(0.0, 50.0, 50.0).on_the_line


def test_nearest_point_of_the_triangle() -> None:
    moved = onto_triangle(np.array([80.0, 40.0]), np.array([-2.0, 40.0]), np.array([22.0, 20.0]))
    assert np.array(moved)[:, 0] == pytest.approx([79.0, 0.0, 21.0])
    assert np.array(moved)[:, 1] == pytest.approx([40.0, 40.0, 20.0])
    corner = np.array(onto_triangle(np.array([104.0]), np.array([-3.0]), np.array([-1.0])))
    assert corner[:, 0] == pytest.approx([100.0, 0.0, 0.0])


def test_rounded_parts_still_total_100() -> None:
    assert round_to_total([33.34, 33.33, 33.33]) == (34.0, 33.0, 33.0)
    assert sum(round_to_total([12.46, 60.27, 27.27], 1)) == pytest.approx(100.0)
    assert round_to_total([101.4, -1.4, 0.0]) == (101.0, -1.0, 0.0)
