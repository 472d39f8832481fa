"""Chart descriptions: what is drawn, what is refused, and that a real Vega-Lite accepts them."""

from __future__ import annotations

import hashlib
import re
from itertools import pairwise
from pathlib import Path

import pytest
import vl_convert

from reports.charts import RawReading, TrianglePoint, settling_run, size_curve, texture_triangle, to_svg
from reports.charts.triangle_geometry import HEIGHT, area, middle, place, slant
from reports.content.context import CurveRow
from tests.support.example_context import SAMPLE

VENDOR = Path(__file__).resolve().parents[3] / "reports" / "static" / "reports" / "charts" / "vendor"
HALVES = {
    "clay rich": (
        {"sand": 50, "silt": 0, "clay": 50},
        {"sand": 0, "silt": 50, "clay": 50},
        {"sand": 0, "silt": 0, "clay": 100},
    ),
    "clay poor": (
        {"sand": 100, "silt": 0, "clay": 0},
        {"sand": 0, "silt": 100, "clay": 0},
        {"sand": 0, "silt": 50, "clay": 50},
        {"sand": 50, "silt": 0, "clay": 50},
    ),
}
"""Two invented classes that fill the triangle."""


def _curve(points=SAMPLE.curve, **limits):
    given = {"clay_limit_um": 2.0, "sand_limit_um": 50.0} | limits
    return size_curve(points, **given, title="Size curve", description="Percent finer by diameter.")


def _run(readings=((40.0, 30.5), (7200.0, -0.5)), blanks=((60.0, 5.0), (7200.0, 4.5))):
    series = [[RawReading(*item) for item in items] for items in (readings, blanks)]
    return settling_run(*series, title="Settling run", description="Readings against time.")


def _triangle(*points, **more):
    given = {"polygons": HALVES, "title": "Texture triangle", "description": "Where the sample falls."} | more
    return texture_triangle(points or (TrianglePoint("T-1", 40, 40, 20),), **given)


def _leaves(spec):
    for layer in spec["layer"]:
        yield from _leaves(layer) if "layer" in layer else [layer]


def _words(svg):
    return re.findall(r">([^<>]+)</(?:text|tspan)>", svg)


@pytest.mark.parametrize("spec", [_curve(), _run(), _triangle()], ids=["curve", "run", "triangle"])
def test_every_layer_has_mark_and_encoding_and_the_whole_has_words(spec):
    assert spec["$schema"].endswith("/vega-lite/v6.json")
    assert spec["title"]
    assert spec["description"]
    for leaf in _leaves(spec):
        assert leaf["mark"]["type"] in {"line", "point", "rule", "text", "circle"}
        assert leaf["encoding"]


@pytest.mark.parametrize("spec", [_curve(), _run(), _triangle()], ids=["curve", "run", "triangle"])
def test_same_description_gives_the_same_svg_set_in_our_type(spec):
    svg = to_svg(spec)
    assert svg == to_svg(spec)
    assert svg.startswith("<svg")
    assert 'font-family="Inter"' in svg


@pytest.mark.parametrize("spec", [_curve(), _run(), _triangle()], ids=["curve", "run", "triangle"])
def test_nothing_is_fetched_and_no_bold_title(spec):
    assert "url" not in str([leaf.get("data") for leaf in _leaves(spec)])
    assert vl_convert.vegalite_to_vega(spec, vl_version="6.4")["data"]
    assert "bold" not in to_svg(spec)


def test_curve_prints_limits_sources_and_every_tick():
    words = _words(to_svg(_curve()))
    assert {"clay | silt 2 µm", "silt | sand 50 µm", "hydrometer", "sieve"} <= set(words)
    ticks = ["0.5", "1", "2", "5", "10", "20", "50", "100", "200", "500", "1000", "2000"]
    assert [word for word in words if word in ticks][: len(ticks)] == ticks


def test_curve_follows_the_limits_it_is_given():
    words = _words(to_svg(_curve(clay_limit_um=None, sand_limit_um=63.0)))
    assert "silt | sand 63 µm" in words
    assert not [word for word in words if word.startswith("clay |")]


