"""Reads what is typed on the pages of this app."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from typing import Any

from django import forms

from reports.contexts import CertificateContext

LARGEST_FILE = 5 * 1024 * 1024
"""Of a PDF handed in for comparison. [bytes]"""


class IssueForm(forms.Form):
    """A signature: the person's own password, and which content was on the screen."""

    secret = forms.CharField(
        label="Your password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        error_messages={"required": "Type your password: it is your signature."},
    )
    seen = forms.CharField(widget=forms.HiddenInput)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if "seen" not in cleaned:
            raise forms.ValidationError("The page did not say what you saw. Reload it and read it again.")
        return cleaned


class CodeForm(forms.Form):
    """The code printed on the paper."""

    code = forms.CharField(
        label="Code on the paper",
        max_length=64,
        help_text="Under the QR code of the first page.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false", "autocapitalize": "off"}),
        error_messages={
            "required": "Type the code that is printed on the first page.",
            "max_length": "No code is that long. Type the code that is printed on the first page.",
        },
    )


class FileForm(forms.Form):
    """A PDF to compare with the bytes that were issued."""

    file = forms.FileField(
        label="The PDF file",
        help_text="At most 5 MB. It is compared and thrown away, not kept.",
        widget=forms.FileInput(attrs={"accept": "application/pdf,.pdf"}),
        error_messages={
            "required": "Choose the PDF file.",
            "empty": "The file is empty.",
            "missing": "Choose the PDF file.",
        },
    )

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > LARGEST_FILE:
            raise forms.ValidationError(f"The file has {file.size / 1e6:.1f} MB; at most 5 MB are compared.")
        return file


def digest_seen(draft: CertificateContext) -> str:
    """Of everything a draft says except the moment, so that a signature covers what was on the screen."""
    content = asdict(draft)
    del content["issued_on"], content["issued_at"]
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()
