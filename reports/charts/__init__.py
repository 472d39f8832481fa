"""Charts as Vega-Lite descriptions: the page draws them in the browser, the worker turns them into SVG."""

from .before_after import before_after, small_curve
from .control_chart import ControlPoint, control_chart
from .settling_run import RawReading, settling_run
from .size_curve import size_curve
from .svg import to_svg
from .texture_triangle import TrianglePoint, texture_triangle

__all__ = [
    "ControlPoint",
    "RawReading",
    "TrianglePoint",
    "before_after",
    "control_chart",
    "settling_run",
    "size_curve",
    "small_curve",
    "texture_triangle",
    "to_svg",
]
