"""Prints the schema of a certificate's data file, which schema.json beside it holds: python -m reports.files.schema."""

from __future__ import annotations

import sys

from particles.bench_sheet.json_schema import schema_text
from reports.files.shape import DataFile


def data_file_schema() -> str:
    """JSON Schema of a certificate's data file."""
    return schema_text(DataFile, "Certificate data file")


if __name__ == "__main__":
    sys.stdout.write(data_file_schema())
