"""
Who has a log-in and which roles: one set of rules for the pages of the manager and for `manage.py person`.

`by` is the manager who decides, None for the command. `seen` is the last change when the page was made
(`last_change`), None without a page. Asked for twice, an act is done once.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterable

import pghistory
from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.models import Session
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import Q

from labsite.people.models import RENEWED, User
from labsite.people.roles import Role
from particles.records.history import require_unchanged
from particles.records.refusals import AlreadyThere, NotPossible, NotThisPerson, WrongState

PASSWORD_BYTES = 12
"""Random bytes of a password that the program makes; 16 characters."""


def as_asked(*, username: str, full_name: str, initials: str, roles: Iterable[str]) -> User:
    """A person as asked for, kept nowhere yet."""
    made = User(username=username, initials=initials.strip(), roles=_sorted(roles))
    _name(made, full_name)
    return made


@transaction.atomic
def add_person(*, username: str, full_name: str, initials: str, roles: Iterable[str]) -> User:
    """Make a log-in without a password, which is given in an act of its own."""
    try:
        User.username_validator(username)
    except ValidationError as error:
        raise NotPossible(f"“{username}”: {error.messages[0]}") from error
    made = as_asked(username=username, full_name=full_name, initials=initials, roles=roles)
    known = User.objects.filter(username__iexact=username).first()
    if known is None:
        made.set_unusable_password()
        try:
            with transaction.atomic():
                made.save()
        except IntegrityError as error:
            raise AlreadyThere(f"Somebody has just made a log-in “{username}”. Look at the list.") from error
        return made
    if not is_the_same(known, made):
        raise AlreadyThere(f"“{known.username}” is the log-in of {known} already.")
    return known


def is_the_same(known: User, other: User) -> bool:
    """Whether a log-in asked for is one just made: nothing of it differs and it has no password yet."""
    told = ("username", "first_name", "last_name", "initials", "roles")
    return not known.has_usable_password() and all(getattr(known, n) == getattr(other, n) for n in told)


@transaction.atomic
def change_person(
    person: User,
    *,
    by: User | None,
    seen: int | None = None,
    full_name: str | None = None,
    initials: str | None = None,
    roles: Iterable[str] | None = None,
) -> bool:
    """Give and take roles, correct the name; None: as it is. Returns whether anything changed."""
    held, managers = _held(person)
    before = (held.first_name, held.last_name, held.initials, held.roles)
    was_manager = Role.MANAGER in held.roles
    if full_name is not None:
        _name(held, full_name)
    if initials is not None:
        held.initials = initials.strip()
    if roles is not None:
        held.roles = _sorted(roles)
    if (held.first_name, held.last_name, held.initials, held.roles) == before:
        return False
    require_unchanged(held, seen=seen)
    if was_manager and Role.MANAGER not in held.roles:
        if by is not None and by.pk == held.pk:
            raise NotThisPerson(
                f"Nobody takes the role {Role.MANAGER} from themselves; another manager does."
            )
        _require_another_manager(held, managers)
    held.save()
    return True


@transaction.atomic
def close(person: User, *, by: User | None, seen: int | None = None) -> None:
    """Close a log-in and end its sessions; what the person did stays on record under their name."""
    held, managers = _held(person)
    if by is not None and by.pk == held.pk:
        raise NotThisPerson("Nobody closes their own log-in; another manager does.")
    if held.is_active:
        require_unchanged(held, seen=seen)
        if Role.MANAGER in held.roles:
            _require_another_manager(held, managers)
        held.is_active = False
        held.save(update_fields=["is_active"])
    _end_sessions(held)


@transaction.atomic
def reopen(person: User, *, seen: int | None = None) -> None:
    """Open a closed log-in again, with the roles and the password it had."""
    held, _ = _held(person)
    if not held.is_active:
        require_unchanged(held, seen=seen)
        held.is_active = True
        held.save(update_fields=["is_active"])


@transaction.atomic
def new_password(person: User, *, by: User | None, seen: int | None = None) -> str:
    """Set a random password and return it, the only time that it can be read; older sessions end."""
    held, _ = _held(person)
    if by is not None and by.pk == held.pk:
        raise NotThisPerson("Your own password is changed on the page behind your name, with the old one.")
    if not held.is_active:
        raise WrongState(f"The log-in of {held} is closed. Open it again first.")
    require_unchanged(held, seen=seen)
    password = secrets.token_urlsafe(PASSWORD_BYTES)
    held.set_password(password)
    held.save(update_fields=["password"])
    pghistory.create_event(held, label=RENEWED)
    return password


def _held(person: User) -> tuple[User, list[User]]:
    """The person and every manager, all locked, so that no two managers can close each other at once."""
    wanted = Q(pk=person.pk) | Q(roles__contains=[Role.MANAGER])
    locked = list(User.objects.select_for_update(no_key=True).filter(wanted).order_by("pk"))
    return next(p for p in locked if p.pk == person.pk), [p for p in locked if Role.MANAGER in p.roles]


def _require_another_manager(held: User, managers: list[User]) -> None:
    if held.is_active and not any(p.is_active and p.pk != held.pk for p in managers):
        raise NotPossible(
            f"{held} is the only one with an open log-in and the role {Role.MANAGER}. "
            "Give the role to somebody else first."
        )


def _name(person: User, full_name: str) -> None:
    person.first_name, _, person.last_name = full_name.strip().partition(" ")


def _sorted(roles: Iterable[str]) -> list[str]:
    asked = set(roles)
    unknown = asked - set(Role.values)
    if unknown:
        raise NotPossible(f"There is no role {', '.join(sorted(unknown))}.")
    return [role for role in Role.values if role in asked]


def _end_sessions(person: User) -> None:
    for session in Session.objects.iterator():
        if session.get_decoded().get(SESSION_KEY) == str(person.pk):
            session.delete()
