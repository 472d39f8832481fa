"""The description of a control chart: points, the limits of their day, what is filled and what is crossed."""

from __future__ import annotations

import json

from reports.charts import ControlPoint, control_chart, to_svg


def point(n: int, value: float, **also: object) -> ControlPoint:
    lines = {"centre": 60.0, "low_action": 57.0, "low_warn": 58.0, "high_warn": 62.0, "high_action": 63.0}
    return ControlPoint(f"B26-{n:04d}", f"{n} Mar", "within", value, **(lines | {"version": 1} | also))  # type: ignore[arg-type]


POINTS = [
    point(1, 60.4, centre=None, low_action=None, low_warn=None, high_warn=None, high_action=None, version=0),
    point(2, 60.2),
    point(3, 64.0, weight="stop"),
    point(4, 61.0, left_out=True, version=2, high_action=66.0),
]


def segments(spec: dict[str, object], words: str) -> list[tuple[float, float, float]]:
    found = []
    for layer in spec["layer"]:  # type: ignore[attr-defined]
        found += [
            (each["from"], each["to"], each["at"])
            for each in layer.get("data", {}).get("values", [])
            if each.get("words") == words and "from" in each
        ]
    return found


def test_each_point_stands_between_the_limits_of_its_own_day() -> None:
    spec = control_chart(POINTS, title="Sand", unit="%", description="Four points.")
    action = segments(spec, "action")
    assert (1.5, 2.5, 63.0) in action
    assert (3.5, 4.5, 66.0) in action, "the later version begins with its first point"
    assert min(start for start, _, _ in action) == 1.5, "no limits before the first version"
    assert segments(spec, "centre") == [(1.5, 2.5, 60.0), (2.5, 3.5, 60.0), (3.5, 4.5, 60.0)]


def test_it_is_plain_json_and_can_be_drawn() -> None:
    spec = control_chart(POINTS, title="Sand", unit="%", description="Four points.")
    assert json.loads(json.dumps(spec)) == spec
    drawn = to_svg(spec)
    assert drawn.startswith("<svg")
    assert "B26-0004" in drawn


def test_many_points_are_labelled_sparsely_and_the_newest_always() -> None:
    spec = control_chart([point(n, 60.0) for n in range(1, 61)], title="", unit="%", description="Sixty.")
    axis = spec["layer"][-1]["layer"][0]["encoding"]["x"]["axis"]
    assert len(axis["values"]) <= 8
    assert axis["values"][-1] == 60.0
