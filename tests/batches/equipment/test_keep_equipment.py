"""The register of instruments and lots."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import DatabaseError, IntegrityError, transaction
from django.utils import timezone

from batches.models import Balance, Cylinder, DispersantLot, HydrometerRecord, Thermometer
from particles.records.refusals import NotPossible

pytestmark = pytest.mark.django_db


def days(**typed: Any) -> dict[str, Any]:
    today = timezone.now().date()
    return {"checked_on": today - timedelta(days=1), "due_on": today + timedelta(days=365)} | typed


def test_the_register_tells_conditions(bench: Any, qa_officer: Any, as_person: Any) -> None:
    today = timezone.now().date()
    Thermometer.objects.create(serial="T-9", checked_on=today - timedelta(9), due_on=today - timedelta(1))
    Balance.objects.create(serial="B-9", resolution_g="0.01", **days()).withdraw(on=today, reason="Dropped.")
    DispersantLot.objects.create(
        code="L-0", made_on=today - timedelta(60), expires_on=today - timedelta(1), stock_g_l=50, added_ml=100
    )
    shown = as_person(qa_officer).get("/equipment/").content.decode()
    for word in ("in service", "overdue", "withdrawn", "Dropped.", "expired", "good"):
        assert word in shown
    assert "Add a hydrometer" not in shown


@pytest.mark.parametrize(
    ("kind", "typed", "model"),
    [
        ("cylinder", days(serial="C-90", inner_area_cm2="27.8", volume_ml="1001.5"), Cylinder),
        ("balance", days(serial="B-90", resolution_g="0.01"), Balance),
        ("thermometer", days(serial="T-90", correction_c="-0.2"), Thermometer),
        (
            "hydrometer",
            days(
                serial="H-90",
                scale="152H",
                depth_intercept_cm="16.3",
                depth_slope_cm_per_unit="0.164",
                meniscus_correction="0.5",
                insertion_displacement_cm="0",
                scale_minimum="-5",
                scale_maximum="60",
            ),
            HydrometerRecord,
        ),
    ],
)
def test_an_instrument_is_added_by_the_custodian(
    custodian: Any, as_person: Any, kind: str, typed: dict[str, Any], model: Any
) -> None:
    client, address = as_person(custodian), f"/equipment/{kind}/new/"
    assert client.get(address).status_code == 200
    assert client.post(address, typed).status_code == 302
    assert model.objects.get(serial=typed["serial"]).condition(timezone.now().date()) == "in service"
    again = client.post(address, typed)
    assert again.status_code == 422
    assert "in the register already" in again.content.decode()


def _lot(code: str) -> dict[str, Any]:
    today = timezone.now().date()
    return {
        "code": code,
        "substance": "sodium hexametaphosphate",
        "made_on": today,
        "expires_on": today + timedelta(days=30),
        "stock_g_l": "50",
        "added_ml": "100",
    }


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"stock_g_l": "900"}, "gives 90 g/L in a cylinder of 1000 mL"),
        ({"stock_g_l": "101"}, "gives 10.1 g/L"),
        ({"stock_g_l": "1.9"}, "gives 0.19 g/L"),
        ({"substance": "table salt"}, "substance"),
        ({"substance": ""}, "Nothing was typed here"),
    ],
)
def test_a_lot_no_cylinder_holds_or_nobody_knows_is_refused(
    custodian: Any, as_person: Any, typed: dict[str, str], words: str
) -> None:
    answer = as_person(custodian).post("/equipment/dispersant-lot/new/", _lot("L-91") | typed)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not DispersantLot.objects.filter(code="L-91").exists()


@pytest.mark.parametrize("stock_g_l", ["100", "2"])
def test_a_lot_at_either_end_of_what_is_usual_is_taken(
    custodian: Any, as_person: Any, stock_g_l: str
) -> None:
    typed = _lot("L-92") | {"stock_g_l": stock_g_l}
    assert as_person(custodian).post("/equipment/dispersant-lot/new/", typed).status_code == 302
    page = as_person(custodian).get("/equipment/").content.decode()
    assert f"sodium hexametaphosphate, {stock_g_l} g/L, 100 mL to each cylinder" in page


def test_an_implausible_lot_of_earlier_days_is_told_and_not_used(custodian: Any, as_person: Any) -> None:
    today = timezone.now().date()
    old = DispersantLot.objects.create(
        code="L-93", made_on=today, expires_on=today + timedelta(days=9), stock_g_l=900, added_ml=100
    )
    assert "It gives 90 g/L" in as_person(custodian).get("/equipment/").content.decode()
    with pytest.raises(NotPossible, match="gives 90 g/L"):
        old.require_usable(today)


def test_a_lot_is_added_and_must_expire_after_it_was_made(custodian: Any, as_person: Any) -> None:
    today, client = timezone.now().date(), as_person(custodian)
    typed = _lot("L-90") | {"expires_on": today}
    refused = client.post("/equipment/dispersant-lot/new/", typed)
    assert refused.status_code == 422
    assert "is not after" in refused.content.decode()
    client.post("/equipment/dispersant-lot/new/", typed | {"expires_on": today + timedelta(days=30)})
    assert DispersantLot.objects.get(code="L-90").added_ml == 100


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"meniscus_correction": "-1"}, "Write it positive"),
        ({"scale_maximum": "-6"}, "not above the lowest mark"),
        ({"depth_slope_cm_per_unit": "0,164"}, "comma"),
        ({"checked_on": "2200-01-01"}, "has not come yet"),
    ],
)
def test_figures_that_cannot_be_are_refused(
    custodian: Any, as_person: Any, typed: dict[str, str], words: str
) -> None:
    good = days(
        serial="H-91",
        scale="152H",
        depth_intercept_cm="16.3",
        depth_slope_cm_per_unit="0.164",
        meniscus_correction="0.5",
        insertion_displacement_cm="0",
        scale_minimum="-5",
        scale_maximum="60",
    )
    answer = as_person(custodian).post("/equipment/hydrometer/new/", good | typed)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not HydrometerRecord.objects.exists()


def test_withdrawing_needs_a_reason_and_happens_once(bench: Any, custodian: Any, as_person: Any) -> None:
    client, address = as_person(custodian), f"/equipment/hydrometer/{bench.hydrometer.pk}/withdraw/"
    assert client.post(address, {"reason": ""}).status_code == 422
    assert client.post(address, {"reason": "Cracked bulb."}).status_code == 302
    bench.hydrometer.refresh_from_db()
    assert bench.hydrometer.condition(timezone.now().date()) == "withdrawn"
    assert client.post(address, {"reason": "Again."}).status_code == 404


@pytest.mark.parametrize("person", ["technician", "qa_officer", "clerk", "client_person"])
def test_only_the_custodian_changes_the_register(
    bench: Any, as_person: Any, request: pytest.FixtureRequest, person: str
) -> None:
    client = as_person(request.getfixturevalue(person))
    assert client.get("/equipment/balance/new/").status_code == 403
    assert client.post(f"/equipment/balance/{bench.balance.pk}/withdraw/", {"reason": "x"}).status_code == 403
    assert client.get("/equipment/").status_code == (200 if person in ("technician", "qa_officer") else 403)


def test_a_check_moves_the_due_day_and_not_the_calibration(
    bench: Any, custodian: Any, as_person: Any
) -> None:
    today = timezone.localdate()
    place = f"/equipment/hydrometer/{bench.hydrometer.pk}/check/"
    typed = {"checked_on": today, "due_on": today + timedelta(days=400), "certificate": "K-2"}
    assert as_person(custodian).post(place, typed).status_code == 302
    bench.hydrometer.refresh_from_db()
    assert (bench.hydrometer.checked_on, bench.hydrometer.certificate) == (today, "K-2")
    late = typed | {"checked_on": today + timedelta(days=1)}
    assert as_person(custodian).post(place, late).status_code == 409


def test_others_cannot_record_a_check(bench: Any, technician: Any, as_person: Any) -> None:
    place = f"/equipment/hydrometer/{bench.hydrometer.pk}/check/"
    assert as_person(technician).post(place, {}).status_code == 403


def test_the_database_keeps_a_calibration_as_it_was(bench: Any) -> None:
    with pytest.raises(DatabaseError, match="calibration_stays"), transaction.atomic():
        HydrometerRecord.objects.update(meniscus_correction=2)


def test_a_withdrawn_serial_is_entered_anew_with_other_values(bench: Any) -> None:
    old = bench.thermometer
    old.withdraw(on=timezone.localdate(), reason="Recalibrated.")
    Thermometer.objects.create(serial=old.serial, correction_c="0.4", **days())
    with pytest.raises(IntegrityError), transaction.atomic():
        Thermometer.objects.create(serial=old.serial, correction_c="0.5", **days())
