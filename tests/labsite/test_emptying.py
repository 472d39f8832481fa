"""What a test that commits leaves to the next one."""

from __future__ import annotations

import pytest
from django.apps import apps

from tests.support import factories
from tests.support.emptying import empty_tables

pytestmark = pytest.mark.django_db(transaction=True)

OF_MIGRATE = {"ContentType", "Permission", "MethodEditionRecord", "MethodEditionRecordEvent", "AuditLink"}


def test_nothing_is_left_but_what_migrate_writes() -> None:
    factories.client()
    empty_tables(None)
    managed = [model for model in apps.get_models() if model._meta.managed]
    assert {m.__name__ for m in managed if m._default_manager.exists()} == OF_MIGRATE


def test_the_triggers_work_on_afterwards() -> None:
    empty_tables(None)
    assert factories.client().events.count() == 1  # type: ignore[attr-defined]
