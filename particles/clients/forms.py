"""Clients and who may see their jobs."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth import get_user_model

from particles.clients.models import Client, ClientPerson
from particles.records.fields import plain_text


class ClientForm(forms.Form):
    """Name, address and contact of a client."""

    name = plain_text(what="the client's name", length=200)
    address = forms.CharField(
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="As printed on certificates.",
        error_messages={"required": "Type the address; certificates print it."},
    )
    contact = plain_text(what="the contact", length=200, required=False, help_text="Name, telephone or mail.")

    of: Client | None = None
    """The client it corrects; None: a new one."""

    def __init__(self, data: Any = None, **kwargs: Any) -> None:
        super().__init__(data, **{"use_required_attribute": False, **kwargs})

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        others = Client.objects.exclude(pk=self.of.pk) if self.of else Client.objects.all()
        twin = others.filter(name__iexact=name).first()
        if twin is not None:
            raise forms.ValidationError(
                f"“{twin.name}” is a client already. Use it, or give this one another name."
            )
        return name


class ClientPersonForm(forms.Form):
    """A log-in that may see the client's jobs, with the consent it rests on."""

    username = plain_text(
        what="the user name", length=150, label="User name", help_text="Of a log-in with role client."
    )
    consent = plain_text(
        what="where the written consent is kept",
        length=200,
        label="Written consent",
        help_text="Where it is kept: letter of 3 Nov 2026, folder C.",
    )

    def __init__(self, data: Any = None, *, client: Client, **kwargs: Any) -> None:
        super().__init__(data, use_required_attribute=False, **kwargs)
        self.client = client
        self.fields["username"].widget.attrs["autocomplete"] = "off"

    def clean_username(self) -> Any:
        username = self.cleaned_data["username"]
        user: Any = get_user_model()._default_manager.filter(username=username, is_active=True).first()
        if user is None:
            raise forms.ValidationError(f"No log-in is called “{username}”. Ask for one to be made first.")
        if "client" not in user.roles:
            raise forms.ValidationError(f"“{username}” does not have the role client.")
        if ClientPerson.objects.filter(client=self.client, user=user).exists():
            raise forms.ValidationError(f"“{username}” may see the jobs of {self.client} already.")
        return user
