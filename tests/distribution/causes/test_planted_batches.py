"""What an officer who answers "ok" wherever a note suffices would sign: a small trial with a fixed seed."""

from __future__ import annotations

import json

import numpy as np
import pytest

from particles.distribution import DEFAULT_METHOD_CODE, method_edition
from particles.distribution.causes.cause import Needs, Remedy
from particles.distribution.causes.find import find_causes
from tests.support.planted_batches import FAULTS, evidence_of, flocculated, made_batch, main, trial
from tests.support.runs import NINE


@pytest.fixture(scope="module")
def small() -> dict[str, object]:
    return trial(132, 5, NINE)


def test_hardly_a_grossly_wrong_figure_is_signed(small: dict[str, object]) -> None:
    """Six batches of each fault say little of 2 %: the rate is that of a thousand batches, by the command."""
    assert float(str(small["wrong"])) > 40
    assert float(str(small["wrong_signed_share"])) <= 0.12


def test_clean_samples_are_left_alone(small: dict[str, object]) -> None:
    assert float(str(small["clean_bothered_share"])) <= 0.03
    assert float(str(small["causes_per_clean_batch"])) <= 0.35


@pytest.mark.parametrize("kind", sorted(FAULTS))
def test_every_fault_changes_what_is_written_down(kind: str) -> None:
    random = np.random.default_rng([7, *kind.encode()])
    batch = made_batch(random, NINE, 1.0, 0.4)
    changed = FAULTS[kind](batch, random)
    assert any(a.run.record != b.run.record for a, b in zip(batch.runs, changed.runs, strict=True))
    assert [a.run.soil for a in batch.runs] == [b.run.soil for b in changed.runs]


def test_the_command_prints_the_shares(capsys: pytest.CaptureFixture[str]) -> None:
    main(["--batches", "2", "--seed", "1", "--json"])
    printed = json.loads(capsys.readouterr().out)
    assert {"wrong_signed_share", "clean_bothered_share", "causes_per_clean_batch", "by_fault"} <= set(
        printed
    )


@pytest.mark.parametrize(("hand_noted", "asked"), [(0.0, True), (1.0, False)])
def test_fault_45_silt_without_clay_that_nobody_felt_is_asked_about(hand_noted: float, asked: bool) -> None:
    """Bench fault 45. A soil of 18 % clay flocculated; its figures look like 26/73/1 and nothing else shows it."""
    method = method_edition(DEFAULT_METHOD_CODE)
    random = np.random.default_rng(2)
    batch = flocculated(made_batch(random, method, hand_noted, 0.0), random, from_s=300.0)
    found = find_causes(evidence_of(batch), method)
    unfelt = [each for each in found if each.kind == "clear_late" and each.needs is Needs.DECISION]
    assert bool(unfelt) is asked
    assert any(each.needs is Needs.DECISION and each.remedy is Remedy.AGAIN for each in found)
