"""Adds and changes log-ins from the command line."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

import pghistory
from django.core.management.base import BaseCommand, CommandError

from labsite.people import rules
from labsite.people.models import User
from labsite.people.roles import Role
from particles.records.refusals import RuleRefusal


class Command(BaseCommand):
    """manage.py person: adds a log-in, gives roles, closes or reopens it."""

    help = (
        "Makes a log-in, or gives an existing one other roles. A new person, or one with --new-password, gets a "
        "password that is printed once and should be changed at the first log-in. A closed log-in stays closed until "
        "--reopen."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name", help="the name to log in with")
        parser.add_argument("--full-name", default=None, metavar="NAME")
        parser.add_argument("--role", action="append", choices=list(Role.values), help="may be given again")
        parser.add_argument("--new-password", action="store_true")
        standing = parser.add_mutually_exclusive_group()
        standing.add_argument("--left", action="store_true", help="the person left: the log-in is closed")
        standing.add_argument("--reopen", action="store_true", help="a closed log-in is opened again")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            with pghistory.context(command="manage.py person"):
                person = self._keep(**options)
        except RuleRefusal as refusal:
            raise CommandError(str(refusal)) from refusal
        person.refresh_from_db()
        standing = ", ".join(person.roles) or "no role"
        self.stdout.write(f"{person} ({person.username}): {standing if person.is_active else 'closed'}")

    def _keep(self, name: str, full_name: str | None, role: list[str] | None, **asked: Any) -> User:
        person = User.objects.filter(username=name).first()
        made = person is None
        if person is None:
            person = rules.add_person(username=name, full_name=full_name or "", initials="", roles=role or [])
        if asked["reopen"]:
            rules.reopen(person)
        rules.change_person(person, by=None, full_name=full_name, roles=role)
        if made or asked["new_password"]:
            self.stdout.write(f"password of {person.username}: {rules.new_password(person, by=None)}")
        if asked["left"]:
            rules.close(person, by=None)
        return person
