"""The filter of the log: a defect leaves its traceback, a refusal does not."""

from __future__ import annotations

import logging


class NoTraceOfRefusals(logging.Filter):
    """A refused page is one line; only a defect leaves its traceback."""

    def filter(self, record: logging.LogRecord) -> bool:
        if record.levelno < logging.ERROR:
            record.exc_info = record.exc_text = None
        return True
