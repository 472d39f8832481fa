"""The door for what a tablet sends: one entry, kept and judged, and the response to it."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import PermissionDenied
from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from batches.bench.rules import may_have_taken
from batches.entries.door import receive
from batches.entries.kinds import BENCH_FORMS
from batches.entries.pages import entry_name, whats_unkeepable
from particles.records.person import signed_in


class EntriesView(APIView):
    """
    One entry as a tablet sends it: {"entry_id", "kind", "content": {name: text}, "by": person}.

    `by` is who took it. On a shared tablet somebody else may be logged in by the time it is
    sent; it then stays on the tablet, because nobody's work is booked under another name, unless
    that person hands it in as a witness (`"witnessed": true`): both names are kept.
    """

    def post(self, request: Request) -> Response:
        if not request.user.has_perm("batches.read"):
            raise PermissionDenied
        sent = request.data if isinstance(request.data, dict) else {}
        wrong = _whats_malformed(sent)
        if wrong:
            return Response({"stored": False, "sentence": wrong}, status=400)
        by, witness = signed_in(request), None
        if "by" in sent and sent["by"] != by.pk:
            if sent.get("witnessed") is not True:
                return Response(_another_person(request), status=403)
            taker = may_have_taken(sent["by"])
            if taker is None:
                return Response({"stored": False, "sentence": NOBODY}, status=403)
            by, witness = taker, by
        response = receive(
            entry_name(sent["entry_id"]),
            sent["kind"],
            sent["content"],
            by=by,
            at=timezone.now(),
            device=request.headers.get("User-Agent", ""),
            witness=witness,
        )
        context = {
            "stored": response.stored,
            "sentence": response.sentence,
            "field_errors": response.field_errors,
            "repeated": response.repeated,
        }
        return Response(context, status=response.status)


NOBODY = (
    "Whoever took this entry may not read at the bench, so it is not handed in. Save it as a file, and let the manager "
    "see whose it is."
)


def _another_person(request: Request) -> dict[str, Any]:
    return {
        "stored": False,
        "another_person": True,
        "sentence": f"This entry was taken by somebody else; {request.user} is logged in. It stays on the tablet "
        "until the person who took it logs in, or somebody hands it in as a witness.",
    }


def _whats_malformed(sent: dict[str, Any]) -> str:
    try:
        entry_name(sent.get("entry_id"))
    except ValueError:
        return "The entry carries no name. Reload the bench and take it again."
    if not isinstance(sent.get("kind"), str) or sent["kind"] not in BENCH_FORMS:
        return f"This is not a kind of entry. Known: {', '.join(BENCH_FORMS)}."
    return whats_unkeepable(sent.get("content"))
