"""Files copied from elsewhere are the ones their page names."""

from __future__ import annotations

import hashlib
from pathlib import Path

FOLDER = Path(__file__).resolve().parents[3] / "batches" / "static" / "batches" / "bench" / "vendor"


def test_vendored_scripts_match_the_recorded_figures() -> None:
    words = (FOLDER / "README.md").read_text(encoding="utf-8")
    scripts = list(FOLDER.glob("*.js"))
    assert scripts
    for script in scripts:
        assert hashlib.sha256(script.read_bytes()).hexdigest() in words
