"""A fraction as a number with its bar, and what was said at one place of a page."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from batches.templatetags.plain_figures import below_detection

register = template.Library()

SPARE_PCT = 4
"""Room left and right of the bar, so that a figure below 0 or above 100 % is seen as such."""


@register.filter
def at_place(said: Mapping[str, Any], place: str) -> Any:
    """What was just done at a place of the page; None for nothing."""
    return said.get(place)


@register.simple_tag
def bar_of(bar: Any) -> SafeString:
    """A fraction as number, interval and drawn bar; the drawing is for the eye only, the numbers say the same."""
    estimate = bar.estimate
    low, width = (estimate.low_pct, bar.width_pct) if bar.has_interval else (estimate.value_pct, 0.0)
    interval = f"{low:.0f} to {low + width:.0f}" if bar.has_interval else ""
    below = below_detection(estimate)
    value = f"{estimate.value_pct:.1f}" if below is None else f"< {below.whole_limit_pct}"
    computed = "" if below is None else f"computed {estimate.value_pct:.1f}, "
    return format_html(
        '<span class="bar-number">{value}</span> <span class="hush">{said}</span>'
        '<svg class="bar" viewBox="{left} 0 {span} 8" preserveAspectRatio="none" aria-hidden="true" focusable="false">'
        '<rect class="bar-scale" x="0" y="3.5" width="100" height="1"/>'
        '<rect class="bar-interval" x="{low}" y="1" width="{width}" height="6"/>'
        '<rect class="bar-figure" x="{at}" y="0" width="1.6" height="8"/></svg>',
        value=value.replace("-", "−"),
        said=f"{computed}{interval}".replace("-", "−"),
        left=-SPARE_PCT,
        span=100 + 2 * SPARE_PCT,
        low=f"{low:.2f}",
        width=f"{max(width, 0):.2f}",
        at=f"{estimate.value_pct - 0.8:.2f}",
    )
