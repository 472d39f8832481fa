from __future__ import annotations

from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from batches.models import Entry
from particles.models import Portion, PretreatmentDecision
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)

TYPED = {
    "organic_matter_pct": "3.4",
    "conductivity_ds_m": "0.2",
    "fizz": "strong",
    "field_texture": "silty",
    "remove_organic_matter": "remove",
    "remove_carbonates": "leave",
    "remove_soluble_salts": "leave",
    "reason": "Dark, much organic matter.",
    "seen": "",
}


@pytest.fixture
def sample(bench: Any, the_client: Any, clerk: Any, technician: Any) -> Any:
    """Dried and sieved; the client wants carbonates kept."""
    sample = factories.job(the_client, clerk, pretreatment_wish="Please keep the carbonates").samples.get()
    sample.accept(by=clerk, at=timezone.now())
    weighed = {"drying_temperature_c": 38, "drying_hours": 48, "fine_earth_g": 400, "gravel_g": 0}
    sample.prepare(by=technician, at=timezone.now(), **weighed)
    return sample


def post(browser: Any, sample: Any, typed: dict[str, str]) -> Any:
    """As a page that was opened for it sends it."""
    return browser.post(address(sample), {"entry_id": str(uuid4())} | typed)


def address(sample: Any) -> str:
    return reverse("batches:pretreatment", args=[sample.lab_number])


def test_the_decision_and_its_evidence_are_kept(as_person: Any, technician: Any, sample: Any) -> None:
    answer = post(as_person(technician), sample, TYPED)
    assert answer["Location"] == reverse("batches:preparation")
    kept = PretreatmentDecision.objects.get()
    assert kept.in_words == "organic matter removed"
    assert (kept.organic_matter_pct, kept.conductivity_ds_m) == (Decimal("3.4"), Decimal("0.2"))
    assert (kept.fizz, kept.field_texture, kept.by) == ("strong", "silty", technician)
    assert kept.reason == "Dark, much organic matter."


def test_sand_and_clay_by_feel_are_kept_and_told(as_person: Any, technician: Any, sample: Any) -> None:
    post(as_person(technician), sample, TYPED | {"sand_by_hand_pct": "25", "clay_by_hand_pct": "30"})
    kept = PretreatmentDecision.objects.get()
    assert (kept.sand_by_hand_pct, kept.clay_by_hand_pct) == (Decimal("25"), Decimal("30"))
    assert "sand by feel 25" in kept.in_words_with_evidence


def test_more_than_100_percent_by_feel_is_refused_with_both_numbers(
    as_person: Any, technician: Any, sample: Any
) -> None:
    answer = post(as_person(technician), sample, TYPED | {"sand_by_hand_pct": "60", "clay_by_hand_pct": "45"})
    assert answer.status_code == 422
    assert "60 % sand and 45 % clay are more than 100 %" in answer.content.decode()
    assert not PretreatmentDecision.objects.exists()


def test_nothing_is_ticked_beforehand(as_person: Any, technician: Any, sample: Any) -> None:
    assert "checked" not in as_person(technician).get(address(sample)).content.decode()


@pytest.mark.parametrize(
    "missing", ["remove_organic_matter", "remove_carbonates", "remove_soluble_salts", "reason", "fizz"]
)
def test_each_answer_is_asked_for(as_person: Any, technician: Any, sample: Any, missing: str) -> None:
    answer = post(as_person(technician), sample, TYPED | {missing: ""})
    assert answer.status_code == 422
    assert "This field is required" not in answer.content.decode()
    assert 'value="3.4"' in answer.content.decode()
    assert not PretreatmentDecision.objects.exists()


def test_evidence_may_be_missing_and_is_then_not_recorded(
    as_person: Any, technician: Any, sample: Any
) -> None:
    post(
        as_person(technician),
        sample,
        TYPED | {"organic_matter_pct": "", "conductivity_ds_m": "", "fizz": "not tried"},
    )
    kept = PretreatmentDecision.objects.get()
    assert (kept.organic_matter_pct, kept.conductivity_ds_m) == (None, None)


def test_advice_is_shown_beside_the_wish_and_decides_nothing(
    as_person: Any, technician: Any, sample: Any
) -> None:
    typed = {"organic_matter_pct": "3.4", "fizz": "strong", "show_advice": "1", "reason": "dark", "seen": ""}
    answer = post(as_person(technician), sample, typed)
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "3.4 % is above 2 %: consider removal." in page
    assert "common practice" in page
    assert "“Please keep the carbonates”" in page
    assert "Say whether" not in page
    assert 'value="dark"' in page
    assert "checked" not in page
    assert not PretreatmentDecision.objects.exists()


