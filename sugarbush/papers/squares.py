"""Squares to scan, as one drawing each."""

from __future__ import annotations

from sugarbush.parts.qr import QUIET, path_of, squares

QUICK = 3
"""The pattern of squares that are printed by the hundred: trying all eight takes four times as long."""


def square_drawn(text: str, *, quick: bool = False) -> str:
    """The code as a small SVG, black on white, with its quiet edge."""
    rows = squares(text, mask=QUICK if quick else None)
    side = len(rows) + 2 * QUIET
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {side} {side}" shape-rendering="crispEdges">'
        f'<rect width="{side}" height="{side}" fill="#fff"/><path d="{path_of(rows)}"/></svg>'
    )
