"""Every texture system: whole, without overlap, its reference corners, its own size limits."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from matplotlib.path import Path as Ring
from mpltern.datasets import soil_texture_classes

from particles.distribution import (
    TEXTURE_SYSTEMS,
    USDA_CLASSES,
    classify,
    parts_at,
    percent_finer_at_size,
    texture_of,
    texture_system,
)
from particles.distribution.errors import UnknownTextureError
from particles.distribution.texture.systems import inside, towards_finer
from particles.distribution.texture.usda import usda_codes
from tests.support.runs import NINE, figures, good_run, sieved

REFERENCE = json.loads(
    (Path(__file__).parents[3] / "fixtures" / "reference" / "texture_classes.json").read_text("utf-8")
)["systems"]
READ_AT_A_SOURCE = {"USDA", "GERMANY_KA5", "BELGIUM"}
codes = pytest.mark.parametrize("code", TEXTURE_SYSTEMS)


def _grid() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    sand, clay = np.meshgrid(np.arange(101.0), np.arange(101.0))
    within = sand + clay <= 100
    return sand[within], 100 - sand[within] - clay[within], clay[within]


@codes
def test_every_point_of_the_grid_lies_in_exactly_one_class(code: str) -> None:
    system = TEXTURE_SYSTEMS[code]
    sand, silt, clay = _grid()
    moved = towards_finer(sand, clay)
    times = sum(inside(*moved, corners).astype(int) for corners in system.polygons.values())
    assert len(sand) == 5151
    assert set(np.asarray(times)) == {1}
    assert set(classify(system, sand, silt, clay)) == set(range(len(system.classes)))


@codes
def test_classes_agree_with_another_point_in_polygon(code: str) -> None:
    system = TEXTURE_SYSTEMS[code]
    sand, silt, clay = np.random.default_rng(3).dirichlet((1, 1, 1), 5000).T * 100
    found = classify(system, sand, silt, clay)
    points = np.column_stack([sand, clay])
    assert set(found) <= set(range(len(system.polygons)))
    for index, corners in enumerate(system.polygons.values()):
        within = Ring([(s, c) for s, _, c in corners]).contains_points(points)
        assert (found[within] == index).all()


@codes
def test_corners_limits_and_standing_are_those_of_the_reference(code: str) -> None:
    system, reference = TEXTURE_SYSTEMS[code], REFERENCE[code]
    rings = REFERENCE[reference.get("classes_as", code)]["classes"]
    assert {
        name: tuple((p["sand"], p["silt"], p["clay"]) for p in ring) for name, ring in rings.items()
    } == dict(system.polygons)
    limits = reference["size_limits_um"]
    assert (system.clay_limit_um, system.sand_limit_um) == (limits["clay"], limits["silt"])
    assert system.confirmed is (reference["status"] == "READ") is (code in READ_AT_A_SOURCE)
    assert system.confirmed is not system.source.startswith("from memory")


def test_only_the_system_without_a_source_is_left_out() -> None:
    assert set(REFERENCE) - set(TEXTURE_SYSTEMS) == {"AUSTRALIA"}
    with pytest.raises(UnknownTextureError, match="GERMANY_KA5"):
        texture_system("AUSTRALIA")


def test_polygons_with_the_finer_class_on_a_line_are_the_written_rules() -> None:
    """Over the whole grid, lines included, save where three classes meet on the sand-free side."""
    sand, silt, clay = _grid()
    by_line = classify(TEXTURE_SYSTEMS["WRB_FAO"], sand, silt, clay)
    differ = np.flatnonzero(by_line != usda_codes(sand, silt, clay))
    assert [(sand[k], silt[k], clay[k]) for k in differ] == [(0.0, 40.0, 60.0)]


def test_usda_corners_are_those_of_mpltern() -> None:
    ours = TEXTURE_SYSTEMS["USDA"].polygons
    for name, corners in soil_texture_classes.items():
        assert {(s, c) for c, s, _ in corners} == {(s, c) for s, _, c in ours[name]}
    assert set(soil_texture_classes) == set(USDA_CLASSES)


@pytest.mark.parametrize(
    ("code", "parts", "name"),
    [
        ("WRB_FAO", (52.0, 41.0, 7.0), "loam"),
        ("WRB_FAO", (35.0, 50.0, 15.0), "silt loam"),
        ("WRB_FAO", (45.0, 15.0, 40.0), "clay"),
        ("FAO_2006", (20.0, 20.0, 60.0), "heavy clay"),
    ],
)
def test_on_a_line_the_finer_class_decides(code: str, parts: tuple[float, float, float], name: str) -> None:
    texture = texture_of(TEXTURE_SYSTEMS[code], *parts)
    assert (texture.system, texture.name, texture.on_the_line) == (code, name, True)


def test_corners_of_the_triangle_have_a_class() -> None:
    assert TEXTURE_SYSTEMS
    for system in TEXTURE_SYSTEMS.values():
        for parts in ((100.0, 0.0, 0.0), (0.0, 100.0, 0.0), (0.0, 0.0, 100.0)):
            assert texture_of(system, *parts).name in system.classes


def test_an_edition_names_the_systems_and_each_gets_its_own_fractions() -> None:
    method = replace(NINE, also_systems=("GERMANY_KA5", "ISSS"), confirmed_systems=("ISSS",))
    answer = figures(good_run(sieving=sieved()), method=method)
    assert [texture.system for texture in answer.other_textures] == ["GERMANY_KA5", "ISSS"]
    assert answer.fractions is not None
    finer = percent_finer_at_size(answer.curve, (20.0,))[0]
    assert finer is not None
    clay = answer.fractions.clay.value_pct
    expected = texture_of(TEXTURE_SYSTEMS["ISSS"], 100.0 - finer, finer - clay, clay)
    assert answer.other_textures[1].name == expected.name


def test_a_system_from_memory_waits_for_the_laboratory() -> None:
    answer = figures(good_run(), method=replace(NINE, also_systems=("CANADA",)))
    assert answer.other_textures == ()
    assert "system_not_confirmed" in {finding.code for finding in answer.findings}


def test_no_class_where_the_curve_does_not_reach() -> None:
    """The first reading stops near 59 µm, below the limit of 63 µm."""
    answer = figures(
        good_run(), method=replace(NINE, also_systems=("WRB_FAO",), confirmed_systems=("WRB_FAO",))
    )
    assert answer.other_textures == ()
    assert "system_limit_not_reached" in {finding.code for finding in answer.findings}


def test_fractions_at_other_limits_between_two_sieves() -> None:
    answer = figures(good_run(sieving=sieved()))
    assert answer.fractions is not None
    parts = parts_at(answer.fractions, answer.curve, NINE, 2.0, 63.0)
    assert parts is not None
    on_250, on_53 = 100.0 * 5.7 * 0.5 / 40.0, 100.0 * 5.7 / 40.0
    expected = on_53 - (on_53 - on_250) * np.log(63.0 / 53.0) / np.log(250.0 / 53.0)
    assert parts[0] == pytest.approx(expected)
    assert sum(parts) == pytest.approx(100.0)
    assert parts_at(answer.fractions, answer.curve, NINE, 2.0, 50.0) == (
        answer.fractions.sand.value_pct,
        pytest.approx(answer.fractions.silt.value_pct),
        answer.fractions.clay.value_pct,
    )
