"""Who may do what: the one table from role to permission strings."""

from __future__ import annotations

from django.db.models import TextChoices


class Role(TextChoices):
    RECEIVING_CLERK = "receiving clerk"
    TECHNICIAN = "technician"
    QA_OFFICER = "QA officer"
    MANAGER = "laboratory manager"
    CUSTODIAN = "equipment custodian"
    CLIENT = "client"


_STAFF = frozenset({"particles.see_all_jobs"})

PERMISSIONS: dict[str, frozenset[str]] = {
    Role.RECEIVING_CLERK: _STAFF | {"particles.receive"},
    Role.TECHNICIAN: _STAFF | {"particles.prepare", "batches.see", "batches.plan", "batches.read"},
    Role.QA_OFFICER: _STAFF
    | {"batches.see", "batches.review", "batches.see_duplicates", "reports.see_all", "reports.issue"},
    Role.MANAGER: _STAFF
    | {
        "particles.receive",
        "particles.keep_clients",
        "batches.see",
        "batches.see_duplicates",
        "reports.see_all",
        "reports.issue",
    },
    Role.CUSTODIAN: _STAFF | {"batches.see", "batches.keep_equipment"},
    Role.CLIENT: frozenset({"particles.see_own_jobs", "reports.see_own"}),
}
