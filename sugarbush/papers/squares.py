"""Squares to scan, as one drawing each."""

from __future__ import annotations

from sugarbush.parts.qr import QUIET, path_of, squares


def square_drawn(text: str) -> str:
    """The code as a small SVG, black on white, with its quiet edge."""
    rows = squares(text)
    side = len(rows) + 2 * QUIET
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {side} {side}" shape-rendering="crispEdges">'
        f'<rect width="{side}" height="{side}" fill="#fff"/><path d="{path_of(rows)}"/></svg>'
    )
