"""Prints the schema of a bench sheet, which schema.json beside it holds: python -m particles.bench_sheet.schema."""

from __future__ import annotations

import sys

from particles.bench_sheet.forms_without_run import BenchSheet
from particles.bench_sheet.json_schema import schema_text


def bench_sheet_schema() -> str:
    """JSON Schema of a bench sheet, of whichever kind."""
    return schema_text(
        BenchSheet,
        "Bench sheet of one particle-size test",
        "Exactly one kind of sheet: a hydrometer run, a stack of sieves (alone or with ready hydrometer percentages), "
        "a pipette test, or results of somebody else to be checked. Units stand at the end of every name.",
    )


if __name__ == "__main__":
    sys.stdout.write(bench_sheet_schema())
