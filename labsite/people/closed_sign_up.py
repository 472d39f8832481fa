"""Accounts are made by the laboratory, never by a visitor."""

from allauth.account.adapter import DefaultAccountAdapter
from django.http import HttpRequest


class ClosedSignUp(DefaultAccountAdapter):
    """Refuses every sign-up; log-ins are made on the manager's pages or by `manage.py person`."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False
