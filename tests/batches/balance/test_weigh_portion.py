"""Opening a portion and weighing it on the pages."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.utils import timezone

from batches.balance.advice import weighing_advice
from batches.models import Entry, Weighing
from particles.models import MethodEditionRecord, Portion
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)

TIN = {"tin_g": "20.00", "tin_air_dry_g": "30.00", "tin_oven_dry_g": "29.80"}


def weigh(client: Any, sample: Any, bench: Any, **typed: str) -> Any:
    portion = sample.portions.latest("attempt")
    fixed = {"entry_id": str(uuid4()), "portion": portion.code, "balance": bench.balance.pk}
    return client.post(f"/samples/{sample.lab_number}/weigh/", fixed | typed)


def test_a_portion_is_opened_and_weighed(
    prepared_sample: Any, technician: Any, bench: Any, as_person: Any
) -> None:
    client = as_person(technician)
    page = client.get("/weighing/")
    assert prepared_sample.lab_number in page.content.decode()
    client.post(
        f"/samples/{prepared_sample.lab_number}/portion/", {"density": "assumed", "entry_id": str(uuid4())}
    )
    assert Portion.objects.get().particle_density_measured is False
    assert weigh(client, prepared_sample, bench, portion_g="40.02", **TIN).status_code == 302
    shown = client.get(f"/samples/{prepared_sample.lab_number}/weigh/").content.decode()
    assert "40.02" in shown
    assert "2.04" in shown, "moisture on oven-dry basis"
    assert "weigh this" in shown, "advice for a clay loam"
    assert "on hydrometer H-1" in shown


def measured(density: str) -> dict[str, str]:
    return {"density": "measured", "particle_density_g_cm3": density, "entry_id": str(uuid4())}


def test_a_measured_density_is_typed_and_possible(
    prepared_sample: Any, technician: Any, as_person: Any
) -> None:
    client, address = as_person(technician), f"/samples/{prepared_sample.lab_number}/portion/"
    for typed in ("", "26.5"):
        refused = client.post(address, measured(typed))
        assert refused.status_code == 422
    assert Entry.objects.filter(kind="portion", verdict__outcome="refused").count() == 2
    sent = measured("2.71")
    for _ in range(2):  # the same form sent twice opens one portion
        assert client.post(address, sent).status_code == 302
    assert str(Portion.objects.get().particle_density_g_cm3) == "2.710"


def test_a_refused_mass_is_shown_again_with_the_sentence(
    prepared_sample: Any, technician: Any, bench: Any, as_person: Any
) -> None:
    Portion.take(prepared_sample, by=technician, at=prepared_sample.job.received_at)
    client = as_person(technician)
    for typed, status, words in (("40012", 409, "another unit"), ("40,02", 422, "comma")):
        answer = weigh(client, prepared_sample, bench, portion_g=typed)
        assert answer.status_code == status
        assert words in answer.content.decode()
        assert f'value="{typed}"' in answer.content.decode()
    assert not Weighing.objects.exists()
    assert Entry.objects.filter(kind="weighing").count() == 2


def test_sending_the_form_twice_weighs_once(
    prepared_sample: Any, technician: Any, bench: Any, as_person: Any
) -> None:
    Portion.take(prepared_sample, by=technician, at=prepared_sample.job.received_at)
    client, name = as_person(technician), str(uuid4())
    for _ in range(2):
        assert weigh(client, prepared_sample, bench, portion_g="40.02", entry_id=name).status_code == 302
    assert Weighing.objects.count() == 1


def test_a_correction_needs_its_reason_and_both_masses_stay(
    prepared_sample: Any, technician: Any, bench: Any, as_person: Any
) -> None:
    factories.portion(prepared_sample, technician, bench)
    client = as_person(technician)
    refused = weigh(client, prepared_sample, bench, portion_g="41.00", reason="")
    assert refused.status_code == 409
    assert "say why" in refused.content.decode()
    assert (
        weigh(client, prepared_sample, bench, portion_g="41.00", reason="Tare forgotten.").status_code == 302
    )
    shown = client.get(f"/samples/{prepared_sample.lab_number}/weigh/").content.decode()
    assert "40.00" in shown
    assert "41.00" in shown
    assert "Tare forgotten." in shown


def test_a_repeat_says_why(prepared_sample: Any, technician: Any, bench: Any, as_person: Any) -> None:
    portion = factories.portion(prepared_sample, technician, bench)
    portion.sample.transition("prepared", by=technician, at=portion.at)
    client, address = as_person(technician), f"/samples/{prepared_sample.lab_number}/portion/"
    assert (
        client.post(address, {"density": "assumed", "reason": "", "entry_id": str(uuid4())}).status_code
        == 422
    )
    client.post(address, {"density": "assumed", "reason": "Spilled.", "entry_id": str(uuid4())})
    assert prepared_sample.portions.latest("attempt").reason == "Spilled."


def test_no_mass_is_added_under_review(
    submitted_batch: Any, technician: Any, bench: Any, as_person: Any
) -> None:
    sample = submitted_batch.sample_runs.get().portion.sample
    answer = weigh(as_person(technician), sample, bench, portion_g="41.00", reason="Late thought.")
    assert answer.status_code == 409
    assert "no mass is added" in answer.content.decode()


def test_an_overdue_balance_is_not_offered(
    prepared_sample: Any, technician: Any, bench: Any, as_person: Any
) -> None:
    bench.balance.withdraw(on=bench.balance.checked_on, reason="Dropped.")
    Portion.take(prepared_sample, by=technician, at=prepared_sample.job.received_at)
    assert weigh(as_person(technician), prepared_sample, bench, portion_g="40").status_code == 422


@pytest.mark.parametrize("person", ["clerk", "qa_officer", "custodian", "client_person"])
def test_who_may_not_weigh(
    prepared_sample: Any, as_person: Any, request: pytest.FixtureRequest, person: str
) -> None:
    client = as_person(request.getfixturevalue(person))
    for address in ("/weighing/", f"/samples/{prepared_sample.lab_number}/weigh/"):
        assert client.get(address).status_code == 403
    assert client.post(f"/samples/{prepared_sample.lab_number}/portion/", {}).status_code == 403


@pytest.mark.parametrize(
    ("texture", "low_g", "high_g"), [("Loamy  sand", 75, 100), ("clay", 20, 40), ("silt loam", 40, 50)]
)
def test_a_class_by_feel_predicts_readings(bench: Any, texture: str, low_g: float, high_g: float) -> None:
    method = MethodEditionRecord.objects.get(code=factories.FOUR_READINGS)
    found = weighing_advice(texture, method, None, 2.65, timezone.now())
    assert found.predicted is not None
    assert low_g <= found.predicted.recommended.mass_g <= high_g
    assert found.hydrometer == bench.hydrometer
    assert found.predicted.recommended in found.predicted.candidates


def test_without_a_class_or_a_stem_the_rule_of_thumb_is_left(bench: Any) -> None:
    method, day = MethodEditionRecord.objects.get(code=factories.FOUR_READINGS), timezone.now()
    for texture in ("", "silty", "heavy clay, stony"):
        found = weighing_advice(texture, method, None, 2.65, day)
        assert found.predicted is None
        assert "names no class" in found.why_not
    bench.hydrometer.withdraw(on=day.date(), reason="Chipped.")
    assert "No hydrometer" in weighing_advice("clay", method, None, 2.65, day).why_not


def test_the_rule_of_thumb_is_shown_without_a_texture(
    the_client: Any, clerk: Any, technician: Any, bench: Any, as_person: Any
) -> None:
    sample = factories.prepared(factories.job(the_client, clerk).samples.get(), technician)
    shown = as_person(technician).get(f"/samples/{sample.lab_number}/weigh/").content.decode()
    assert "Sands need 75 to 100 g, clays 20 to 30 g" in shown
    assert "weigh this" not in shown


def test_a_portion_far_from_its_aim_is_asked_about_and_kept_when_typed_twice(
    prepared_sample: Any, technician: Any, bench: Any, as_person: Any
) -> None:
    """Bench faults 20 and 22: 57.5 for 50 lies within the good masses, so only the aim can tell a slip of the pen."""
    client = as_person(technician)
    Portion.take(prepared_sample, by=technician, at=timezone.now())
    refused = weigh(client, prepared_sample, bench, aimed_g="50", portion_g="57.50")
    assert refused.status_code == 422
    page = refused.content.decode()
    assert "57.50 g was typed, 50 g aimed at" in page
    assert 'name="sure_g"' in page
    assert 'value="57.50"' in page, "what was typed is still there"
    other = weigh(client, prepared_sample, bench, aimed_g="50", portion_g="57.50", sure_g="51.50")
    assert other.status_code == 422
    assert not Weighing.objects.exists()
    assert (
        weigh(client, prepared_sample, bench, aimed_g="50", portion_g="57.50", sure_g="57.5").status_code
        == 302
    )
    kept = Weighing.objects.get()
    assert (kept.mass_g, kept.aimed_g) == (Decimal("57.50"), Decimal("50"))


def test_another_aim_is_stated_once_and_the_tin_has_none(
    prepared_sample: Any, technician: Any, bench: Any, as_person: Any
) -> None:
    client = as_person(technician)
    Portion.take(prepared_sample, by=technician, at=timezone.now())
    shown = client.get(f"/samples/{prepared_sample.lab_number}/weigh/").content.decode()
    assert re.search(r'name="aimed_g" value="\d+"', shown), "the advised mass stands as the aim"
    assert weigh(client, prepared_sample, bench, aimed_g="60", portion_g="60.40", **TIN).status_code == 302
    assert Weighing.aims_g([prepared_sample.portions.get()]) == {prepared_sample.portions.get().pk: 60.0}
    assert Weighing.objects.filter(aimed_g=None).count() == 3
