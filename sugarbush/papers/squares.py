"""Squares to scan, as the rows a layout draws."""

from __future__ import annotations

from sugarbush.parts.qr import squares


def square_rows(text: str) -> list[str]:
    """The code's rows from the top, "1" for a dark square, without the quiet edge."""
    return ["".join("1" if dark else "0" for dark in row) for row in squares(text)]
