"""What was seen, doubtful times and void runs: findings without a change of any figure."""

from __future__ import annotations

from dataclasses import replace

import pytest

from particles.distribution import (
    Seen,
    Severity,
    Sight,
    compute_distribution,
    record_digest,
    record_from_plain,
    record_to_plain,
    seen_findings,
)
from tests.support.runs import NINE, good_run

LOAM, METHOD = good_run(), NINE


@pytest.mark.parametrize(
    ("what", "severity"),
    [
        (Sight.FOAM, Severity.NOTE),
        (Sight.ROOTS, Severity.NOTE),
        (Sight.ALCOHOL, Severity.NOTE),
        (Sight.BUMPED, Severity.NOTE),
        (Sight.LEFT_IN, Severity.WARN),
        (Sight.CLEAR_ABOVE, Severity.WARN),
        (Sight.SPILL, Severity.STOP),
        (Sight.DOUBTFUL, Severity.WARN),
    ],
)
def test_every_sight_becomes_one_finding(what: Sight, severity: Severity) -> None:
    [found] = seen_findings(replace(LOAM, seen=(Seen(what, 60.0, note="left side"),)))
    assert found.severity is severity
    assert found.sentence == f"{what[0].upper()}{what[1:]}, at the 60 s reading (left side)."
    assert (found.number, found.unit) == (60.0, "s")


def test_what_is_seen_at_the_blank_says_so() -> None:
    [found] = seen_findings(replace(LOAM, seen=(Seen(Sight.FOAM, at_blank=True),)))
    assert found.sentence == "At the blank: foam at the stem."


def test_a_doubtful_time_names_reason_and_number() -> None:
    first = replace(LOAM.readings[0], time_doubt="the tablet was restarted", time_doubt_s=-3600.0)
    [found] = seen_findings(replace(LOAM, readings=(first, *LOAM.readings[1:])))
    assert (found.code, found.severity, found.number, found.reading_index) == (
        "time_doubtful", Severity.WARN, -3600.0, 0,
    )  # fmt: skip
    assert "the tablet was restarted" in found.sentence
    assert "-3600.0 s off" in found.sentence


def test_a_doubtful_time_without_a_number_says_that_it_is_unknown() -> None:
    first = replace(LOAM.readings[0], time_doubt="the tablet was restarted")
    [found] = seen_findings(replace(LOAM, readings=(first, *LOAM.readings[1:])))
    assert (found.code, found.number, found.unit, found.reading_index) == ("time_doubtful", None, "", 0)
    assert found.sentence.endswith("How far it was off is unknown, so the interval does not hold it.")


def test_a_void_run_is_stopped_once_even_when_a_spill_was_noted() -> None:
    found = seen_findings(replace(LOAM, void="soil or liquid was lost", seen=(Seen(Sight.SPILL),)))
    assert [(f.code, f.severity) for f in found] == [("run_void", Severity.STOP)]


def test_figures_stay_and_a_void_run_is_not_certifiable() -> None:
    plain = compute_distribution(LOAM, METHOD, draws=0)
    void = compute_distribution(replace(LOAM, void="the cylinder broke"), METHOD, draws=0)
    assert void.fractions == plain.fractions
    assert (plain.certifiable, void.certifiable) == (True, False)


def test_a_record_without_them_keeps_its_digest_and_one_with_them_has_another() -> None:
    said = replace(LOAM, seen=(Seen(Sight.FOAM),))
    assert record_digest(replace(LOAM, seen=(), void=""), METHOD) == record_digest(LOAM, METHOD)
    assert record_digest(said, METHOD) != record_digest(LOAM, METHOD)
    assert record_from_plain(record_to_plain(said)) == said
