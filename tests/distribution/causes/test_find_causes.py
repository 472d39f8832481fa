"""The cause behind the findings of a batch: one for each thing, with its effect computed by putting it right."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from itertools import pairwise

import pytest

from particles.distribution import BlankReading, Severity, SizeDistribution
from particles.distribution.causes import find
from particles.distribution.causes.cause import DECISIVE_PCT, Needs, Remedy
from particles.distribution.causes.evidence import ByHand, ControlOutcome
from particles.distribution.causes.exchanges import WHOLE_PRIOR, FoundExchange
from particles.distribution.causes.likelihood import Seen
from tests.support.caused import (
    CLAY_FELT,
    CLAYEY,
    LOAM_FELT,
    SANDY,
    causes,
    exchanged_batch,
    run_of,
    small_batch,
    sound,
)
from tests.support.runs import NINE, figures, good_run, sieved, with_reading, with_values


def asking(batch: object) -> list[tuple[str, str, tuple[str, ...]]]:
    return [(c.kind, str(c.needs), c.labels) for c in causes(batch) if c.needs is not Needs.LOOK]  # type: ignore[arg-type]


def test_a_sound_batch_asks_for_nothing() -> None:
    assert asking(small_batch(*sound())) == []


def test_fault_59_whole_runs_in_each_others_row_are_told_on_both_also_the_plausible_half() -> None:
    """Bench fault 59. Both curves fall as they should: only what the hands felt shows it."""
    (cause, *_) = causes(exchanged_batch())
    assert cause.kind == "runs_exchanged"
    assert cause.labels == ("cylinder 1", "cylinder 2")
    assert cause.remedy is Remedy.EXCHANGE
    assert cause.slots == tuple(range(9))
    assert cause.needs is Needs.DECISION
    assert cause.odds is not None
    assert cause.odds > 100.0
    right = {run.label: run.distribution.fractions.percents for run in sound()}  # type: ignore[union-attr]
    for effect in cause.effects:
        assert effect.after == pytest.approx(right[effect.label])
        assert effect.class_changes
        assert effect.curve_before != effect.curve_after


def test_fault_59_rows_slipped_from_a_slot_on_are_one_cause_that_tells_every_finding_of_both() -> None:
    """Bench fault 59."""
    found = [c for c in causes(exchanged_batch(6, 7, 8)) if c.needs is not Needs.LOOK]
    (cause,) = found
    assert cause.slots == (6, 7, 8)
    assert {each.label for each in cause.told_by} == {"cylinder 1", "cylinder 2"}
    assert {"rising_reading", "fell_too_fast"} <= {each.code for each in cause.told_by}


def test_an_exchange_is_less_likely_where_sample_and_cylinder_were_scanned() -> None:
    batch = exchanged_batch()
    plain, scanned = causes(batch)[0].odds, causes(replace(batch, scanned=True))[0].odds
    assert plain is not None
    assert scanned is not None
    assert scanned == pytest.approx(plain / 50.0, rel=0.01)


def test_an_exchange_that_was_rather_not_so_explains_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The odds of the small batch are 2619 to 1 for neighbours; here so many times smaller."""
    batch = exchanged_batch()

    def found(times: float) -> dict[str, list[Needs]]:
        monkeypatch.setitem(WHOLE_PRIOR, True, 1.0 / 2500.0 / times)
        needs: dict[str, list[Needs]] = defaultdict(list)
        for cause in causes(batch):
            needs[cause.kind].append(cause.needs)
        return needs

    assert found(2000.0)["runs_exchanged"] == [Needs.DECISION], "1.3 to 1 that it was so"
    assert not found(2000.0)["hand_disagrees"], "the exchange explains them"
    against = found(3000.0)
    assert against["hand_disagrees"] == [Needs.DECISION] * 2, (
        "1.1 to 1 that it was not so: told for themselves"
    )
    assert against["runs_exchanged"] == [Needs.LOOK], "its runs are decided already"


