"""Numbers as they were typed, and times of a schedule as people say them."""

from __future__ import annotations

from decimal import Decimal

from django import template

from particles.distribution import Detection, Estimate, detection_of
from particles.distribution.spoken import spoken_time

register = template.Library()


@register.filter
def plain(value: Decimal | None, fewest_places: int = 0) -> str:
    """A number without the zeros a column adds beyond `fewest_places`, and never in powers of ten."""
    if value is None:
        return ""
    short = value.normalize()
    exponent = short.as_tuple().exponent
    assert isinstance(exponent, int), "a mass or reading is a finite number"
    return f"{short:.{max(fewest_places, -exponent)}f}"


@register.filter
def slot(seconds: float) -> str:
    """The time of a slot as people say it: 30 s, 90 min, 24 h."""
    return spoken_time(float(seconds))


@register.filter
def elapsed(seconds: Decimal | float | None) -> str:
    """An elapsed time as 45.5 s, 1:30 or 24:00:05, with tenths only where there are any."""
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


@register.filter
def about(seconds: float) -> str:
    """A time to aim for, as near as a person would: 45 s, 12 min, 7 h 20 min, never a false 0."""
    if seconds < 120:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60)
    if minutes < 60:
        return f"{minutes} min"
    hours, rest = divmod(5 * round(minutes / 5), 60)
    return f"{hours} h {rest} min" if rest else f"{hours} h"


@register.filter
def signed(value: float | None, places: int = 2) -> str:
    """A number with its sign: +0.12, −0.12, or 0.00 without one."""
    if value is None:
        return ""
    text = f"{value:+.{places}f}".replace("-", "−")
    return text if text.strip("+−0.") else text[1:]


@register.filter
def below_detection(part: Estimate) -> Detection | None:
    """The limits of a fraction that its run does not tell from nothing; None for one it does, or cannot judge."""
    found = detection_of(part)
    return found if found is not None and found.below_detection else None
