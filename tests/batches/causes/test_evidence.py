"""What is known of a soil apart from its readings. Labels and depths invented."""

from __future__ import annotations

from typing import Any

import pytest

from batches.causes.evidence import evidence_of, middle_depth_cm
from batches.review.examination import examine
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.mark.parametrize(
    ("text", "middle_cm"),
    [
        ("0-30 cm", 15.0),
        ("30 – 60 cm", 45.0),
        ("0,5 - 1,0 m", 75.0),
        ("100 to 300 mm", 20.0),
        ("0-12 in", 15.24),
        ("0-30", None),
        ("topsoil", None),
        ("", None),
    ],
)
def test_the_middle_of_a_depth_is_known_where_two_ends_and_a_unit_are(
    text: str, middle_cm: float | None
) -> None:
    assert middle_depth_cm(text) == middle_cm


@pytest.fixture
def evidence(the_client: Any, clerk: Any, technician: Any, bench: Any) -> Any:
    """Evidence of a batch whose samples carry these labels and depths."""

    def of(*bags: tuple[str, str], texture: str = "", portion_g: str = "40.00") -> Any:
        factories.more_cylinders(bench, len(bags) + 1)
        job = factories.job(the_client, clerk, samples=len(bags))
        portions = []
        for sample, (label, depth) in zip(job.samples.order_by("line"), bags, strict=True):
            type(sample).objects.filter(pk=sample.pk).update(client_label=label, depth_text=depth)
            sample.refresh_from_db()
            prepared = factories.prepared(sample, technician, field_texture=texture)
            masses = factories.MASSES_G | {"portion_g": portion_g}
            portions.append(factories.portion(prepared, technician, bench, **masses))
        batch = factories.measured(portions, technician, bench)
        return evidence_of(examine(batch), at=batch.planned_at)

    return of


def test_samples_below_each_other_share_a_profile(evidence: Any) -> None:
    found = evidence(("Pit 4 0-30 cm", "0-30 cm"), ("Pit 4 30-60 cm", "30-60 cm"), ("Pit 5 A", "0-30 cm"))
    profiles = [run.profile for run in found.runs]
    assert profiles[0] == profiles[1] != ""
    assert profiles[2] == ""
    assert [run.depth_cm for run in found.runs] == [15.0, 45.0, 15.0]


def test_horizons_named_by_a_last_letter_share_a_profile(evidence: Any) -> None:
    found = evidence(("Slope A", "0-20 cm"), ("Slope B", "20-50 cm"))
    assert found.runs[0].profile == found.runs[1].profile != ""


def test_fields_sampled_at_one_depth_are_no_profile(evidence: Any) -> None:
    found = evidence(("Field 1", "0-20 cm"), ("Field 2", "0-20 cm"))
    assert [run.profile for run in found.runs] == ["", ""]


def test_the_hand_is_known_where_it_names_one_of_the_twelve_classes(evidence: Any) -> None:
    assert evidence(("A", ""), texture="Clay loam").runs[0].by_hand.named == "clay loam"
    assert evidence(("A", ""), texture="sticky, some sand").runs[0].by_hand is None


def test_the_asked_mass_is_the_advised_one(evidence: Any) -> None:
    """Bench fault 22: a mass typed wrongly lies off what was asked for, and nothing else may compare it."""
    asked = [
        run.asked_mass_g for run in evidence(("A", ""), ("B", ""), texture="loam", portion_g="50.10").runs
    ]
    assert asked == [50.0, 50.0]
    assert evidence(("A", ""), texture="", portion_g="42.50").runs[0].asked_mass_g is None


def test_three_portions_of_one_mass_are_what_the_laboratory_asks_for(evidence: Any) -> None:
    found = evidence(("A", ""), ("B", ""), ("C", ""), portion_g="40.10")
    assert [run.asked_mass_g for run in found.runs] == [40.1] * 3


def test_the_aim_that_was_stated_is_what_was_asked_for_whatever_the_batch_does(
    the_client: Any, clerk: Any, technician: Any, bench: Any
) -> None:
    """Bench fault 22: one portion 15 % off its aim in a batch whose portions have no mass in common."""
    factories.more_cylinders(bench, 4)
    job = factories.job(the_client, clerk, samples=3)
    portions = [
        factories.portion(
            factories.prepared(sample, technician, field_texture="loam"), technician, bench,
            **factories.MASSES_G | {"portion_g": mass_g, "aimed_g": aim_g, "sure_g": mass_g},
        )
        for sample, mass_g, aim_g in zip(
            job.samples.order_by("line"), ("57.50", "30.10", "80.00"), ("50", "30", "80"), strict=True
        )
    ]  # fmt: skip
    batch = factories.measured(portions, technician, bench)
    found = evidence_of(examine(batch), at=batch.planned_at)
    assert [run.asked_mass_g for run in found.runs] == [50.0, 30.0, 80.0]
