"""Keeps the secrets of links and cards out of every log line. Loaded with the settings, so it imports no models."""

from __future__ import annotations

import logging
import re

_SECRET = re.compile(r"(/sign-in/|[Bb]earer |sbt_|/join/|/o/|/no-messages/|/calendar/)[A-Za-z0-9_.%:~-]{8,}")


class HideLinks(logging.Filter):
    """A filter for handlers: `/sign-in/abc...` is written as `/sign-in/(hidden)`."""

    def filter(self, record: logging.LogRecord) -> bool:
        sentence = record.getMessage()
        hidden = _SECRET.sub(r"\1(hidden)", sentence)
        if hidden != sentence:
            record.msg, record.args = hidden, None
        return True
