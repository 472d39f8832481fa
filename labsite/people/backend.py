"""The log-in backend that reads the role table."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.backends import ModelBackend

from labsite.people.roles import PERMISSIONS


class RoleBackend(ModelBackend):
    """Log-in by user name and password; permissions from the role table and from nowhere else."""

    def get_all_permissions(self, user_obj: Any, obj: object | None = None) -> set[str]:
        if not user_obj.is_active or user_obj.is_anonymous or obj is not None:
            return set()
        return set().union(*(PERMISSIONS.get(role, frozenset()) for role in user_obj.roles))

    def has_perm(self, user_obj: Any, perm: str, obj: object | None = None) -> bool:
        return perm in self.get_all_permissions(user_obj, obj)
