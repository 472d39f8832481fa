"""Accounts are made by the laboratory, never by a visitor."""

from allauth.account.adapter import DefaultAccountAdapter
from django.http import HttpRequest


class ClosedSignUp(DefaultAccountAdapter):
    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False
