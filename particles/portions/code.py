"""
Codes of portions, as written on the beaker: signs that tell neither the bag nor the order.

A code is drawn. Whoever reads one sees no sample number and cannot tell a first portion from a second one of the
same bag, nor which of two was opened later. Portions of an earlier edition have a code worked out from their row,
and keep it: it stands on their beakers.
"""

from __future__ import annotations

from collections.abc import Callable
from random import Random, SystemRandom

DRAW = SystemRandom()
"""Draws what the bench must not guess: from the machine's own noise, so no seed leads to it."""

SIGNS = "23456789CDFGHJKMNPRTVWX"
"""None that is mistaken for another by hand, and no vowel: a code is never a word."""
SHORTEST = 4
STEP = 173_039
"""Coprime to the number of signs, so that neighbours lie far apart and none meet. [-]"""


TRIES = 20
"""Codes drawn of one length before a longer one is taken. [-]"""


def draw_code(is_taken: Callable[[str], bool], *, draw: Random = DRAW) -> str:
    """
    Draw a code that nobody has: four signs, longer ones once nearly all of four are taken.

    >>> len(draw_code(lambda code: False)), len(draw_code(lambda code: len(code) < 6))
    (4, 6)
    """
    length = SHORTEST
    while True:
        for _ in range(TRIES):
            code = "".join(draw.choice(SIGNS) for _ in range(length))
            if not is_taken(code):
                return code
        length += 1


def code_of(row: int) -> str:
    """
    The code that an earlier edition worked out of a portion's row: four signs up to 279 840, then five, and so on.

    >>> [code_of(row) for row in (1, 2, 3)]
    ['K74F', '7F6V', 'TM99']
    """
    length = SHORTEST
    while row >= len(SIGNS) ** length:
        length += 1
    left = row * STEP % len(SIGNS) ** length
    signs = ""
    for _ in range(length):
        left, sign = divmod(left, len(SIGNS))
        signs = SIGNS[sign] + signs
    return signs


def row_of(code: str) -> int | None:
    """
    The row a code leads back to, typed in small letters too; None for what is no code.

    >>> row_of("7f6v"), row_of("7F61")
    (2, None)
    """
    signs = code.strip().upper()
    if len(signs) < SHORTEST or set(signs) - set(SIGNS):
        return None
    value = 0
    for sign in signs:
        value = value * len(SIGNS) + SIGNS.index(sign)
    codes = len(SIGNS) ** len(signs)
    row = value * pow(STEP, -1, codes) % codes
    return row if code_of(row) == signs else None
