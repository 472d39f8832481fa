"""The commands with which a real laboratory begins."""

from __future__ import annotations

from typing import Any

import pytest
from django.contrib.auth import authenticate, get_user_model
from django.core.management import CommandError, call_command

from batches.planning.rules import samples_per_duplicate
from particles.models import Laboratory, MethodEditionRecord, RegulatedArea

pytestmark = pytest.mark.django_db


def test_a_person_gets_a_password_once_and_another_role_later(capsys: Any) -> None:
    call_command("person", "nora", "--full-name", "Nora Example", "--role", "technician")
    password = capsys.readouterr().out.split("password of nora: ")[1].split()[0]
    person = authenticate(None, username="nora", password=password)
    assert person is not None
    assert (str(person), person.roles) == ("Nora Example", ["technician"])
    call_command("person", "nora", "--role", "QA officer", "--role", "laboratory manager")
    assert "password" not in capsys.readouterr().out
    person.refresh_from_db()
    assert person.roles == ["QA officer", "laboratory manager"]


def test_somebody_who_left_cannot_log_in(capsys: Any) -> None:
    call_command("person", "nora", "--role", "technician")
    password = capsys.readouterr().out.split("password of nora: ")[1].split()[0]
    call_command("person", "nora", "--left")
    assert authenticate(None, username="nora", password=password) is None
    assert get_user_model().objects.get(username="nora").roles == ["technician"]


@pytest.mark.parametrize("words", [("--role", "QA officer"), ("--full-name", "Nora Again")])
def test_a_closed_log_in_stays_closed_whatever_else_is_changed(words: tuple[str, ...], capsys: Any) -> None:
    call_command("person", "nora", "--role", "technician")
    call_command("person", "nora", "--left")
    call_command("person", "nora", *words)
    assert not get_user_model().objects.get(username="nora").is_active
    assert "closed" in capsys.readouterr().out.splitlines()[-1]


def test_a_closed_log_in_gets_no_new_password(capsys: Any) -> None:
    call_command("person", "nora", "--role", "technician")
    call_command("person", "nora", "--left")
    with pytest.raises(CommandError, match="Open it again first"):
        call_command("person", "nora", "--new-password")
    assert not get_user_model().objects.get(username="nora").is_active
    call_command("person", "nora", "--new-password", "--reopen")
    password = capsys.readouterr().out.rsplit("password of nora: ", 1)[1].split()[0]
    assert authenticate(None, username="nora", password=password) is not None


def test_a_closed_log_in_is_opened_again_only_when_told_to(capsys: Any) -> None:
    call_command("person", "nora", "--role", "technician")
    call_command("person", "nora", "--left")
    call_command("person", "nora", "--reopen")
    assert get_user_model().objects.get(username="nora").is_active
    with pytest.raises(CommandError, match="not allowed with argument"):
        call_command("person", "nora", "--reopen", "--left")


def test_a_laboratory_is_entered_whole_and_changed_in_parts() -> None:
    with pytest.raises(CommandError, match="needs a name, an address and a contact"):
        call_command("laboratory", "--name", "Our Laboratory")
    call_command("laboratory", "--name", "Our Laboratory", "--address", "1 Lane", "--contact", "office")
    call_command("laboratory", "--contact", "desk", "--regulated", "Farland", "", "keep sealed")
    laboratory = Laboratory.objects.get()
    assert (laboratory.name, laboratory.contact, laboratory.invented) == ("Our Laboratory", "desk", False)
    assert RegulatedArea.objects.get().rule == "keep sealed"


def test_a_laboratory_sets_how_many_samples_share_a_duplicate() -> None:
    with pytest.raises(CommandError, match="Enter the laboratory first"):
        call_command("laboratory", "--samples-per-duplicate", "5")
    call_command("laboratory", "--name", "Our Laboratory", "--address", "1 Lane", "--contact", "office")
    assert samples_per_duplicate() == 10
    for rate in (5, 0):
        call_command("laboratory", "--samples-per-duplicate", str(rate))
        assert samples_per_duplicate() == rate
    for impossible in ("-1", "24"):
        with pytest.raises(CommandError, match="outside 0 to 23"):
            call_command("laboratory", f"--samples-per-duplicate={impossible}")
    assert samples_per_duplicate() == 0


def test_a_new_database_knows_the_shipped_editions() -> None:
    call_command("migrate", verbosity=0)
    assert MethodEditionRecord.objects.filter(code="hydrometer-nine-2026-4").exists()
