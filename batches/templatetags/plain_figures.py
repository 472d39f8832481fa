"""Numbers as they were typed, and times of a schedule as people say them."""

from __future__ import annotations

from decimal import Decimal

from django import template

register = template.Library()


@register.filter
def plain(value: Decimal | None, fewest_places: int = 0) -> str:
    """Without the zeros a column adds beyond `fewest_places`, and never in powers of ten."""
    if value is None:
        return ""
    short = value.normalize()
    exponent = short.as_tuple().exponent
    assert isinstance(exponent, int), "a mass or reading is a finite number"
    return f"{short:.{max(fewest_places, -exponent)}f}"


@register.filter
def slot(seconds: float) -> str:
    """30 s, 90 min, 24 h."""
    whole = int(seconds)
    if whole >= 7200 and whole % 3600 == 0:
        return f"{whole // 3600} h"
    if whole > 60 and whole % 60 == 0:
        return f"{whole // 60} min"
    return f"{whole} s"


@register.filter
def elapsed(seconds: Decimal | float | None) -> str:
    """45.5 s, 1:30 or 24:00:05, with tenths only where there are any."""
    if seconds is None:
        return ""
    tenths = round(float(seconds) * 10)
    whole, tenth = divmod(tenths, 10)
    tail = f".{tenth}" if tenth else ""
    if whole < 60:
        return f"{whole}{tail} s"
    minutes, rest = divmod(whole, 60)
    if minutes < 60:
        return f"{minutes}:{rest:02d}{tail}"
    return f"{minutes // 60}:{minutes % 60:02d}:{rest:02d}{tail}"
