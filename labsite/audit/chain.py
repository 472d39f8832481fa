"""
The hash chain over the history.

Every history row gets a link: the SHA-256 of the row, and the SHA-256 of the link before it, the
table's name and that digest. A row changed, removed or slipped in later breaks the chain. Links are written at
commit by a deferred trigger, one transaction at a time. Behind it only foreign keys are still checked, which wait
for nobody as long as rows are locked with `no_key=True` (tests/labsite/audit/test_audit_chain.py).

The chain shows that something was altered by somebody who could disable triggers; it does not hinder
that person. Keep its newest link, which `manage.py verify_audit` prints, outside the database.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

import pghistory.models
import pgtrigger
from django.apps import apps
from django.db import connection

from labsite.audit.models import AuditLink
from particles.distribution.spoken import spoken_count

ONE_AT_A_TIME = 741_120
"""Key of the advisory lock that orders the links."""
BLOCK = 5_000

_ROW_DIGEST = "encode(sha256(convert_to(jsonb_strip_nulls(to_jsonb({row}))::text, 'UTF8')), 'hex')"

_LINK = f"""
    PERFORM pg_advisory_xact_lock({ONE_AT_A_TIME});
    PERFORM set_config('TimeZone', 'UTC', true);
    digest := {_ROW_DIGEST.format(row="NEW")};
    SELECT chain_sha256 INTO previous FROM labsite_auditlink ORDER BY id DESC LIMIT 1;
    INSERT INTO labsite_auditlink (history_table, history_id, row_sha256, chain_sha256)
    VALUES (TG_TABLE_NAME, NEW.pgh_id, digest,
            encode(sha256(convert_to(coalesce(previous, '') || TG_TABLE_NAME || digest, 'UTF8')), 'hex'));
    RETURN NULL;
"""


def history_models() -> list[type[pghistory.models.Event]]:
    return [m for m in apps.get_models() if issubclass(m, pghistory.models.Event) and m._meta.managed]


def link_every_history_row() -> None:
    """Declare the trigger on every history table; `migrate` installs it."""
    trigger = pgtrigger.Trigger(
        name="link_to_chain",
        when=pgtrigger.After,
        operation=pgtrigger.Insert,
        timing=pgtrigger.Deferred,
        declare=[("previous", "text"), ("digest", "text")],
        func=pgtrigger.Func(_LINK.replace("{", "{{").replace("}", "}}")),
    )
    for model in history_models():
        pgtrigger.register(trigger)(model)


def chain_sha256(previous: str, table: str, row_sha256: str) -> str:
    return hashlib.sha256(f"{previous}{table}{row_sha256}".encode()).hexdigest()


@dataclass(frozen=True)
class Break:
    """A place where the chain does not hold, in words."""

    sentence: str


def verify_chain() -> tuple[int, list[Break]]:
    """Check every link against its row and the link before it. Returns the number of links and what is wrong."""
    breaks: list[Break] = []
    count, previous, after = 0, "", 0
    while links := list(AuditLink.objects.filter(pk__gt=after).order_by("pk")[:BLOCK]):
        digests = dict(_row_digests(links))
        for link in links:
            count += 1
            place = f"link {link.pk} ({link.history_table} row {link.history_id})"
            now = digests.get((link.history_table, link.history_id))
            if now is None:
                breaks.append(Break(f"{place}: the history row is gone."))
            elif now != link.row_sha256:
                breaks.append(Break(f"{place}: the history row was changed."))
            if chain_sha256(previous, link.history_table, link.row_sha256) != link.chain_sha256:
                breaks.append(Break(f"{place}: does not follow from the link before it."))
            previous = link.chain_sha256
        after = links[-1].pk
    return count, breaks + list(_unlinked())


def _row_digests(links: list[AuditLink]) -> Iterator[tuple[tuple[str, int], str]]:
    quote = connection.ops.quote_name
    with connection.cursor() as cursor:
        cursor.execute("SELECT set_config('TimeZone', 'UTC', false)")
        for table, group in groupby(sorted(links, key=lambda k: k.history_table), lambda k: k.history_table):
            ids = [link.history_id for link in group]
            cursor.execute(
                f"SELECT pgh_id, {_ROW_DIGEST.format(row='h')} FROM {quote(table)} h WHERE pgh_id = ANY(%s)",
                [ids],
            )
            for pgh_id, digest in cursor.fetchall():
                yield (table, pgh_id), digest


def _unlinked() -> Iterator[Break]:
    quote = connection.ops.quote_name
    with connection.cursor() as cursor:
        for model in history_models():
            table = model._meta.db_table
            cursor.execute(
                f"SELECT count(*) FROM {quote(table)} h WHERE NOT EXISTS "
                "(SELECT 1 FROM labsite_auditlink l WHERE l.history_table = %s AND l.history_id = h.pgh_id)",
                [table],
            )
            missing = cursor.fetchone()[0]
            if missing:
                yield Break(f"{table}: {spoken_count(missing, 'history row')} without a link.")