@pytest.mark.parametrize(
    ("odds", "points_pct", "needs"),
    [
        (1.0, 2.0, Needs.DECISION),
        (0.999, 2.0, Needs.NOTE),
        (0.006, 2.0, Needs.NOTE),
        (0.006, 3.1, Needs.DECISION),
    ],
)
def test_an_exchange_that_would_be_decisive_asks_for_a_decision_whatever_its_odds(
    monkeypatch: pytest.MonkeyPatch, odds: float, points_pct: float, needs: Needs
) -> None:
    """A note never settles what moves a fraction by three points or a class, however unlikely it is."""
    batch = exchanged_batch()
    bare = replace(batch, runs=tuple(replace(run, by_hand=None) for run in batch.runs))
    one, other, _ = bare.runs
    after = tuple(Seen(run, run.record, moved_by(run.distribution, points_pct)) for run in (one, other))
    told = FoundExchange((one.label, other.label), tuple(range(9)), True, False, odds, after)  # type: ignore[arg-type]
    monkeypatch.setattr(find, "find_exchanges", lambda *_: [told])
    (cause,) = [c for c in causes(bare) if c.kind == "runs_exchanged"]
    assert cause.largest_pct == pytest.approx(points_pct)
    assert cause.needs is needs


def moved_by(distribution: SizeDistribution | None, points_pct: float) -> SizeDistribution:
    """The same figures with so many points of silt as sand instead."""
    assert distribution is not None
    assert distribution.fractions is not None
    made = distribution.fractions
    sand = replace(made.sand, value_pct=made.sand.value_pct + points_pct)
    silt = replace(made.silt, value_pct=made.silt.value_pct - points_pct)
    return replace(distribution, fractions=replace(made, sand=sand, silt=silt))


def test_fault_59_a_slip_that_no_curve_and_no_hand_shows_stays_unseen() -> None:
    """Bench fault 59, what cannot be seen: two soils alike, hands not noted."""
    batch = exchanged_batch()
    assert asking(replace(batch, runs=tuple(replace(run, by_hand=None) for run in batch.runs))) == []


def test_fault_59_layers_of_one_place_raise_the_odds_of_an_exchange_between_places() -> None:
    """Bench fault 59: three layers of clay and three of sand, one of each in the other's row."""
    bare = replace(
        exchanged_batch(), runs=tuple(replace(run, by_hand=None) for run in exchanged_batch().runs)
    )
    one, other, _ = bare.runs
    clays = [run_of(f"clay {k}", with_values(*CLAYEY)) for k in (1, 2)]
    sands = [run_of(f"sand {k}", with_values(*SANDY)) for k in (1, 2)]
    places = [replace(run, profile="north", depth_cm=10.0 * k) for k, run in enumerate((one, *clays))]
    places += [replace(run, profile="south", depth_cm=10.0 * k) for k, run in enumerate((other, *sands))]
    asked = [c for c in causes(small_batch(*places)) if c.kind == "runs_exchanged"]
    assert [c.labels for c in asked] == [("cylinder 1", "cylinder 2")]
    nowhere = [replace(run, profile="") for run in places]
    assert [c for c in causes(small_batch(*nowhere)) if c.kind == "runs_exchanged"] == []


def test_a_hand_that_says_otherwise_is_never_answered_with_a_note() -> None:
    one, other, third = sound()
    ((kind, needs, labels),) = asking(small_batch(one, other, replace(third, by_hand=CLAY_FELT)))
    assert (kind, needs, labels) == ("hand_disagrees", "decision", ("cylinder 3",))


def test_fault_22_a_mass_typed_wrong_is_seen_against_the_mass_asked_for() -> None:
    """Bench fault 22: 40.4 g written down as 34.04."""
    one, other, third = sound()
    record = replace(third.record, air_dry_mass_g=34.04)
    found = causes(small_batch(one, other, replace(third, record=record, distribution=figures(record))))
    cause = next(c for c in found if c.kind == "portion_not_as_asked")
    assert cause.remedy is Remedy.MASS
    assert cause.mass_g == 40.4
    (effect,) = cause.effects
    assert third.distribution is not None
    assert third.distribution.fractions is not None
    assert effect.after == pytest.approx(third.distribution.fractions.percents)
    assert effect.largest_pct > DECISIVE_PCT
    assert cause.needs is Needs.DECISION


def test_a_portion_within_six_percent_of_what_was_asked_is_nothing() -> None:
    one, other, third = sound()
    assert asking(small_batch(one, other, replace(third, asked_mass_g=40.4 * 1.05))) == []


def test_fault_67_a_blank_that_moved_is_one_cause_for_all_runs_with_its_step() -> None:
    """Bench fault 67: +1.5 g/L from 2 h on, 25 flags once."""
    runs = []
    for run in sound():
        points = [replace(p, blank_reading=6.0) if k >= 7 else p for k, p in enumerate(run.record.readings)]
        record = replace(run.record, readings=tuple(points))
        runs.append(replace(run, record=record, distribution=figures(record)))
    found = [c for c in causes(small_batch(*runs)) if c.needs is not Needs.LOOK]
    (cause,) = found
    assert cause.remedy is Remedy.BLANK
    assert cause.labels == ("cylinder 1", "cylinder 2", "cylinder 3")
    assert cause.slots == (7, 8)
    assert cause.step_g_l == pytest.approx(1.5)
    for effect, run in zip(cause.effects, sound(), strict=True):
        assert run.distribution is not None
        assert run.distribution.fractions is not None
        assert effect.after == pytest.approx(run.distribution.fractions.percents)


