"""The certificates for programs: a list, and the issued data file byte for byte."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.views.decorators.cache import never_cache
from rest_framework import serializers
from rest_framework.decorators import api_view
from rest_framework.pagination import PageNumberPagination
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.reverse import reverse

from reports.certificates.models import Certificate
from reports.portal.views import file_answer, listed


class CertificateLine(serializers.ModelSerializer[Certificate]):
    """One certificate in the list for programs."""

    job = serializers.CharField(source="job.number")
    client = serializers.CharField(source="job.client.name")
    replaces = serializers.CharField(source="older", allow_null=True)
    replaced_by = serializers.CharField(source="newer", allow_null=True)
    withdrawn_at = serializers.DateTimeField(allow_null=True)
    doubted_since = serializers.DateTimeField(allow_null=True)
    data_file = serializers.SerializerMethodField()

    class Meta:
        model = Certificate
        fields = [
            "number",
            "revision",
            "job",
            "client",
            "issued_at",
            "sha256",
            "replaces",
            "replaced_by",
            "withdrawn_at",
            "doubted_since",
            "data_file",
        ]

    def get_data_file(self, certificate: Certificate) -> str:
        name = "reports:api_certificate"
        return str(reverse(name, args=[certificate.number], request=self.context["request"]))


class Pages(PageNumberPagination):
    """The paging of the list for programs."""

    page_size = 50


@never_cache
@api_view(["GET"])
def certificates(request: Request) -> Response:
    """Issued certificates this person may see, newest first."""
    pages = Pages()
    page: Any = pages.paginate_queryset(listed(request.user), request)
    return pages.get_paginated_response(CertificateLine(page, many=True, context={"request": request}).data)


@never_cache
@api_view(["GET"])
def certificate(request: Request, number: str) -> HttpResponse:
    """The data file as it was issued."""
    return file_answer(request.user, number, "json")
