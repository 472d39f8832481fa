"""Places in a row of cylinders, drawn: whoever reads the row cannot tell by its place what stands in it."""

from __future__ import annotations

import hashlib
from random import Random


def checksum(*words: object) -> str:
    """A checksum of words that nobody chooses and anybody can work out again."""
    return hashlib.sha256(" ".join(map(str, words)).encode()).hexdigest()


def second_places(row: int, count: int, *, draw: Random) -> list[int]:
    """
    Places of so many second portions in a row of cylinders, counted from 1 behind the blank.

    >>> sorted(second_places(3, 3, draw=Random(1)))
    [1, 2, 3]
    """
    return draw.sample(range(1, row + 1), count)