def test_fault_67_a_moved_blank_kept_as_readings_of_its_own_is_put_right_as_well() -> None:
    """Bench fault 67: the same blank, read at times of its own."""
    runs = []
    for run in sound():
        blanks = tuple(
            BlankReading(p.elapsed_s, 21.0, 6.0 if k >= 7 else 4.5, p.elapsed_s)
            for k, p in enumerate(run.record.readings)
        )
        bare = (replace(p, blank_reading=None, blank_temperature_c=None) for p in run.record.readings)
        record = replace(run.record, readings=tuple(bare), blanks=blanks)
        runs.append(replace(run, record=record, distribution=figures(record)))
    (cause,) = [c for c in causes(small_batch(*runs)) if c.needs is not Needs.LOOK]
    assert (cause.remedy, cause.slots) == (Remedy.BLANK, (7, 8))
    for effect, run in zip(cause.effects, sound(), strict=True):
        assert run.distribution is not None
        assert run.distribution.fractions is not None
        assert effect.after == pytest.approx(run.distribution.fractions.percents, abs=0.5)


def test_fault_45_a_flocculated_run_is_never_answered_with_a_note() -> None:
    """Bench fault 45: a clayey soil clear after half an hour."""
    gone = with_values(40.0, 39.0, 37.0, 12.0, 6.0, 5.5, 5.0, 5.0, 4.5)
    one, other, _ = sound()
    third = run_of("cylinder 3", replace(gone, field_clayey=True), CLAY_FELT, 40.4)
    found = [c for c in causes(small_batch(one, other, third)) if "cylinder 3" in c.labels]
    assert found[0].needs is Needs.DECISION
    assert {"flocculation_suspected", "fell_too_fast"} & {
        each.code for cause in found for each in cause.told_by
    }


def test_fault_45_a_clay_that_was_felt_and_is_gone_needs_a_decision_however_small() -> None:
    """Bench fault 45: felt at 15 % clay, which no two distances of a hand rule out."""
    sand = run_of("cylinder 3", with_values(20.0, 15.0, 12.0, 10.0, 7.0, 6.0, 5.5, 5.0, 4.5), None, 40.4)
    assert sand.distribution is not None
    assert sand.distribution.fractions is not None
    assert sand.distribution.fractions.clay.value_pct < 3.0
    measured = sand.distribution.fractions.percents
    sand = replace(sand, by_hand=ByHand(None, measured.sand, 15.0))
    assert ("hand_disagrees", "decision", ("cylinder 3",)) in asking(small_batch(*sound()[:2], sand))


def test_fault_45_some_clay_that_was_felt_and_fell_with_all_that_was_fine_needs_a_decision() -> None:
    """Bench fault 45: felt at 10 % clay; three quarters of what was finer than 20 µm left within one halving."""
    together = run_of("cylinder 3", with_values(20.0, 15.0, 12.5, 5.5, 5.0, 5.0, 5.0, 5.0, 4.5), None, 40.4)
    slowly = run_of("cylinder 3", with_values(20.0, 15.0, 12.5, 9.5, 7.5, 6.0, 5.5, 5.0, 4.5), None, 40.4)
    asked = []
    for run in (together, slowly):
        assert run.distribution is not None
        assert run.distribution.fractions is not None
        felt = replace(run, by_hand=ByHand(None, run.distribution.fractions.percents.sand, 10.0))
        asked.append([kind for kind, _, _ in asking(small_batch(*sound()[:2], felt))])
    assert "hand_disagrees" in asked[0]
    assert "hand_disagrees" not in asked[1]


def test_fault_44_readings_copied_from_a_slot_on_need_a_decision() -> None:
    """Bench fault 44: seven readings and more equal to the neighbour's over a fall."""
    one, _, third = sound()
    copied = with_values(44.0, 41.0, *(p.reading or 0.0 for p in third.record.readings[2:]))
    other = run_of("cylinder 2", copied, None, 40.4)
    found = [c for c in causes(small_batch(one, other, third)) if c.kind == "readings_copied"]
    assert [(c.labels, c.needs) for c in found] == [(("cylinder 2", "cylinder 3"), Needs.DECISION)]


