"""The history is complete and linked; what was altered behind the triggers shows."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from labsite.audit.chain import history_models, verify_chain
from labsite.audit.models import AuditLink
from particles.models import Client
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)


def raw(sql: str) -> None:
    """As somebody who may switch triggers off."""
    with connection.cursor() as cursor:
        cursor.execute("SET session_replication_role = replica")
        try:
            cursor.execute(sql)
        finally:
            cursor.execute("SET session_replication_role = DEFAULT")


@pytest.fixture
def renamed_client() -> Client:
    made = factories.client()
    Client.objects.filter(pk=made.pk).update(contact="Somebody new")
    return made


def test_an_untouched_chain_holds_and_covers_every_history_row(renamed_client: Client, capsys: Any) -> None:
    count, breaks = verify_chain()
    assert breaks == []
    assert count == sum(model._default_manager.count() for model in history_models()) >= 2
    call_command("verify_audit")
    assert "links hold" in capsys.readouterr().out


def test_a_bulk_update_and_raw_sql_leave_history_too(renamed_client: Client) -> None:
    with connection.cursor() as cursor:
        cursor.execute("UPDATE particles_client SET contact = 'raw'")
    events = renamed_client.events.order_by("pgh_id")  # type: ignore[attr-defined]
    assert [e.contact for e in events] == ["Office", "Somebody new", "raw"]


def test_a_changed_history_row_breaks_it(renamed_client: Client) -> None:
    raw("UPDATE particles_clientevent SET contact = 'never said' WHERE contact = 'Office'")
    _, breaks = verify_chain()
    assert ["was changed" in b.sentence for b in breaks] == [True]
    with pytest.raises(CommandError, match="1 break"):
        call_command("verify_audit")


def test_a_removed_history_row_breaks_it(renamed_client: Client) -> None:
    raw("DELETE FROM particles_clientevent WHERE contact = 'Office'")
    _, breaks = verify_chain()
    assert ["is gone" in b.sentence for b in breaks] == [True]


def test_a_removed_link_breaks_it(renamed_client: Client) -> None:
    raw(f"DELETE FROM labsite_auditlink WHERE id = {AuditLink.objects.order_by('pk')[0].pk}")
    _, breaks = verify_chain()
    assert {"does not follow" in b.sentence or "without a link" in b.sentence for b in breaks} == {True}
    assert len(breaks) == 2


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE particles_clientevent SET contact = 'x'",
        "DELETE FROM particles_clientevent",
        "DELETE FROM labsite_auditlink",
        "UPDATE labsite_auditlink SET row_sha256 = ''",
    ],
)
def test_the_database_refuses_to_alter_history(renamed_client: Client, sql: str) -> None:
    with pytest.raises(Exception, match=r"Cannot (update|delete)"), connection.cursor() as cursor:
        cursor.execute(sql)
