"""The blocks that papers are made of. Each is plain data; typ/report.typ draws them in order.

A paper made of blocks needs no layout of its own: its kind names "report.typ" and its content is
`{"blocks": [title(...), pairs(...), table(...)]}`. Text is text, whatever stands in it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

Block = dict[str, Any]


def title(text: str, *, size: float = 21) -> Block:
    """The name of the paper, once, at its head."""
    return {"kind": "title", "text": text, "size": size}


def heading(text: str) -> Block:
    return {"kind": "heading", "text": text}


def para(text: str, *, size: float = 10.5, bold: bool = False, soft: bool = False) -> Block:
    return {"kind": "para", "text": text, "size": size, "bold": bold, "soft": soft}


def pairs(rows: Iterable[tuple[str, str]], *, label_mm: float = 42) -> Block:
    """Names and what they are, a line each; pairs without anything to say are left out."""
    return {"kind": "pairs", "rows": [[name, value] for name, value in rows if value], "label": label_mm}


def table(
    heads: Sequence[str],
    rows: Iterable[Sequence[str]],
    *,
    widths: Sequence[float] = (),
    align: Sequence[str] = (),
    total: Sequence[str] = (),
    code: int | None = None,
    size: float = 9.5,
    row_mm: float = 0,
) -> Block:
    """A ruled table whose heads come again on each page.

    widths: shares of the width, 0 for as wide as its text.  align: "left", "right" or "center", by column.
    code: the column whose text is a tag.  row_mm: least height, for rows that are filled in by hand.
    """
    return {
        "kind": "table",
        "heads": list(heads),
        "rows": [list(row) for row in rows],
        "widths": list(widths) or [1] * len(heads),
        "align": list(align) or ["left"] * len(heads),
        "total": list(total),
        "code": -1 if code is None else code,
        "size": size,
        "limit": 14,
        "tall": row_mm,
    }


def ticks(rows: Iterable[tuple[bool, str]]) -> Block:
    """Lines with a box to tick, ticked already where True."""
    return {"kind": "ticks", "rows": [{"on": on, "text": text} for on, text in rows]}


def boxed(head: str, *lines: str, size: float = 11) -> Block:
    """Words nobody should miss."""
    return {"kind": "box", "head": head, "lines": [line for line in lines if line], "size": size}


def blank_lines(*labels: str) -> Block:
    """Lines to write on, each with its name."""
    return {"kind": "blank-lines", "labels": list(labels)}


def columns(*cells: Sequence[Block], widths: Sequence[float] = ()) -> Block:
    return {"kind": "columns", "cells": [list(cell) for cell in cells], "widths": list(widths) or [1] * len(cells)}


def square(drawn: str, *, side_mm: float = 28, text: str = "", align: str = "right") -> Block:
    """A square to scan, from squares.square_drawn."""
    return {"kind": "square", "drawn": drawn, "side": side_mm, "text": text, "align": align}


def poster(text: str, *, size: float = 30) -> Block:
    """Large words in the middle, to be read from afar."""
    return {"kind": "poster", "text": text, "size": size}


def bars(rows: Iterable[tuple[str, float, str, bool]], *, label_mm: float = 34) -> Block:
    """(label, number at least 0, its words, whether it is a loss) of each bar. Its table belongs beside it."""
    return {
        "kind": "bars",
        "rows": [
            {"label": label, "value": value, "words": words, "striped": lost} for label, value, words, lost in rows
        ],
        "label": label_mm,
    }


def space(mm: float) -> Block:
    return {"kind": "space", "mm": mm}


def new_page() -> Block:
    return {"kind": "page"}
