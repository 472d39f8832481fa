"""The log-in backend that reads the role table."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.backends import ModelBackend
from django.db.models import QuerySet

from labsite.people.models import User
from labsite.people.roles import PERMISSIONS
from particles.records.written_once import WrittenOnce, columns_of, row_of


class RoleBackend(ModelBackend):
    """Log-in by user name and password; permissions from the role table and from nowhere else."""

    def get_user(self, user_id: int) -> User | None:
        """The person of a session, unless the log-in was closed: read by every request."""
        rows = _PERSON(person=user_id)
        person = row_of(User, rows[0]) if rows else None
        return person if person is not None and self.user_can_authenticate(person) else None

    def get_all_permissions(self, user_obj: Any, obj: object | None = None) -> set[str]:
        if not user_obj.is_active or user_obj.is_anonymous or obj is not None:
            return set()
        return set().union(*(PERMISSIONS.get(role, frozenset()) for role in user_obj.roles))

    def has_perm(self, user_obj: Any, perm: str, obj: object | None = None) -> bool:
        return perm in self.get_all_permissions(user_obj, obj)


def _person(person: int) -> QuerySet[User, dict[str, Any]]:
    return User.objects.filter(pk=person).values(*columns_of(User))


_PERSON = WrittenOnce(_person, person=-1)
