"""Cylinders of other volumes than the blank's: said when they are planned, and refused when they are far apart."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone

from batches.models import Batch, Cylinder
from batches.planning.rules import next_step
from batches.planning.volumes import mixed_volumes
from particles.records.refusals import NotPossible
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def planned(the_client: Any, clerk: Any, technician: Any, bench: Any) -> Any:
    """Plan a sample and its duplicate in cylinders of which all but the blank's hold this much."""

    def plan(volume_ml: str) -> Batch:
        now = timezone.now()
        serials = [f"V{n}" for n in range(3)]
        bench.cylinders = [
            Cylinder.objects.create(
                serial=serial, inner_area_cm2="27.8", volume_ml=Decimal(volume_ml if serial != "V0" else "1000"),
                checked_on=now.date(), due_on=now.date() + timedelta(days=99),
            )
            for serial in serials
        ]  # fmt: skip
        job = factories.job(the_client, clerk, at=now - timedelta(days=5))
        sample = factories.prepared(job.samples.get(), technician, at=now - timedelta(days=5))
        portion = factories.portion(sample, technician, bench)
        return factories.batch_with_duplicates([portion], technician, bench, at=now, filled=False)

    return plan


def test_one_volume_needs_no_word(planned: Any) -> None:
    batch = planned("1000")
    assert mixed_volumes(batch) == ""
    assert "volume" not in next_step(batch)


def test_other_volumes_are_said_with_what_is_done_about_them(planned: Any) -> None:
    said = next_step(planned("1130"))
    assert "Other volumes than the blank's 1000 mL: V1 1130 mL, V2 1130 mL." in said
    assert "the blank is brought to the dispersant of each" in said


@pytest.mark.parametrize(
    ("volume_ml", "refused"), [("1200", False), ("1201", True), ("800", False), ("799", True)]
)
def test_volumes_more_than_a_fifth_apart_are_refused(planned: Any, volume_ml: str, refused: bool) -> None:
    if refused:
        with pytest.raises(NotPossible, match=f"{volume_ml} mL and the blank's 1000 mL"):
            planned(volume_ml)
    else:
        assert planned(volume_ml).runs.count() == 3