def test_fault_43_one_reading_that_rises_is_left_out_to_see_what_it_does() -> None:
    """Bench fault 43: the reading at 30 min typed 8 g/L too high."""
    wrong = with_reading(4, good_run(), reading=29.0)
    one, other, _ = sound()
    third = run_of("cylinder 3", wrong, LOAM_FELT, 40.4)
    cause = next(c for c in causes(small_batch(one, other, third)) if c.labels == ("cylinder 3",))
    assert cause.remedy is Remedy.LEAVE_OUT
    assert cause.slots == (4,)
    assert cause.needs is Needs.DECISION  # a stop


def test_fault_98_a_control_that_failed_is_a_cause_of_every_run() -> None:
    """Bench fault 98."""
    failed = ControlOutcome(
        "reference_soil", Severity.STOP, "Clay of the clayey reference soil is 3.4 s high.", 3.4
    )
    (cause,) = [c for c in causes(small_batch(*sound(), controls=(failed,))) if c.needs is not Needs.LOOK]
    assert cause.labels == ("cylinder 1", "cylinder 2", "cylinder 3")
    assert cause.needs is Needs.DECISION


def test_two_portions_beyond_the_action_limit_need_a_decision_and_show_the_other_figures() -> None:
    one, other, third = sound()
    again = run_of("cylinder 4", with_values(*SANDY), None, 40.4, duplicate_of="cylinder 3")
    found = causes(small_batch(one, other, third, again))
    cause = next(c for c in found if c.kind in ("duplicate_outside_limit", "runs_exchanged"))
    assert cause.needs is Needs.DECISION
    assert "cylinder 3" in cause.labels or "cylinder 4" in cause.labels


def test_fault_86_sieves_and_hydrometer_that_do_not_meet_show_the_mass_at_which_they_would() -> None:
    """Bench faults 86 and 87."""
    one, other, third = sound()
    record = replace(third.record, sieving=sieved(sand_g=14.0, washed_g=14.3))
    found = causes(small_batch(one, other, replace(third, record=record, distribution=figures(record))))
    cause = next(c for c in found if c.kind == "join_apart")
    assert cause.remedy is Remedy.MASS
    assert cause.mass_g is not None
    assert cause.mass_g > 40.4
    assert cause.needs is Needs.DECISION


def test_a_run_that_cannot_be_computed_needs_a_decision() -> None:
    """Bench fault 70: 73 °F typed as °C."""
    one, other, third = sound()
    hot = replace(third.record, readings=tuple(replace(p, temperature_c=73.0) for p in third.record.readings))
    found = causes(small_batch(one, other, replace(third, record=hot, distribution=None)))
    (cause,) = [c for c in found if c.needs is not Needs.LOOK]
    assert cause.kind == "cannot_be_computed"
    assert "73" in cause.sentence


def test_every_finding_is_told_by_exactly_one_cause() -> None:
    for batch in (small_batch(*sound()), exchanged_batch(6, 7, 8)):
        told = [(e.label, e.code, e.reading_index) for cause in causes(batch) for e in cause.told_by]
        own = [
            (run.label, f.code, f.reading_index)
            for run in batch.runs
            if run.distribution is not None
            for f in run.distribution.findings
        ]
        assert len(told) == len(set(told))
        assert set(own) <= set(told)


def test_decisions_stand_before_notes_and_large_effects_before_small() -> None:
    one, other, third = sound()
    record = replace(third.record, air_dry_mass_g=34.04)
    found = causes(small_batch(one, other, replace(third, record=record, distribution=figures(record))))
    order = [Needs.DECISION, Needs.NOTE, Needs.LOOK]
    for before, after in pairwise(found):
        assert order.index(before.needs) <= order.index(after.needs)
        assert before.needs is not after.needs or before.largest_pct >= after.largest_pct


def test_the_key_of_a_cause_stays_while_the_same_thing_is_found() -> None:
    keys = [cause.key for cause in causes(exchanged_batch())]
    assert keys == [cause.key for cause in causes(exchanged_batch())]
    assert len(set(keys)) == len(keys)
    assert set(keys) != {cause.key for cause in causes(exchanged_batch(6, 7, 8))}


def test_without_draws_or_with_them_the_causes_are_the_same() -> None:
    drawn = [replace(run, distribution=figures(run.record, draws=2000)) for run in exchanged_batch().runs]
    assert [c.key for c in causes(small_batch(*drawn))] == [c.key for c in causes(exchanged_batch())]
    assert NINE.draws > 0
