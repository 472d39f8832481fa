"""The one table of roles: what each is there for, and its permissions."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import TextChoices

from labsite.people.permissions import Permission


class Role(TextChoices):
    """A role of the laboratory; a person may hold several."""

    RECEIVING_CLERK = "receiving clerk"
    TECHNICIAN = "technician"
    QA_OFFICER = "QA officer"
    MANAGER = "laboratory manager"
    CUSTODIAN = "equipment custodian"
    CLIENT = "client"


SENTENCES: dict[Role, str] = {
    Role.RECEIVING_CLERK: "Receives the soil and keeps the laboratory's word with the client about each bag.",
    Role.TECHNICIAN: "Prepares, weighs, sieves and reads; never signs a batch.",
    Role.QA_OFFICER: "Reviews and signs batches and issues certificates; never reads at the bench.",
    Role.MANAGER: "Keeps the laboratory, its people and its clients, and issues certificates; never signs a batch.",
    Role.CUSTODIAN: "Keeps the instruments and the dispersant lots.",
    Role.CLIENT: "Sees the jobs and certificates of the clients they were added to, and nothing else.",
}
"""The purpose of each role, in a sentence."""

_STAFF = frozenset({Permission.SEE_ALL_JOBS})

PERMISSIONS: dict[Role, frozenset[Permission]] = {
    Role.RECEIVING_CLERK: _STAFF | {Permission.RECEIVE},
    Role.TECHNICIAN: _STAFF
    | {
        Permission.PREPARE,
        Permission.SEE_BATCHES,
        Permission.PLAN,
        Permission.READ,
        Permission.PLAN_DAY,
    },
    Role.QA_OFFICER: _STAFF
    | {
        Permission.SEE_BATCHES,
        Permission.SEE_REVIEWS,
        Permission.REVIEW,
        Permission.SEE_DUPLICATES,
        Permission.KEEP_LIMITS,
        Permission.SEE_READERS,
        Permission.SEE_ROUNDS,
        Permission.KEEP_ROUNDS,
        Permission.SEE_CERTIFICATES,
        Permission.ISSUE,
    },
    Role.MANAGER: _STAFF
    | {
        Permission.RECEIVE,
        Permission.KEEP_CLIENTS,
        Permission.KEEP_LABORATORY,
        Permission.KEEP_PEOPLE,
        Permission.SEE_BATCHES,
        Permission.PLAN_DAY,
        Permission.SEE_REVIEWS,
        Permission.SEE_DUPLICATES,
        Permission.KEEP_LIMITS,
        Permission.SEE_READERS,
        Permission.SEE_ROUNDS,
        Permission.SEE_CERTIFICATES,
        Permission.ISSUE,
    },
    Role.CUSTODIAN: _STAFF | {Permission.SEE_BATCHES, Permission.KEEP_EQUIPMENT},
    Role.CLIENT: frozenset({Permission.SEE_OWN_JOBS, Permission.SEE_OWN_CERTIFICATES}),
}


@dataclass(frozen=True)
class RoleInWords:
    """One role as a page shows it."""

    name: str
    sentence: str
    may: list[str]
    """Its permissions as sentences, in the order of the work."""


def in_words() -> list[RoleInWords]:
    """Every role with what it is there for and what it may do."""
    return [
        RoleInWords(role.value, SENTENCES[role], [p.sentence for p in Permission if p in PERMISSIONS[role]])
        for role in Role
    ]
