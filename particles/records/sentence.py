"""What counts as a sentence where a word alone would not do."""

from __future__ import annotations

FEWEST_WORDS = 4
"""Different words that a sentence takes. *Chosen*: “ok” said four times is still “ok”."""
SHORTEST_WORD = 2
"""Letters or digits of a word that counts; single letters are no words here. *Chosen*."""


def different_words(text: str) -> set[str]:
    """
    The different words of a text, whatever their case and marks.

    >>> sorted(different_words("Ok, OK: ok! The sheet agrees; a b c."))
    ['agrees', 'ok', 'sheet', 'the']
    """
    words = {word.strip(".,;:!?()").lower() for word in text.split()}
    return {word for word in words if sum(sign.isalnum() for sign in word) >= SHORTEST_WORD}


def is_a_sentence(text: str) -> bool:
    """Whether a text holds enough different words to say what was looked at."""
    return len(different_words(text)) >= FEWEST_WORDS
