"""What an officer who answers "ok" wherever a note suffices would sign: a small trial with a fixed seed."""

from __future__ import annotations

import json

import numpy as np
import pytest

from tests.support.planted_batches import FAULTS, made_batch, main, trial
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
