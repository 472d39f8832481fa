"""Reads what is typed about log-ins."""

from __future__ import annotations

from typing import Any

from allauth.account.forms import LoginForm


class LogInForm(LoginForm):
    """User name and password, called as the laboratory calls them."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["login"].label = "User name"
