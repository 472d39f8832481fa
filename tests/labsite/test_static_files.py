"""Addresses of script and style files, before and after they are collected."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from django.contrib.staticfiles.storage import staticfiles_storage
from django.core.management import call_command
from django.templatetags.static import static

HASHED = re.compile(r"\.[0-9a-f]{12}\.js$")


def collect_into(folder: Path, settings: Any) -> None:
    settings.STATIC_ROOT = folder
    backend = {"BACKEND": "labsite.static_files.HashedNames"}
    settings.STORAGES = {**settings.STORAGES, "staticfiles": backend}


def test_collected_files_carry_a_hash_and_their_imports_follow(tmp_path: Path, settings: Any) -> None:
    collect_into(tmp_path, settings)
    assert static("batches/bench/bench.js") == "/static/batches/bench/bench.js", "nothing is collected yet"
    call_command("collectstatic", interactive=False, verbosity=0)
    staticfiles_storage._wrapped = staticfiles_storage._wrapped.__class__()
    address = static("batches/bench/bench.js")
    assert HASHED.search(address)
    script = (tmp_path / address.removeprefix("/static/")).read_text()
    imported = re.findall(r'from "(\./[^"]+)"', script)
    assert len(imported) >= 8
    assert all(HASHED.search(name) for name in imported), imported
    assert all((tmp_path / "batches" / "bench" / name).exists() for name in imported)


def test_a_file_that_was_not_collected_keeps_its_plain_name(tmp_path: Path, settings: Any) -> None:
    collect_into(tmp_path, settings)
    assert static("batches/never-there.js") == "/static/batches/never-there.js"
