"""Reading QR codes off a page: the dark squares of each drawing, against those of the code for an address."""

from __future__ import annotations

import re

import segno

EDGE = 4


def dark_squares(svg: str) -> set[tuple[int, int]]:
    """Column and row of every dark square of one drawing, the quiet edge taken off."""
    found = set()
    for x, y, run, back in re.findall(r"M(\d+) (\d+)h(\d+)v1h-(\d+)z", svg):
        assert run == back
        found |= {(int(x) + n - EDGE, int(y) - EDGE) for n in range(int(run))}
    return found


def squares_of(address: str) -> set[tuple[int, int]]:
    """What a code of the address has to show."""
    rows = segno.make_qr(address, error="m").matrix
    return {(x, y) for y, row in enumerate(rows) for x, dark in enumerate(row) if dark}


def leads_to(page: str, address: str) -> int:
    """How many codes on the page lead to the address."""
    wanted = squares_of(address)
    return sum(dark_squares(svg) == wanted for svg in re.findall(r'<svg class="qr".*?</svg>', page))
