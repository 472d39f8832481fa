"""Published check values of quality control, with their sources."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

FILE = Path(__file__).resolve().parents[3] / "fixtures" / "reference" / "quality_control.json"
PUBLISHED: dict[str, Any] = json.loads(FILE.read_text(encoding="utf-8"))
CHARTS: dict[str, Any] = PUBLISHED["control_charts"]
DUPLICATES: dict[str, Any] = PUBLISHED["duplicates"]
ROBUST: dict[str, Any] = PUBLISHED["robust"]
REPEATABILITY: dict[str, Any] = PUBLISHED["repeatability"]
