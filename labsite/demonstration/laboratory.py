"""The invented laboratory: its people, instruments, clients and open work. Making it twice changes nothing."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from batches.models import Balance, Cylinder, DispersantLot, HydrometerRecord, Thermometer
from labsite.people.models import User
from labsite.people.roles import Role
from particles.models import Client, ClientPerson, Job, Laboratory, MethodEditionRecord, RegulatedArea
from particles.records.refusals import NotPossible

SECRET = "invented-soil-2026"
"""Every demonstration log-in has this password. Never use it for a real laboratory."""

PEOPLE = {
    Role.RECEIVING_CLERK: ("rosa", "Rosa Lindqvist-Example"),
    Role.TECHNICIAN: ("tarik", "Tarik Moor-Example"),
    Role.QA_OFFICER: ("quirin", "Quirin Vale-Example"),
    Role.MANAGER: ("maud", "Maud Sandell-Example"),
    Role.CUSTODIAN: ("cleo", "Cleo Stemme-Example"),
    Role.CLIENT: ("iris", "Iris Hollin-Example"),
}
METHOD = "hydrometer-nine-2026-4"


def person(role: Role) -> User:
    return User.objects.get(username=PEOPLE[role][0])


def build(*, at: datetime) -> None:
    """Make whatever of the invented laboratory is missing."""
    existing = Laboratory.objects.first()
    if existing is not None and not existing.invented:
        raise NotPossible(
            f"This database belongs to {existing.name}. The demonstration is never mixed into a real laboratory's "
            "records: give it a database of its own with DATABASE_URL, or another SILTBOOK_HOME."
        )
    Laboratory.objects.get_or_create(
        pk=1,
        defaults={
            "name": "Brackwater Lane Soil Laboratory",
            "address": "7 Brackwater Lane, Exampleton, Examplia",
            "contact": "office@brackwater.example",
            "invented": True,
        },
    )
    for role, (name, full) in PEOPLE.items():
        _person(role, name, full)
    RegulatedArea.objects.get_or_create(
        country="Farland",
        region="Cyst County",
        rule="invented rule: no opening without a permit",
        listed_on=at.date().replace(month=1, day=1),
    )
    _instruments(at)
    _clients(at)
    _open_work(at)


def _person(role: Role, name: str, full: str) -> None:
    first, last = full.split(" ", 1)
    user, made = User.objects.get_or_create(
        username=name,
        defaults={"first_name": first, "last_name": last, "roles": [role], "initials": name[:2]},
    )
    if made:
        user.set_password(SECRET)
        user.save()


def _instruments(at: datetime) -> None:
    day = at.date()
    good: dict[str, Any] = {"checked_on": day - timedelta(days=40), "due_on": day + timedelta(days=320)}
    stem = {
        "scale": "152H",
        "depth_intercept_cm": Decimal("16.295"),
        "depth_slope_cm_per_unit": Decimal("0.1641"),
        "meniscus_correction": Decimal("1"),
        "insertion_displacement_cm": Decimal("1.2"),
        "scale_minimum": Decimal("-5"),
        "scale_maximum": Decimal("60"),
        "certificate": "invented",
    }
    HydrometerRecord.objects.get_or_create(serial="HY-07", defaults=stem | good)
    HydrometerRecord.objects.get_or_create(
        serial="HY-02",
        defaults=stem | {"checked_on": day - timedelta(days=400), "due_on": day - timedelta(days=35)},
    )
    Thermometer.objects.get_or_create(serial="TH-3", defaults={"correction_c": Decimal("0.1")} | good)
    Balance.objects.get_or_create(serial="BA-1", defaults={"resolution_g": Decimal("0.01")} | good)
    for n in range(1, 25):
        Cylinder.objects.get_or_create(serial=f"{n:02d}", defaults={"inner_area_cm2": Decimal("27.8")} | good)
    if not DispersantLot.objects.filter(
        expires_on__gte=day + timedelta(days=1), made_on__lte=day - timedelta(days=8)
    ):
        made_on = day - timedelta(days=12)
        DispersantLot.objects.create(
            code=f"DX-{made_on:%y%m%d}",
            made_on=made_on,
            expires_on=made_on + timedelta(days=31),
            stock_g_l=50,
            added_ml=100,
        )


def _clients(at: datetime) -> None:
    hollin, _ = Client.objects.get_or_create(
        name="Hollin Estate", defaults={"address": "Hollin, Examplia", "contact": "Iris Hollin-Example"}
    )
    Client.objects.get_or_create(
        name="Quayside Works", defaults={"address": "2 Quay, Exampleton", "contact": "Site office"}
    )
    ClientPerson.objects.get_or_create(
        client=hollin,
        user=person(Role.CLIENT),
        defaults={
            "granted_by": person(Role.MANAGER),
            "granted_at": at,
            "consent": "letter in the client's file",
        },
    )


def _open_work(at: datetime) -> None:
    """Two small jobs that still wait for somebody, so that no first screen is empty."""
    clerk = person(Role.RECEIVING_CLERK)
    method = MethodEditionRecord.objects.get(code=METHOD)
    for client, reference, lines in (
        (
            "Quayside Works",
            "QW-open",
            [
                {"client_label": f"TP{n}", "depth_text": "40-60 cm", "origin_country": "Examplia"}
                for n in (1, 2, 3)
            ],
        ),
        (
            "Hollin Estate",
            "HE-far",
            [{"client_label": "Far plot", "origin_country": "Farland", "origin_region": "Cyst County"}],
        ),
    ):
        if not Job.objects.filter(client_reference=reference).exists():
            Job.log(
                client=Client.objects.get(name=client),
                client_reference=reference,
                method=method,
                lines=lines,
                by=clerk,
                at=at,
            )
