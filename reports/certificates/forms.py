"""Reads what is typed on the pages of this app."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from typing import Any

from django import forms

from reports.content.context import CertificateContext

LARGEST_FILE = 5 * 1024 * 1024
"""Of a PDF handed in for comparison. [bytes]"""


def _why(*, label: str, help_text: str) -> forms.CharField:
    return forms.CharField(
        label=label,
        help_text=help_text,
        max_length=600,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Say why.", "max_length": "At most 600 characters can be kept here."},
    )


class SignatureForm(forms.Form):
    """A signature: the person's own password."""

    secret = forms.CharField(
        label="Your password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        error_messages={"required": "Type your password: it is your signature."},
    )

    def __init__(self, data: Any = None, **kwargs: Any) -> None:
        super().__init__(data, use_required_attribute=False, **kwargs)


class IssueForm(SignatureForm):
    """The signature under a certificate, with the digest of the content that was on the screen."""

    seen = forms.CharField(widget=forms.HiddenInput)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if "seen" not in cleaned:
            raise forms.ValidationError("The page did not say what you saw. Reload it and read it again.")
        return cleaned


class WhyForm(forms.Form):
    """The reason for an amended certificate, asked before its draft, which prints it."""

    why = _why(label="Why it is amended", help_text="Printed on the new certificate after what changed.")

    def __init__(self, data: Any = None, **kwargs: Any) -> None:
        super().__init__(data, use_required_attribute=False, **kwargs)


class AmendForm(IssueForm):
    """The signature under an amended certificate, with the reason for it."""

    why = forms.CharField(widget=forms.HiddenInput)


class WithdrawForm(SignatureForm):
    """The withdrawal of a certificate, with the reason and the signature."""

    why = _why(label="Why it is withdrawn", help_text="The client reads it; the check page does not show it.")
    field_order = ("why", "secret")


class AgainForm(WhyForm):
    """The reason why a sample is analysed again."""

    why = _why(label="Why it is analysed again", help_text="A complaint, a fault found, a failed duplicate.")


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


class NumberForm(CodeForm):
    """Number and code of a certificate, for whoever comes without the address on the paper."""

    number = forms.SlugField(
        label="Number of the certificate",
        max_length=24,
        help_text="At the top of every page, for instance C25-0042.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
        error_messages={
            "required": "Type the number of the certificate.",
            "invalid": "A number has letters, digits and hyphens only, for instance C25-0042.",
            "max_length": "No number is that long.",
        },
    )
    field_order = ("number", "code")


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
    """Digest of everything a draft says except the moment, so that a signature covers what was on the screen."""
    content = asdict(draft)
    del content["issued_on"], content["issued_at"]
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()
