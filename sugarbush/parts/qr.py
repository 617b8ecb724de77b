"""QR codes as drawings, and the addresses they lead to."""

from __future__ import annotations

from urllib.parse import urlsplit

from django.conf import settings
from django.http import HttpRequest
from django.utils.html import format_html
from django.utils.safestring import SafeString

from sugarbush.parts.proxies import public_address

QUIET = 4
"""Light squares around the code; ISO/IEC 18004 asks for four."""
ONLY_HERE = {"localhost", "127.0.0.1", "::1"}


def squares(text: str, *, mask: int | None = None) -> list[list[bool]]:
    """The rows of the code without its quiet edge, dark squares true. Corrects up to 15 % of it or more.

    mask: one of the eight patterns, where hundreds of codes are drawn; else the best of them is looked for.
    """
    import segno  # some 2 MB, and few pages draw a code

    made = segno.make_qr(text, error="m", boost_error=True, mask=mask)
    return [[bool(dark) for dark in row] for row in made.matrix]


def path_of(rows: list[list[bool]], edge: int = QUIET) -> str:
    """The dark squares as one SVG path, a run of neighbours at a time; one unit a square.

    >>> path_of([[True, True, False], [False, False, True]], edge=0)
    'M0 0h2v1h-2zM2 1h1v1h-1z'
    """
    parts = []
    for y, row in enumerate(rows):
        x = 0
        while x < len(row):
            run = 0
            while x + run < len(row) and row[x + run]:
                run += 1
            if run:
                parts.append(f"M{x + edge} {y + edge}h{run}v1h-{run}z")
            x += run or 1
    return "".join(parts)


def drawing(text: str, label: str) -> SafeString:
    """The code as an inline SVG, black on white in every light: a camera needs the contrast."""
    rows = squares(text)
    side = len(rows) + 2 * QUIET
    return format_html(
        '<svg class="qr" viewBox="0 0 {side} {side}" role="img" aria-label="{label}" shape-rendering="crispEdges">'
        '<rect width="{side}" height="{side}" fill="#fff"/><path d="{path}" fill="#000"/></svg>',
        side=side,
        label=label,
        path=path_of(rows),
    )


def printed_address(request: HttpRequest, path: str) -> str:
    """The whole address of a page, for paper: the public one where it is set, else the one asked at."""
    return public_address(path) if settings.PUBLIC_URL else request.build_absolute_uri(path)


def opens_only_here(address: str) -> bool:
    """Whether the address names this very machine, so that no other phone can open it."""
    return urlsplit(address).hostname in ONLY_HERE
