"""Places in a row of cylinders, drawn by checksum: whoever reads the row cannot tell by its place what stands in it."""

from __future__ import annotations

import hashlib


def checksum(*words: object) -> str:
    """A checksum of words that nobody chooses and anybody can work out again."""
    return hashlib.sha256(" ".join(map(str, words)).encode()).hexdigest()


def second_places(batch_number: str, row: int, count: int) -> list[int]:
    """
    Places of so many second portions in a row of cylinders, counted from 1 behind the blank.

    >>> second_places("B26-0001", 4, 1), second_places("B26-0004", 4, 1)
    ([1], [1])
    """
    places = sorted(range(1, row + 1), key=lambda place: checksum(batch_number, "place", place))
    return places[:count]
