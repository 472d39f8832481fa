"""What every page knows: the laboratory, who is logged in, and where that person may go."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.urls import reverse

from particles.models import Laboratory

# (permission, name of the URL, words)
PLACES = [
    ("particles.receive", "particles:arrivals", "Arrivals"),
    ("particles.prepare", "batches:preparation", "Preparation"),
    ("batches.plan", "batches:weighing", "Weighing"),
    ("batches.see", "batches:list", "Batches"),
    ("batches.review", "batches:review_list", "Review"),
    ("batches.see_duplicates", "batches:duplicates", "Duplicates"),
    ("reports.see_all", "reports:certificates", "Certificates"),
    ("batches.see", "batches:equipment", "Equipment"),
    ("particles.keep_clients", "particles:clients", "Clients"),
    ("particles.see_own_jobs", "reports:my_jobs", "My jobs"),
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
