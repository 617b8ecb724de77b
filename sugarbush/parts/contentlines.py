"""Lines as calendars and address cards have them (RFC 5545, 3.1; RFC 6350, 3.2): escaped, folded, ended by CRLF."""

from __future__ import annotations

import re

MOST_OCTETS = 75
_NO_SIGNS = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")


def escaped(text: object) -> str:
    r"""A text value: what would end it or part it is written so that it does not.

    >>> escaped("Mill Race; yard, 2\nlower gate")
    'Mill Race\\; yard\\, 2\\nlower gate'
    """
    plain = _NO_SIGNS.sub("", str(text)).replace("\r\n", "\n").replace("\r", "\n")
    return plain.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,").replace("\n", "\\n")


def folded(line: str) -> bytes:
    """The line with its end. No piece has more than 75 octets, and no letter is cut in two.

    >>> folded("SUMMARY:" + "ö" * 40).split(b"\\r\\n ")[0].decode()
    'SUMMARY:ööööööööööööööööööööööööööööööööö'
    """
    data = line.encode("utf-8", "replace")
    pieces = []
    room = MOST_OCTETS
    while len(data) > room:
        cut = room
        while data[cut] & 0xC0 == 0x80:  # inside a letter
            cut -= 1
        pieces.append(data[:cut])
        data, room = data[cut:], MOST_OCTETS - 1  # the blank in front counts
    pieces.append(data)
    return b"\r\n ".join(pieces) + b"\r\n"


def joined(lines: list[str]) -> bytes:
    return b"".join(folded(line) for line in lines)
