"""Builds and serves the demonstration."""

from __future__ import annotations

import signal
import time
import urllib.request
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from batches.models import Batch
from labsite.demonstration import laboratory
from labsite.demonstration.processes import Children, free_port
from labsite.demonstration.story import REFERENCE, Story, open_requests
from labsite.people.roles import Role
from particles.distribution.spoken import spoken_count
from particles.records.refusals import NotPossible
from reports.certificates.models import Certificate
from reports.certificates.rows import qualifier_title

WORKER = (
    "celery", "-A", "labsite", "worker", "-B", "-c", "1", "-l", "WARNING",
    "--without-gossip", "--without-mingle", "--without-heartbeat",  # nobody listens to them on this queue
)  # fmt: skip
LONGEST_WAIT_S = 120
POLL_S = 0.1


class Command(BaseCommand):
    """manage.py demo: builds the invented laboratory, runs one batch to its certificate, and serves the site."""

    help = (
        "Builds an invented laboratory, takes one batch from the client's list to the issued certificate with a real "
        "worker, writes the certificate files, then serves the site on 127.0.0.1."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--no-serve", action="store_true", help="end after the files")
        parser.add_argument("--out", type=Path, default=Path("out"), metavar="DIR", help="where the files go")
        parser.add_argument("--port", type=int, default=8000, help="first port tried on 127.0.0.1")

    def handle(self, *args: Any, no_serve: bool, out: Path, port: int, **options: Any) -> None:
        self.began = time.monotonic()
        for asked_to_end in (signal.SIGINT, signal.SIGTERM):  # also where a shell had them ignored
            signal.signal(asked_to_end, signal.default_int_handler)
        port = free_port(port)
        address = f"http://127.0.0.1:{port}"
        settings.PUBLIC_URL = address
        settings.SILTBOOK_HOME.mkdir(parents=True, exist_ok=True)
        self.tell("preparing the database")
        call_command("migrate", verbosity=0)
        self.tell("building the invented laboratory")
        try:
            laboratory.build(at=timezone.now())
        except NotPossible as refusal:
            raise CommandError(str(refusal)) from refusal
        environment = {
            "SILTBOOK_PUBLIC_URL": address,
            "DJANGO_SETTINGS_MODULE": "labsite.settings",
            # Told to end, the worker drops what it holds: the rows of the requests keep it.
            "REMAP_SIGTERM": "SIGQUIT",
        }
        with Children(settings.SILTBOOK_HOME, environment) as children:
            try:
                self.tell("starting a worker")
                log = children.start("worker", *WORKER)
                certificate = self._certificate(children, log)
                self._print_table(certificate)
                self._write_files(certificate, out)
                if not no_serve:
                    self._serve(children, address, port)
            except KeyboardInterrupt:
                self.stdout.write("\nstopping")

    def tell(self, sentence: str) -> None:
        self.stdout.write(f"{time.monotonic() - self.began:6.1f} s  {sentence}")
        self.stdout.flush()

    def _certificate(self, children: Children, log: Path) -> Certificate:
        existing = Certificate.objects.filter(job__client_reference=REFERENCE).order_by("-issued_at").first()
        if existing is not None:
            self.tell(f"the demonstration batch was run before: {existing}")
            return existing
        return Story(now=timezone.now(), tell=self.tell).tell_all(
            lambda batch: self._wait(batch, children, log)
        )

    def _wait(self, batch: Batch, children: Children, log: Path) -> None:
        """Until the worker has answered every request of the batch."""
        end = time.monotonic() + LONGEST_WAIT_S
        while True:
            states = open_requests(batch)
            if states["failed"]:
                raise CommandError(f"{spoken_count(states['failed'], 'computation')} failed; see {log}.")
            if not states["asked"] and not states["running"]:
                return
            if children.ended("worker") is not None or time.monotonic() > end:
                raise CommandError(f"The worker did not answer ({states}). Its last words are in {log}.")
            time.sleep(POLL_S)

    def _print_table(self, certificate: Certificate) -> None:
        samples = certificate.context["samples"]
        self.stdout.write(f"\n{certificate.context['laboratory_name']} (invented), {certificate}")
        self.stdout.write("percent of oven-dry fine earth, 95 % interval in brackets\n\n")
        row = "{:<10} {:<15} {:<15} {:<15} {:<15} {:<16} {}"
        self.stdout.write(row.format("sample", "label", "sand", "silt", "clay", "class", "flags"))
        for sample in samples:
            figures = {f["name"]: f"{f['printed_pct']} ({f['interval_pct']})" for f in sample["fractions"]}
            parts = [figures.get(name, "not reported") for name in ("sand", "silt", "clay")]
            flags = self._flags_in_words(sample["qualifiers"])
            name = sample["texture_class"] or "no class"
            self.stdout.write(row.format(sample["lab_number"], sample["client_label"], *parts, name, flags))
        self.stdout.write("")

    def _flags_in_words(self, qualifiers: list[dict[str, str]]) -> str:
        """Stops and warnings in plain words, notes by number."""
        grave = dict.fromkeys(qualifier_title(q) for q in qualifiers if q["severity"] != "note")
        notes = sum(q["severity"] == "note" for q in qualifiers)
        return ", ".join([*grave, *([spoken_count(notes, "note")] if notes else [])]) or "none"

    def _write_files(self, certificate: Certificate, out: Path) -> None:
        out.mkdir(parents=True, exist_ok=True)
        for ending, content in (
            ("pdf", certificate.pdf),
            ("json", certificate.data_json),
            ("csv", certificate.data_csv),
        ):
            path = out / f"{certificate.number}.{ending}"
            path.write_bytes(bytes(content))
            self.stdout.write(f"written: {path} ({path.stat().st_size / 1000:.0f} kB)")

    def _until_it_answers(self, children: Children, address: str, log: Path) -> None:
        end = time.monotonic() + LONGEST_WAIT_S
        while True:
            try:
                with urllib.request.urlopen(f"{address}/healthz", timeout=5):  # noqa: S310
                    return
            except OSError:
                if children.ended("web") is not None or time.monotonic() > end:
                    raise CommandError(f"The web server did not start; see {log}.") from None
                time.sleep(POLL_S)

    def _serve(self, children: Children, address: str, port: int) -> None:
        call_command("collectstatic", interactive=False, verbosity=0)
        children.environment["SILTBOOK_POOL"] = "1"
        log = children.start(
            "web", "granian", "--interface", "wsgi", "--host", "127.0.0.1", "--port", str(port),
            "--workers", "1", "--blocking-threads", "4", "--no-ws", "labsite.wsgi:application",
        )  # fmt: skip
        self._until_it_answers(children, address, log)
        self.stdout.write(f"\nSiltbook is at {address}    (Ctrl-C stops everything)\n\n")
        self.stdout.write(f"log-ins of the invented laboratory, all with the password {laboratory.SECRET}")
        for role in Role:
            name, full = laboratory.PEOPLE[role]
            self.stdout.write(f"  {role.value:<20} {name:<8} {full}")
        self.stdout.flush()
        while True:
            for name in ("worker", "web"):
                status = children.ended(name)
                if status is not None:
                    raise CommandError(
                        f"The {name} process ended with status {status}; see {log.parent / name}.log."
                    )
            time.sleep(0.5)
