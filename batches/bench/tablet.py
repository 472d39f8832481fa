"""The door for what a tablet sends: one entry, kept and judged, and the response to it."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import PermissionDenied
from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from batches.entries.door import receive
from batches.entries.kinds import BENCH_FORMS
from batches.entries.pages import entry_name, whats_unkeepable
from particles.records.person import signed_in


class EntriesView(APIView):
    """
    One entry as a tablet sends it: {"entry_id", "kind", "content": {name: text}, "by": person}.

    `by` is who took it. On a shared tablet somebody else may be logged in by the time it is
    sent; it then stays on the tablet, because nobody's work is booked under another name.
    """

    def post(self, request: Request) -> Response:
        if not request.user.has_perm("batches.read"):
            raise PermissionDenied
        sent = request.data if isinstance(request.data, dict) else {}
        wrong = _whats_malformed(sent)
        if wrong:
            return Response({"stored": False, "sentence": wrong}, status=400)
        if "by" in sent and sent["by"] != request.user.pk:
            return Response(_another_person(request), status=403)
        response = receive(
            entry_name(sent["entry_id"]),
            sent["kind"],
            sent["content"],
            by=signed_in(request),
            at=timezone.now(),
            device=request.headers.get("User-Agent", ""),
        )
        context = {
            "stored": response.stored,
            "sentence": response.sentence,
            "field_errors": response.field_errors,
            "repeated": response.repeated,
        }
        return Response(context, status=response.status)


def _another_person(request: Request) -> dict[str, Any]:
    return {
        "stored": False,
        "another_person": True,
        "sentence": f"This entry was taken by somebody else; {request.user} is logged in. It stays on the tablet "
        "until the person who took it logs in.",
    }


def _whats_malformed(sent: dict[str, Any]) -> str:
    try:
        entry_name(sent.get("entry_id"))
    except ValueError:
        return "The entry carries no name. Reload the bench and take it again."
    if not isinstance(sent.get("kind"), str) or sent["kind"] not in BENCH_FORMS:
        return f"This is not a kind of entry. Known: {', '.join(BENCH_FORMS)}."
    return whats_unkeepable(sent.get("content"))