def test_curve_keeps_points_in_the_order_given_and_never_clips():
    points = [CurveRow(3000.0, 104.2, "sieve", "", ""), CurveRow(0.2, -1.3, "hydrometer", "", "")]
    *_, marks = _curve(points)["layer"]
    assert [row["percent_finer"] for row in marks["data"]["values"]] == [104.2, -1.3]
    assert marks["encoding"]["x"]["scale"]["domain"] == [0.2, 3000.0]
    assert marks["encoding"]["y"]["scale"]["domain"] == [-1.3, 104.2]


def test_curve_refuses_a_diameter_of_zero():
    with pytest.raises(ValueError, match="diameter of 0 µm"):
        _curve([CurveRow(0.0, 3.0, "hydrometer", "", "")])


def test_settling_run_shows_negative_readings_and_both_cylinders():
    spec = _run()
    values = spec["layer"][0]["data"]["values"]
    assert [value["reading_g_l"] for value in values] == [30.5, -0.5, 5.0, 4.5]
    assert {"suspension", "blank", "30 s", "2 h", "24 h"} <= set(_words(to_svg(spec)))
    assert spec["layer"][0]["layer"][0]["encoding"]["y"]["scale"]["domain"][0] == -0.5


def test_settling_run_refuses_time_before_the_end_of_stirring():
    with pytest.raises(ValueError, match="-5 s"):
        _run(readings=((-5.0, 30.0),))


def test_triangle_names_classes_edges_and_several_samples():
    points = (TrianglePoint("T-1", 40, 40, 20), TrianglePoint("T-2", 10, 30, 60))
    words = _words(to_svg(_triangle(*points, highlighted_class="clay rich")))
    assert {"clay rich", "clay poor", "Sand, %", "Silt, %", "Clay, %", "T-1", "T-2", "80"} <= set(words)


def test_triangle_draws_every_draw():
    draws = [(40.0, 39.0, 21.0), (41.0, 40.0, 19.0)]
    clouds = [leaf for leaf in _leaves(_triangle(draws=draws)) if leaf["mark"]["type"] == "circle"]
    assert [len(cloud["data"]["values"]) for cloud in clouds] == [2]


def test_triangle_refuses_fractions_without_a_place_and_unknown_classes():
    with pytest.raises(ValueError, match=r"99\.00 %"):
        _triangle(TrianglePoint("T-1", 40, 40, 19))
    with pytest.raises(ValueError, match="no class named 'loess'"):
        _triangle(highlighted_class="loess")


@pytest.mark.parametrize(
    ("fractions", "corner"), [((100, 0, 0), (0, 0)), ((0, 100, 0), (100, 0)), ((0, 0, 100), (50, HEIGHT))]
)
def test_pure_soils_lie_in_the_corners(fractions, corner):
    assert place(*fractions) == pytest.approx(corner)


def test_class_areas_fill_the_triangle_and_names_lie_inside():
    assert sum(area(ring) for ring in HALVES.values()) == pytest.approx(50 * HEIGHT)
    assert middle(HALVES["clay rich"]) == pytest.approx((50, HEIGHT / 2 + HEIGHT / 6))
    assert slant(HALVES["clay rich"]) == 0


def test_a_strip_carries_its_name_along_its_length():
    strip = ({"sand": 90, "silt": 10, "clay": 0}, {"sand": 0, "silt": 10, "clay": 90})
    thin = (*strip, {"sand": 0, "silt": 0, "clay": 100}, {"sand": 100, "silt": 0, "clay": 0})
    assert slant(thin) == pytest.approx(300)


@pytest.mark.parametrize("name", ["vega", "vega-lite", "vega-embed"])
def test_vendored_build_is_the_recorded_one(name):
    digest = hashlib.sha256((VENDOR / f"{name}.min.js").read_bytes()).hexdigest()
    assert f"| `{name}.min.js` | `{digest}` |" in (VENDOR / "README.md").read_text()


def test_browser_and_worker_draw_with_the_same_edition():
    shipped = re.search(r"vega-lite (\d+\.\d+)\.", (VENDOR / "README.md").read_text())
    assert shipped is not None
    assert shipped[1] in vl_convert.get_vegalite_versions()


def test_tick_labels_fall_in_order_on_paper():
    spots = re.findall(
        r'translate\(([\d.]+),[\d.]+\)"[^>]*>(0\.5|1|2|5|10|20|50|100|200|500|1000|2000)<', to_svg(_curve())
    )
    places = [float(x) for x, _ in spots[:12]]
    assert len(places) == 12
    assert all(left < right for left, right in pairwise(places))
