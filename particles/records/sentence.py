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
FEWEST_THAT_SAY = 2
"""Of these, words that name a thing or what became of it. *Chosen*."""
HOW_TO_SAY = (
    "Name the thing, such as a sheet, a cylinder or a figure, and what it showed; “all is well” says nothing."
)
"""What stands beside a refusal of words that say nothing."""
LEAST_OF_A_SENTENCE = r"^(?=.{20})(.*[^-'’\s]{4,}[-'’\s]){2}.*[^-'’\s]{4,}"
"""What the database holds of it, as a pattern of PostgreSQL: its length, and three words that are long enough."""
EMPTY_WORDS = frozenset(
    [
        "above",
        "after",
        "agree",
        "alright",
        "always",
        "anything",
        "because",
        "been",
        "before",
        "being",
        "below",
        "case",
        "check",
        "checked",
        "checks",
        "clear",
        "come",
        "correct",
        "does",
        "done",
        "everything",
        "exactly",
        "figures",
        "find",
        "fine",
        "follow",
        "follows",
        "found",
        "from",
        "good",
        "great",
        "have",
        "here",
        "ignore",
        "into",
        "just",
        "kept",
        "like",
        "looked",
        "looking",
        "looks",
        "make",
        "matter",
        "matters",
        "more",
        "most",
        "much",
        "need",
        "needs",
        "nice",
        "normal",
        "nothing",
        "okay",
        "once",
        "only",
        "other",
        "output",
        "passed",
        "please",
        "problem",
        "quite",
        "really",
        "results",
        "right",
        "said",
        "same",
        "sample",
        "says",
        "seem",
        "seems",
        "seen",
        "shall",
        "should",
        "since",
        "some",
        "something",
        "stand",
        "stands",
        "still",
        "sure",
        "than",
        "that",
        "them",
        "then",
        "there",
        "they",
        "thing",
        "things",
        "think",
        "this",
        "usual",
        "very",
        "well",
        "went",
        "were",
        "what",
        "when",
        "where",
        "which",
        "while",
        "will",
        "with",
        "without",
        "work",
        "works",
        "would",
        "yeah",
        "yes",
        "your",
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
    """Whether a text holds enough different words, two of them not empty, to say what was looked at."""
    words = counting_words(text)
    says = len(words - EMPTY_WORDS) >= FEWEST_THAT_SAY
    return len(text.strip()) >= FEWEST_SIGNS and len(words) >= FEWEST_WORDS and says


def names_a_thing(text: str) -> bool:
    """Whether a text holds a word that says something: “foam” does, “ok” does not."""
    return bool(counting_words(text) - EMPTY_WORDS)
