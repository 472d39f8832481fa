"""What counts as a sentence where a word alone would not do."""

from __future__ import annotations

import re
from itertools import pairwise

FEWEST_SIGNS = 20
"""Signs that a sentence takes. *Chosen*: “The stem was wet then.” has 22."""
FEWEST_WORDS = 3
"""Different words of some length that a sentence takes. *Chosen*: “ok” said four times is still “ok”."""
SHORTEST_WORD = 4
"""Letters of a word that counts. *Chosen*."""
LEAST_OF_A_SENTENCE = r"^(?=.{20})(.*[^-'’\s]{4,}[-'’\s]){2}.*[^-'’\s]{4,}"
"""What the database holds of it, as a pattern of PostgreSQL: its length, and three words that are long enough."""
EMPTY_WORDS = frozenset(
    [
        "above",
        "alright",
        "below",
        "check",
        "checked",
        "checks",
        "correct",
        "done",
        "everything",
        "fine",
        "good",
        "great",
        "ignore",
        "looked",
        "looks",
        "nothing",
        "okay",
        "passed",
        "right",
        "same",
        "seen",
        "sure",
        "that",
        "this",
        "were",
        "with",
        "yeah",
    ]
)
"""Words that say nothing of what was looked at, however many of them stand together. *Chosen*."""
VOWELS = frozenset("aeiouyàáâãäåæèéêëìíîïòóôõöøùúûüýœ")
ROWS = ("qwertyuiop", "qwertzuiopü", "asdfghjkl", "asdfghjklöä", "zxcvbnm", "yxcvbnm", "azertyuiop")
NEIGHBOURS = frozenset(pair for row in ROWS for pair in pairwise(row)) | frozenset(
    (two, one) for row in ROWS for one, two in pairwise(row)
)
"""Letters next to each other on a keyboard."""
_FIGURE = re.compile(r"\d+([.,]\d+)?")


def counting_words(text: str) -> set[str]:
    """
    The different words of a text that count: long enough, no run along the keys of a keyboard, and the first figure.

    >>> sorted(counting_words("Ok, the SHEET agrees; asdf 41.00 1234 bbbb sheet."))
    ['41.00', 'agrees', 'sheet']
    """
    words = [word.strip('.,;:!?()“”"').lower() for word in re.split(r"[-'’\s]+", text)]
    figures = [word for word in words if len(word) >= SHORTEST_WORD and _FIGURE.fullmatch(word)]
    return {word for word in words if _counts(word)} | set(figures[:1])


def _counts(word: str) -> bool:
    if len(word) < SHORTEST_WORD or not word.isalpha():
        return False
    spoken = bool(VOWELS & set(word)) and len(set(word)) > 2
    return spoken and not all(pair in NEIGHBOURS for pair in pairwise(word))


def is_a_sentence(text: str) -> bool:
    """Whether a text holds enough different words, not all of them empty, to say what was looked at."""
    words = counting_words(text)
    return len(text.strip()) >= FEWEST_SIGNS and len(words) >= FEWEST_WORDS and bool(words - EMPTY_WORDS)
