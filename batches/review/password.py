"""A signature is made with the person's own password, at that moment."""

from __future__ import annotations

from django.core.cache import cache

from particles.records.person import Person
from particles.records.refusals import NotThisPerson

GUESSES = 5
WAIT_S = 300
"""How long a person signs nothing after so many wrong passwords in a row. [s]"""


def require_secret(by: Person, secret: str) -> None:
    """
    Refuse unless the password is this person's; after some wrong ones in a row, any for a while.

    Call it before a transaction begins: the count of wrong ones must outlive the refusal.
    """
    counted = f"wrong-signatures-{by.pk}"
    if cache.get(counted, 0) >= GUESSES:
        raise NotThisPerson(
            f"{GUESSES} wrong passwords in a row; nothing was signed. Wait {WAIT_S // 60} minutes. "
            "If it was not you, change your password."
        )
    if by.check_password(secret):
        cache.delete(counted)
        return
    cache.set(counted, cache.get(counted, 0) + 1, WAIT_S)
    raise NotThisPerson("The password does not belong to you; nothing was signed.")
