"""The context of every page: the laboratory, who is logged in, and where that person may go."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.urls import reverse

from labsite.people.permissions import Permission
from particles.models import Laboratory

# (permission, name of the URL, label)
PLACES = [
    (Permission.RECEIVE, "particles:arrivals", "Arrivals"),
    (Permission.PREPARE, "batches:preparation", "Preparation"),
    (Permission.PLAN, "batches:weighing", "Weighing"),
    (Permission.SEE_REVIEWS, "batches:review_list", "Review"),
    (Permission.SEE_BATCHES, "batches:list", "Batches"),
    (Permission.READ, "batches:room", "Bench"),
    (Permission.PLAN_DAY, "batches:bench_day", "Bench day"),
    (Permission.SEE_DUPLICATES, "batches:quality", "Quality"),
    (Permission.SEE_READERS, "batches:readers", "Readers"),
    (Permission.SEE_ROUNDS, "batches:rounds", "Rounds"),
    (Permission.SEE_CERTIFICATES, "reports:certificates", "Certificates"),
    (Permission.SEE_BATCHES, "batches:equipment", "Equipment"),
    (Permission.KEEP_CLIENTS, "particles:clients", "Clients"),
    (Permission.KEEP_LABORATORY, "particles:laboratory", "Laboratory"),
    (Permission.KEEP_PEOPLE, "people:people", "People"),
    (Permission.SEE_OWN_JOBS, "reports:my_jobs", "My jobs"),
]


def page(request: HttpRequest) -> dict[str, Any]:
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return {"laboratory": Laboratory.objects.first(), "navigation": []}
    may = user.get_all_permissions()
    navigation = []
    for permission, name, label in PLACES:
        if permission in may:
            url = reverse(name)
            navigation.append({"url": url, "label": label, "current": request.path.startswith(url)})
    return {
        "laboratory": Laboratory.objects.first(),
        "navigation": navigation,
        "role_names": [*user.roles],
    }
