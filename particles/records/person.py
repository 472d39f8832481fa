"""The person that rules ask for: what they need to know of whoever acts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Protocol

from django.http import HttpRequest


class Person(Protocol):
    """Somebody with a log-in, as rules know them: a key, permissions, roles and a name to be shown."""

    @property
    def roles(self) -> Sequence[str]:
        """Roles of the person, by name."""
        ...

    @property
    def pk(self) -> Any:
        """Primary key of the log-in."""
        ...

    def has_perm(self, perm: str) -> bool:
        """Whether a role of the person carries a permission."""
        ...

    def check_password(self, raw_password: str) -> bool:
        """Whether this is the person's password."""
        ...

    def __str__(self) -> str:
        """The name a reader sees."""
        ...


def signed_in(request: HttpRequest) -> Person:
    """The person of a request that only somebody with a log-in can make."""
    assert request.user.is_authenticated, "a page that stores something asks for a permission first"
    return request.user
