"""What both kinds of spreadsheet share: text that XML can hold, and what a value becomes in a cell."""

from __future__ import annotations

import datetime as dt
import math
import re
from decimal import Decimal
from typing import Any

from django.utils.functional import Promise

MOST_ROWS = 1_048_576
"""Rows of a sheet in today's spreadsheets; what is more goes on in another sheet."""
MOST_SIGNS = 32_767
"""Signs in one cell of a spreadsheet."""
EXACT = 2**53
"""Whole numbers up to here keep every digit as a double, which is what a spreadsheet reckons with."""

# XML 1.0, production 2: what no document may hold, not even written as a number.
_NOT_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")


def legal(text: str) -> str:
    """The text with line ends as a document has them, without what XML forbids, no longer than a cell."""
    text = _NOT_XML.sub("", text).replace("\r\n", "\n").replace("\r", "\n")
    return text if len(text) <= MOST_SIGNS else text[: MOST_SIGNS - 1] + "…"


def escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def quoted(text: str) -> str:
    """For between the quotes of an attribute."""
    return escaped(text).replace('"', "&quot;")


def number(value: Any) -> str | None:
    """A number as it is written, or None where it is none or would lose digits: that stays text."""
    if isinstance(value, bool):
        return None
    if isinstance(value, int):
        return str(int(value)) if abs(value) <= EXACT else None
    if isinstance(value, float):
        return repr(value) if math.isfinite(value) else None
    if isinstance(value, Decimal):
        return format(value, "f") if value.is_finite() else None
    return None


def plain(value: Any) -> str:
    """Any other value as text."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dt.time):
        return value.isoformat("minutes")
    return legal(str(value))


def is_empty(value: Any) -> bool:
    return value is None or (isinstance(value, str | Promise) and not str(value))
