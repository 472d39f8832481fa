"""Times, counts, shares and places as people say them."""

from __future__ import annotations

HOUR_S = 3600.0
HOURS_FROM_S = 2.0 * HOUR_S
MINUTES_FROM_S = 120.0


def spoken_time(seconds: float) -> str:
    """
    A time in the unit people use for one so long: 45.5 s, 90 min, 24 h.

    Below two minutes it is said in seconds, below two hours in minutes and seconds, but one hour as that, and from
    there on in hours to three digits.

    >>> [spoken_time(s) for s in (40, 60, 300, 125.4, 3600, 5400, 7200, 27836, 86400)]
    ['40 s', '60 s', '5 min', '2 min 5 s', '1 h', '90 min', '2 h', '7.73 h', '24 h']
    """
    if seconds >= HOURS_FROM_S or seconds == HOUR_S:
        return f"{seconds / HOUR_S:.3g} h"
    if seconds < MINUTES_FROM_S:
        return f"{seconds:.4g} s"
    minutes, rest_s = divmod(round(seconds), 60)
    return f"{minutes} min {rest_s} s" if rest_s else f"{minutes} min"


def spoken_count(number: float, one: str, several: str = "") -> str:
    """
    So many of something, in the singular for one.

    >>> spoken_count(1, "point"), spoken_count(3, "point"), spoken_count(0, "entry", "entries")
    ('1 point', '3 points', '0 entries')
    """
    return f"{number:g} {one if number == 1 else several or one + 's'}"


def spoken_share(percent: float) -> str:
    """
    A small share as one in so many, to two digits.

    >>> [spoken_share(percent) for percent in (4.2, 0.05, 1e-9)]
    ['one in 24', 'one in 2000', 'fewer than one in a million']
    """
    if percent < 1e-4:
        return "fewer than one in a million"
    return f"one in {float(f'{100.0 / percent:.2g}'):.0f}"


def spoken_place(place: int) -> str:
    """
    A place in a row.

    >>> [spoken_place(k) for k in (1, 2, 3, 4, 11, 12, 13, 21, 112)]
    ['1st', '2nd', '3rd', '4th', '11th', '12th', '13th', '21st', '112th']
    """
    ending = "th" if place % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(place % 10, "th")
    return f"{place}{ending}"
