"""The mass a portion was meant to have."""

from __future__ import annotations

import pytest

from particles.distribution.causes.asked import asked_masses_g


def test_the_advice_is_what_was_asked_where_the_batch_follows_it() -> None:
    """Bench fault 22: a mass typed wrong does not become a habit."""
    assert asked_masses_g([50.2, 79.9, 30.1, 42.5], [50.0, 80.0, 30.0, 50.0]) == [50.0, 80.0, 30.0, 50.0]


def test_a_laboratory_that_weighs_one_mass_by_habit_is_held_to_that() -> None:
    assert asked_masses_g([40.0, 40.2, 39.9, 34.0], [50.0, 80.0, 30.0, 50.0]) == pytest.approx([40.0] * 4)


def test_masses_without_advice_and_habit_tell_nothing() -> None:
    assert asked_masses_g([21.0, 34.0, 48.0], [None, None, None]) == [None, None, None]
    assert asked_masses_g([None, 50.0], [50.0, 50.0]) == [50.0, 50.0]


def test_three_alike_among_ten_are_no_habit() -> None:
    """Masses chosen soil by soil: nobody asked for 50 g where 30 g were weighed."""
    weighed = [50.0, 50.2, 49.9, 30.0, 80.0, 100.0, 60.0, 40.0, 35.0, 70.0]
    assert asked_masses_g(weighed, [None] * 10) == [None] * 10
    assert asked_masses_g(weighed, [80.0] * 10) == [None] * 4 + [80.0] + [None] * 5, (
        "the one that follows its advice"
    )


def test_a_portion_without_advice_is_held_to_the_nearest_habit() -> None:
    weighed = [50.0, 50.3, 49.8, 30.0, 30.2, 29.9, 33.0]
    assert asked_masses_g(weighed, [None] * 7)[-1] == pytest.approx(30.0)


def test_a_portion_that_follows_the_advice_is_not_held_against_the_habit_of_others() -> None:
    asked = asked_masses_g([50.0, 50.1, 49.9, 50.0, 40.0], [80.0, 80.0, 80.0, 80.0, 40.0])
    assert asked == pytest.approx([50.0, 50.0, 50.0, 50.0, 40.0])
