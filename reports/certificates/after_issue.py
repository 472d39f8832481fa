"""Pages of what may follow the issue: analyse a sample again, replace a certificate, withdraw one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from particles.models import Sample
from particles.records.person import signed_in
from particles.records.refusals import RuleRefusal
from reports.certificates.forms import AgainForm, AmendForm, WhyForm, WithdrawForm, digest_seen
from reports.certificates.models import Certificate
from reports.certificates.rows import draft_sections
from reports.certificates.rules import amend_certificate, draft_amendment, withdraw_certificate
from reports.paper.pdf import CertificatePrintError
from reports.paper.seal import SigningError


def _certificate(request: HttpRequest, number: str) -> Certificate:
    visible = Certificate.objects.visible_to(request.user).defer("pdf", "data_json", "data_csv")
    return get_object_or_404(visible.select_related("job__client", "job__method"), number=number)


@require_http_methods(["GET", "POST"])
@permission_required("reports.issue", raise_exception=True)
def amend(request: HttpRequest, number: str) -> HttpResponse:
    """First the reason, then everything the new certificate will say, and the signature under it."""
    old = _certificate(request, number)
    typed = request.POST if request.method == "POST" else request.GET if "why" in request.GET else None
    asked = WhyForm(typed)
    if not asked.is_valid():
        return _why(request, old, asked, status=422 if asked.is_bound else 200)
    why = asked.cleaned_data["why"]
    try:
        draft = draft_amendment(old, why=why, by=signed_in(request), at=timezone.now())
    except RuleRefusal as refusal:
        asked.add_error(None, str(refusal))
        return _why(request, old, asked, status=409)
    unsigned = AmendForm(initial={"seen": digest_seen(draft), "why": why})
    if request.method == "GET":
        return _draft(request, old, draft, unsigned)
    form = AmendForm(request.POST)
    if not form.is_valid():
        return _draft(request, old, draft, form, status=422)
    if form.cleaned_data["seen"] != digest_seen(draft):
        messages.warning(
            request, "What the certificate says has changed since you opened this page. Read it again."
        )
        return _draft(request, old, draft, unsigned, status=409)
    secret = form.cleaned_data["secret"]
    try:
        made = amend_certificate(old, why=why, by=signed_in(request), at=timezone.now(), secret=secret)
    except (RuleRefusal, CertificatePrintError, SigningError) as refusal:
        form.add_error(None, str(refusal))
        return _draft(request, old, draft, form, status=409)
    messages.success(
        request, f"Certificate {made.number} replaces {old.number}. Tell whoever fetched the old one."
    )
    return redirect("reports:certificate", number=made.number)


@require_http_methods(["GET", "POST"])
@permission_required("reports.issue", raise_exception=True)
def withdraw(request: HttpRequest, number: str) -> HttpResponse:
    certificate = _certificate(request, number)
    return _acted(
        request,
        "reports/certificates/withdraw.html",
        {"certificate": certificate},
        WithdrawForm(request.POST if request.method == "POST" else None),
        lambda typed: withdraw_certificate(certificate, by=signed_in(request), at=timezone.now(), **typed),
        f"Certificate {certificate.number} is withdrawn. The check page says so from now on.",
        reverse("reports:certificate", args=[certificate.number]),
    )


@require_http_methods(["GET", "POST"])
@permission_required("reports.issue", raise_exception=True)
def again(request: HttpRequest, lab_number: str) -> HttpResponse:
    """Have a new portion of a sample analysed after approval, with the reason."""
    samples = Sample.objects.visible_to(request.user).select_related("job")
    sample = get_object_or_404(samples, lab_number=lab_number)
    return _acted(
        request,
        "reports/certificates/again.html",
        {"sample": sample},
        AgainForm(request.POST if request.method == "POST" else None),
        lambda typed: sample.analyse_again(by=signed_in(request), at=timezone.now(), reason=typed["why"]),
        f"Sample {sample.lab_number} waits for a new portion. Its result will be the one that is reported.",
        reverse("particles:job", args=[sample.job.number]),
    )


def _acted(
    request: HttpRequest,
    template: str,
    context: dict[str, Any],
    form: Form,
    act: Callable[[dict[str, Any]], object],
    done: str,
    then: str,
) -> HttpResponse:
    """The page with its form, or, once the form can be read and the rule agrees, the act and the next page."""
    context["form"] = form
    if not form.is_valid():
        return render(request, template, context, status=422 if form.is_bound else 200)
    try:
        act(form.cleaned_data)
    except RuleRefusal as refusal:
        form.add_error(None, str(refusal))
        return render(request, template, context, status=409)
    messages.success(request, done)
    return redirect(then)


def _why(request: HttpRequest, old: Certificate, form: Any, *, status: int = 200) -> HttpResponse:
    samples = old.job.samples.order_by("line")
    context = {"certificate": old, "form": form, "samples": samples}
    return render(request, "reports/certificates/amend_why.html", context, status=status)


def _draft(
    request: HttpRequest, old: Certificate, draft: Any, form: Any, *, status: int = 200
) -> HttpResponse:
    content = asdict(draft)
    context = {"job": old.job, "certificate": old, "content": content, "form": form}
    context["sections"] = draft_sections(old.job, content)
    return render(request, "reports/certificates/amend.html", context, status=status)
