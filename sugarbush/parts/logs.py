"""How a line of the log begins."""

from __future__ import annotations

import logging
import time


class Utc(logging.Formatter):
    """Times of a log in UTC, so that two of them can be laid side by side."""

    converter = staticmethod(time.gmtime)
    default_time_format = "%Y-%m-%dT%H:%M:%S"
    default_msec_format = "%s.%03dZ"