def test_advice_on_an_unreadable_number_says_so(as_person: Any, technician: Any, sample: Any) -> None:
    typed = {"organic_matter_pct": "3,4", "fizz": "none", "show_advice": "1"}
    answer = post(as_person(technician), sample, typed)
    assert answer.status_code == 422
    assert "“3,4” has a comma." in answer.content.decode()
    assert "Say whether" not in answer.content.decode()


def test_going_against_the_wish_needs_the_clients_agreement(
    as_person: Any, technician: Any, sample: Any
) -> None:
    against = TYPED | {"remove_carbonates": "remove"}
    answer = post(as_person(technician), sample, against)
    assert answer.status_code == 422
    assert "Against the client’s wish" in answer.content.decode()
    assert not PretreatmentDecision.objects.exists()
    post(as_person(technician), sample, against | {"agreed": "on"})
    kept = PretreatmentDecision.objects.get()
    assert kept.remove_carbonates
    assert kept.reason == "Dark, much organic matter. Agreed with the client."


def test_the_same_decision_sent_twice_is_kept_once(as_person: Any, technician: Any, sample: Any) -> None:
    for _ in range(2):
        assert post(as_person(technician), sample, TYPED).status_code == 302
    assert PretreatmentDecision.objects.count() == 1


def test_a_decision_nobody_has_read_is_not_overruled(
    as_person: Any, technician: Any, sample: Any, django_user_model: Any
) -> None:
    other = django_user_model.objects.create(username="tessa", roles=["technician"])
    post(as_person(other), sample, TYPED)
    mine = TYPED | {"remove_organic_matter": "leave", "reason": "Little of it."}
    answer = post(as_person(technician), sample, mine)
    page = answer.content.decode()
    assert answer.status_code == 409
    assert "tessa has decided" in page
    assert 'value="Little of it."' in page
    read = PretreatmentDecision.objects.get().pk
    assert f'name="seen" value="{read}"' in page
    assert post(as_person(technician), sample, mine | {"seen": str(read)}).status_code == 409
    why = {"seen": str(read), "why_superseded": "It was weighed again."}
    assert post(as_person(technician), sample, mine | why).status_code == 302
    assert sample.pretreatment.in_words == "none"
    assert sample.pretreatment.supersedes_id == read


def test_after_weighing_a_decision_is_corrected_for_the_portion(
    as_person: Any, technician: Any, sample: Any
) -> None:
    post(as_person(technician), sample, TYPED)
    first = sample.pretreatment
    portion = Portion.take(sample, by=technician, at=timezone.now())
    page = as_person(technician).get(address(sample)).content.decode()
    assert "weigh a new portion" in page
    later = TYPED | {"remove_organic_matter": "leave", "reason": "None was removed.", "seen": str(first.pk)}
    assert post(as_person(technician), sample, later).status_code == 409, "it says not what was wrong"
    why = {"why_superseded": "The form of another bag was copied."}
    assert post(as_person(technician), sample, later | why).status_code == 302
    assert portion.pretreatment == first, "what it was opened under stays"
    assert portion.decision.in_words == "none"
    shown = as_person(technician).get(address(sample)).content.decode()
    assert "organic matter removed" in shown
    assert "The form of another bag was copied." in shown


def test_the_next_portion_is_decided_anew_and_the_earlier_keeps_its_own(
    as_person: Any, technician: Any, sample: Any
) -> None:
    post(as_person(technician), sample, TYPED)
    portion = Portion.take(sample, by=technician, at=timezone.now())
    portion.sample.transition("prepared", by=technician, at=timezone.now(), reason="spilled")
    anew = TYPED | {"remove_organic_matter": "leave", "seen": str(sample.pretreatment.pk)}
    assert post(as_person(technician), sample, anew).status_code == 302
    assert sample.pretreatment.supersedes is None
    assert sample.pretreatment.in_words == "none"
    assert Portion.objects.get(pk=portion.pk).decision.in_words == "organic matter removed"


def test_a_refused_decision_is_kept_with_its_reason(as_person: Any, technician: Any, sample: Any) -> None:
    answer = post(as_person(technician), sample, TYPED | {"organic_matter_pct": "3,4"})
    assert answer.status_code == 422
    entry = Entry.objects.get(kind="pretreatment")
    assert entry.content["organic_matter_pct"] == "3,4"
    assert "has a comma" in entry.verdict.sentence
    shown = as_person(technician).get(address(sample)).content.decode()
    assert "Organic matter: 3,4" in shown


def test_the_database_refuses_a_decision_without_reason(technician: Any, sample: Any) -> None:
    removed = {"remove_organic_matter": True, "remove_carbonates": False, "remove_soluble_salts": False}
    with pytest.raises(IntegrityError, match="pretreatment_has_a_reason"), transaction.atomic():
        sample.pretreatment_decisions.create(by=technician, at=timezone.now(), reason="", **removed)
