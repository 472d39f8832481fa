"""Certificates with their bytes, what they rest on, withdrawals and downloads."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Exists, F, OuterRef, Q, Subquery

from batches.models import Result
from particles.models import Job, SampleMove, SampleState
from particles.records.act import Act
from particles.records.history import audited, never_changed


class CertificateQuerySet(models.QuerySet["Certificate"]):
    """Certificates, and which of them a person may see."""

    def visible_to(self, user: Any) -> CertificateQuerySet:
        """Certificates a person may see: all, those of the person's clients, or none."""
        if user.has_perm("reports.see_all"):
            return self
        if user.has_perm("reports.see_own"):
            return self.filter(job__in=Job.objects.visible_to(user))
        return self.none()

    def with_standing(self) -> Any:
        """
        Certificates with what has become of each since its issue, which its own row does not know.

        `doubted_since` is the moment from which the laboratory looks again at work behind the figures, until the
        certificate is replaced or its samples are reported as they were.
        """
        rows = CertificateResult.doubted().filter(certificate=OuterRef("pk")).order_by("since")
        return self.annotate(
            newer=F("replaced_by__number"),
            newer_at=F("replaced_by__issued_at"),
            withdrawn_at=F("withdrawal__at"),
            withdrawn_because=F("withdrawal__reason"),
            doubted_since=Subquery(rows.values("since")[:1], output_field=models.DateTimeField()),
        )

    def without_files(self) -> CertificateQuerySet:
        """Certificates without the bytes of their files, for lists."""
        return self.defer("pdf", "data_json", "data_csv", "context")


@audited
class Certificate(models.Model):
    """An issued document with the bytes that were issued. It never changes."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="certificates")
    number = models.CharField(max_length=24, unique=True)
    revision = models.PositiveSmallIntegerField(default=0)
    part = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="Which part of the job's results; empty: all of them."
    )
    replaces = models.OneToOneField(
        "self", on_delete=models.PROTECT, related_name="replaced_by", null=True, blank=True
    )
    results = models.ManyToManyField(Result, through="CertificateResult", related_name="certificates")
    context = models.JSONField(help_text="The frozen content every rendering came from.")
    pdf = models.BinaryField()
    data_json = models.BinaryField()
    data_csv = models.BinaryField()
    sha256 = models.CharField(max_length=64, help_text="Of the PDF.")
    key_sha256 = models.CharField(  # noqa: DJ001 - the history chain hashes old rows without it
        max_length=64, null=True, blank=True, help_text="Fingerprint of the signature inside the PDF."
    )
    check_code = models.CharField(max_length=16)
    issued_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    issued_at = models.DateTimeField()

    objects = CertificateQuerySet.as_manager()

    class Meta:
        ordering = ["-issued_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["job", "part", "revision"],
                nulls_distinct=False,
                name="one_certificate_per_part_and_revision",
            ),
            models.CheckConstraint(
                condition=Q(revision=0, replaces__isnull=True) | Q(revision__gt=0, replaces__isnull=False),
                name="a_revision_names_what_it_replaces",
            ),
        ]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"certificate {self.number}"


@audited
class Withdrawal(Act):
    """A certificate that must not be relied on any more; its own row and files stay as they were issued."""

    certificate = models.OneToOneField(Certificate, on_delete=models.PROTECT, related_name="withdrawal")
    reason = models.TextField()

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(reason=""), name="a_withdrawal_says_why")]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"withdrawal of {self.certificate}"


@audited
class CertificateResult(models.Model):
    """A result that a certificate reports; as fixed as the certificate itself."""

    certificate = models.ForeignKey(Certificate, on_delete=models.PROTECT, related_name="+")
    result = models.ForeignKey(Result, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["certificate", "result"], name="a_result_stands_once_on_a_certificate"
            )
        ]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"{self.result} on {self.certificate}"

    @classmethod
    def doubted(cls) -> Any:
        """
        Results of certificates in force whose batch was re-opened after the issue, each with that moment as `since`.

        Left out once the sample is reported again: signed anew it came out as it was.
        """
        rows, reported = cls._looked_at_again()
        return rows.filter(~Exists(reported))

    @classmethod
    def stood(cls) -> Any:
        """The others of the same: those that came out as they were, each with the moment as `settled`."""
        rows, reported = cls._looked_at_again()
        settled = Subquery(reported.order_by("at").values("at")[:1])
        return rows.filter(Exists(reported)).annotate(settled=settled)

    @classmethod
    def _looked_at_again(cls) -> tuple[Any, Any]:
        """Results whose batch was re-opened after the issue, and the moves that reported their samples since."""
        reported = SampleMove.objects.filter(
            sample=OuterRef("result__run__portion__sample"),
            to_state=SampleState.REPORTED,
            at__gte=OuterRef("since"),
        )
        rows = cls._default_manager.filter(
            certificate__replaced_by__isnull=True,
            certificate__withdrawal__isnull=True,
            result__run__batch__nonconforming__at__gt=F("certificate__issued_at"),
        )
        since = F("result__run__batch__nonconforming__at")
        return rows.annotate(since=since), reported


@audited
class Download(Act):
    """A file of a certificate fetched by a person at a moment."""

    class Kind(models.TextChoices):
        """The kinds of file a certificate has."""

        PDF = "pdf"
        JSON = "json"
        CSV = "csv"

    certificate = models.ForeignKey(Certificate, on_delete=models.PROTECT, related_name="downloads")
    kind = models.CharField(max_length=4, choices=Kind.choices)

    class Meta:
        ordering = ["-at"]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"{self.kind} of {self.certificate}"
