"""A laboratory's own method edition: entered once, then frozen."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction

from particles.models import MethodEditionRecord

pytestmark = pytest.mark.django_db


@pytest.fixture
def own(bench: Any, capsys: Any, tmp_path: Path) -> Any:
    """The nine-reading edition as a laboratory would change it, ready to be written to a file."""
    call_command("method_edition", "--print", "hydrometer-nine-2026-4")
    plain = json.loads(capsys.readouterr().out)
    plain |= {"code": "house-2026-1", "title": "House method", "soak_minimum_h": 16.0}

    def written(**changed: Any) -> Path:
        path = tmp_path / "edition.json"
        path.write_text(json.dumps(plain | changed), encoding="utf-8")
        return path

    return written


def test_an_own_edition_is_entered_and_can_be_chosen(own: Any) -> None:
    call_command("method_edition", "--enter", str(own()))
    assert MethodEditionRecord.objects.get(code="house-2026-1").edition.soak_minimum_h == 16.0


def test_a_code_is_used_once_and_the_database_refuses_a_change(own: Any) -> None:
    call_command("method_edition", "--enter", str(own()))
    with pytest.raises(CommandError, match=r"house-2026-1 is taken.*new code"):
        call_command("method_edition", "--enter", str(own(soak_minimum_h=1.0)))
    with pytest.raises(DatabaseError, match="Cannot update"), transaction.atomic():
        MethodEditionRecord.objects.filter(code="house-2026-1").update(title="Other")
    with pytest.raises(DatabaseError, match="Cannot update or delete"), transaction.atomic():
        connection.cursor().execute("DELETE FROM particles_methodeditionrecord")


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"schedule_s": [60, 30]}, "contradicts itself"),
        ({"clay_limit_um": 60.0}, "contradicts itself"),
        ({"code": " "}, "code is empty"),
        ({"colour": "blue"}, "not the form"),
    ],
)
def test_nonsense_is_refused_with_its_reason(own: Any, changed: dict[str, Any], said: str) -> None:
    before = MethodEditionRecord.objects.count()
    with pytest.raises(CommandError, match=said):
        call_command("method_edition", "--enter", str(own(**changed)))
    assert MethodEditionRecord.objects.count() == before


def test_a_file_that_is_no_json_or_not_there_is_named(own: Any, tmp_path: Path) -> None:
    broken = tmp_path / "broken.json"
    broken.write_text("{", encoding="utf-8")
    with pytest.raises(CommandError, match=r"broken\.json"):
        call_command("method_edition", "--enter", str(broken))
    with pytest.raises(CommandError, match=r"nowhere\.json"):
        call_command("method_edition", "--enter", str(tmp_path / "nowhere.json"))


def test_an_unknown_code_is_said_to_be_unknown(own: Any) -> None:
    with pytest.raises(CommandError, match="--list"):
        call_command("method_edition", "--print", "none-such")
