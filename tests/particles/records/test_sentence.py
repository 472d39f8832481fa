"""What counts as a sentence where somebody answers for figures."""

from __future__ import annotations

import pytest

from particles.records.sentence import is_a_sentence


@pytest.mark.parametrize(
    "words", ["", "ok", "ok ok ok ok", "Ok, OK: ok! ok.", "a b c d", ". . . .", "1 2 3 4 5"]
)
def test_one_word_said_often_and_single_letters_are_no_sentence(words: str) -> None:
    assert not is_a_sentence(words)


@pytest.mark.parametrize("words", ["Sheet and photograph agree.", "weighed 30 g again today"])
def test_four_different_words_are_a_sentence(words: str) -> None:
    assert is_a_sentence(words)
