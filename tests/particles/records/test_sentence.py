"""What counts as a sentence where somebody answers for figures."""

from __future__ import annotations

import pytest

from particles.records.sentence import is_a_sentence


@pytest.mark.parametrize(
    "words",
    [
        "", "ok", "ok ok ok ok", "Ok, OK: ok! ok.", "a b c d", ". . . .", "1 2 3 4 5", "aa bb cc dd", "11 22 33 44",
        "1111 2222 3333 4444 checked",
        "ok fine good yes", "aaaa bbbb cccc dddd eeee", "asdf jklö qwer uiop zxcv", "poiu lkjh mnbv qwer asdf",
        "Everything was checked and looks fine.", "done, seen, checked, nothing, see above", "sheet sheet sheet sheet",
        "Stem wet, tray dry.",
    ],
)  # fmt: skip
def test_what_a_hand_hammers_or_says_without_looking_is_no_sentence(words: str) -> None:
    assert not is_a_sentence(words)


@pytest.mark.parametrize(
    "words",
    [
        "Sheet and photograph agree.",
        "weighed 30 g again today",
        "The stem was wet when it was read.",
        "Clay felt again by two people.",
        "The assigned value of 2026.",
        "The sheet says 41.00 g.",
    ],
)
def test_a_few_words_on_what_was_looked_at_are_a_sentence(words: str) -> None:
    assert is_a_sentence(words)
