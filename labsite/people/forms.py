"""Reads what is typed about log-ins."""

from __future__ import annotations

from typing import Any

from allauth.account.forms import LoginForm
from django import forms

from labsite.people.models import User
from labsite.people.roles import SENTENCES, Role
from labsite.people.rules import as_asked, is_the_same
from particles.records.fields import plain_text


class LogInForm(LoginForm):
    """User name and password, called as the laboratory calls them."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["login"].label = "User name"


class PersonForm(forms.Form):
    """Name and roles of somebody with a log-in."""

    full_name = plain_text(what="the full name", length=150, help_text="As it stands on what they sign.")
    initials = plain_text(what="the initials", length=4, required=False)
    roles = forms.MultipleChoiceField(
        choices=[(role.value, f"{role.value}: {SENTENCES[role]}") for role in Role],
        widget=forms.CheckboxSelectMultiple,
        required=False,
        help_text="Without a role the log-in opens no page but the help.",
    )

    def __init__(self, data: Any = None, **kwargs: Any) -> None:
        super().__init__(data, use_required_attribute=False, **kwargs)


class NewPersonForm(PersonForm):
    """A log-in that is to be made."""

    username = forms.CharField(
        max_length=150,
        validators=[User.username_validator],
        label="User name",
        help_text="To log in with. One for each person; it is never given to anybody else.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none"}),
        error_messages={
            "required": "Type the name to log in with.",
            "max_length": "At most 150 characters can be kept here; shorten it.",
        },
    )
    field_order = ("username", "full_name", "initials", "roles")

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        known = User.objects.filter(username__iexact=typed.get("username", "")).first()
        if known is not None and (self.errors or not is_the_same(known, as_asked(**typed))):
            self.add_error(
                "username", f"“{known.username}” is the log-in of {known} already. Choose another name."
            )
        return typed
