from __future__ import annotations

import secrets
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from labsite.people.models import User
from labsite.people.roles import Role


class Command(BaseCommand):
    help = (
        "Makes a log-in, or gives an existing one other roles. A new person, or one with --new-password, gets a "
        "password that is printed once and should be changed at the first log-in. A closed log-in stays closed until "
        "--reopen."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name", help="the name to log in with")
        parser.add_argument("--full-name", default="", metavar="NAME")
        parser.add_argument("--role", action="append", choices=list(Role.values), help="may be given again")
        parser.add_argument("--new-password", action="store_true")
        standing = parser.add_mutually_exclusive_group()
        standing.add_argument("--left", action="store_true", help="the person left: the log-in is closed")
        standing.add_argument("--reopen", action="store_true", help="a closed log-in is opened again")

    def handle(self, *args: Any, **options: Any) -> None:
        person, made = User.objects.get_or_create(username=options["name"])
        if options["full_name"]:
            person.first_name, _, person.last_name = options["full_name"].partition(" ")
        if options["role"] is not None:
            person.roles = options["role"]
        if options["left"] or options["reopen"]:
            person.is_active = options["reopen"]
        if made or options["new_password"]:
            password = secrets.token_urlsafe(12)
            person.set_password(password)
            self.stdout.write(f"password of {person.username}: {password}")
        person.save()
        standing = ", ".join(person.roles) or "no role"
        self.stdout.write(f"{person} ({person.username}): {standing if person.is_active else 'closed'}")
