"""Columns: how a list's rows become a table. A column is its head and where its cell is found in a row."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from decimal import Decimal
from itertools import islice
from typing import TYPE_CHECKING, Any

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from sugarbush.parts.csvfile import Cell

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

Where = str | Callable[[Any], Cell]
"""A path of names ("tree.code", of a model or a dict) or a function of the row."""
Column = tuple["StrOrPromise", Where]
AT_ONCE = 500
US_GALLON_ML = Decimal("3785.411784")


def found(row: Any, path: str) -> Any:
    """What stands at a path of names in a row; nothing where the way breaks off.

    >>> found({"tree": {"code": "0042"}}, "tree.code"), found({"tree": None}, "tree.code")
    ('0042', None)
    """
    for name in path.split("."):
        if row is None:
            return None
        row = row.get(name) if isinstance(row, dict) else getattr(row, name)
        if callable(row):
            row = row()
    return row


def heads(columns: Sequence[Column]) -> list[Cell]:
    return [str(head) for head, _where in columns]


def cells(columns: Sequence[Column], rows: Iterable[Any]) -> Iterator[list[Cell]]:
    """A row of cells for each row. A query is read in pieces, so that memory stays flat."""
    readers = [_reader(where) for _head, where in columns]
    if isinstance(rows, QuerySet):
        rows = rows.iterator(chunk_size=AT_ONCE)
    for row in rows:
        yield [read(row) for read in readers]


def _reader(where: Where) -> Callable[[Any], Cell]:
    return (lambda row: found(row, where)) if isinstance(where, str) else where


def in_pieces(rows: Iterable[Any], make: Callable[[list[Any]], Iterable[Any]], size: int = AT_ONCE) -> Iterator[Any]:
    """The rows as a page would show them, a piece at a time. make: from some rows to what the page shows of them."""
    waiting = iter(rows.iterator(chunk_size=size) if isinstance(rows, QuerySet) else rows)
    while some := list(islice(waiting, size)):
        yield from make(some)


def volume(head: StrOrPromise, where: Where, units: str) -> list[Column]:
    """Two columns: the exact millilitres, and the same in litres or US gallons."""
    read = _reader(where)

    def larger(row: Any) -> Cell:
        ml = read(row)
        if ml is None:
            return None
        return round(Decimal(ml) / US_GALLON_ML, 3) if units == "us" else Decimal(ml).scaleb(-3)  # type: ignore[arg-type]

    unit = _("US gal") if units == "us" else _("L")
    return [(f"{head} (mL)", read), (f"{head} ({unit})", larger)]
