"""Codes written on pails: a run of them from the first."""

from __future__ import annotations

import re

_ENDS_IN_NUMBER = re.compile(r"(.*?)([0-9]{1,9})", re.ASCII | re.DOTALL)


def run_of(first: str, count: int) -> list[str]:
    """`count` codes from the first on; as many digits as the first has, more where they are needed.

    Raises ValueError where the first does not end in a number.

    >>> run_of("P-08", 3)
    ['P-08', 'P-09', 'P-10']
    """
    parts = _ENDS_IN_NUMBER.fullmatch(first)
    if parts is None:
        raise ValueError(first)
    stem, digits = parts.groups()
    start = int(digits)
    return [f"{stem}{number:0{len(digits)}d}" for number in range(start, start + count)]
