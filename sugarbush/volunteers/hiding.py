"""Keeps the secrets of links and cards out of every log line. Loaded with the settings, so it imports no models."""

from __future__ import annotations

import logging
import re

# A card's code is read with gaps as well, and addresses are typed in capitals and with too many strokes.
_SECRET = re.compile(
    r"(/sign-in/+|bearer |sbt_|/o/+|/no-messages/+|/calendar/+)[A-Za-z0-9_.%:~-]{8,}|(/join/+)[^/,]{8,}", re.IGNORECASE
)


class HideLinks(logging.Filter):
    """A filter for handlers: `/sign-in/abc...` is written as `/sign-in/(hidden)`."""

    def filter(self, record: logging.LogRecord) -> bool:
        sentence = record.getMessage()
        hidden = _SECRET.sub(lambda found: f"{found[1] or found[2]}(hidden)", sentence)
        if hidden != sentence:
            record.msg, record.args = hidden, None
        return True
