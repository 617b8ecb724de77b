"""How a line of the log begins, and where it ends."""

from __future__ import annotations

import logging
import time


class Utc(logging.Formatter):
    """Times of a log in UTC, so that two of them can be laid side by side."""

    converter = staticmethod(time.gmtime)
    default_time_format = "%Y-%m-%dT%H:%M:%S"
    default_msec_format = "%s.%03dZ"


class WithoutTraces(logging.Filter):
    """A refusal (403, 404) is no fault: Django tells it with the way through the code, which would bury the faults."""

    def filter(self, record: logging.LogRecord) -> bool:
        if getattr(record, "status_code", 500) < 500:
            record.exc_info = record.exc_text = None
        return True
