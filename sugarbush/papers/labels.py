"""Sheets of labels: those the programme has written down, and usual ones by their size."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from sugarbush.papers.models import SIZES_MM, LabelSheet, Paper
from sugarbush.parts.reasons import Reason, Refused

INCH_MM = Decimal("25.4")


@dataclass(frozen=True, kw_only=True)
class Layout:
    """Where the labels of one sheet lie, in millimetres from its upper left corner."""

    key: str
    name: str
    paper: str
    columns: int
    rows: int
    top_mm: float
    left_mm: float
    width_mm: float
    height_mm: float
    gap_across_mm: float = 0
    gap_down_mm: float = 0

    @property
    def a_page(self) -> int:
        return self.columns * self.rows

    def as_data(self) -> dict[str, Any]:
        return asdict(self)


def _usual(key: str, paper: Paper, columns: int, rows: int, sizes: tuple[float, ...]) -> Layout:
    top, left, width, height, across, down = sizes
    return Layout(
        key=key,
        name="",
        paper=paper.value,
        columns=columns,
        rows=rows,
        top_mm=top,
        left_mm=left,
        width_mm=width,
        height_mm=height,
        gap_across_mm=across,
        gap_down_mm=down,
    )


# (above, left, width, height, gap across, gap down). Sizes of sheets as they are sold everywhere, by measure.
USUAL = (
    _usual("a4-8", Paper.A4, 2, 4, (13.0, 4.6, 99.1, 67.7, 2.6, 0)),
    _usual("a4-4", Paper.A4, 2, 2, (9.5, 4.6, 99.1, 139.0, 2.6, 0)),
    _usual("a4-21", Paper.A4, 3, 7, (15.1, 7.2, 63.5, 38.1, 2.5, 0)),
    _usual("a4-24", Paper.A4, 3, 8, (0.5, 0, 70.0, 37.0, 0, 0)),
    _usual("us-6", Paper.LETTER, 2, 3, (12.7, 4.0, 101.6, 84.6, 4.7, 0)),
    _usual("us-10", Paper.LETTER, 2, 5, (12.7, 4.0, 101.6, 50.8, 4.7, 0)),
    _usual("us-18", Paper.LETTER, 3, 6, (12.7, 6.4, 66.6, 42.3, 1.6, 0)),
    _usual("us-30", Paper.LETTER, 3, 10, (12.7, 4.8, 66.6, 25.4, 3.2, 0)),
)


def words_of(layout: Layout) -> str:
    """How a sheet is called on a form: its own name, and its measure."""
    size = _("%(width)s × %(height)s mm, %(n)d on %(paper)s") % {
        "width": f"{layout.width_mm:g}",
        "height": f"{layout.height_mm:g}",
        "n": layout.a_page,
        "paper": Paper(layout.paper).label,
    }
    return f"{layout.name} ({size})" if layout.name else size


def layout_of(sheet: LabelSheet) -> Layout:
    return Layout(
        key=f"own-{sheet.pk}",
        name=sheet.name,
        paper=sheet.paper,
        columns=sheet.columns,
        rows=sheet.rows,
        top_mm=float(sheet.top_mm),
        left_mm=float(sheet.left_mm),
        width_mm=float(sheet.width_mm),
        height_mm=float(sheet.height_mm),
        gap_across_mm=float(sheet.gap_across_mm),
        gap_down_mm=float(sheet.gap_down_mm),
    )


def layouts(use: str) -> list[Layout]:
    """The programme's own sheets for this use, then the usual ones."""
    return [*(layout_of(one) for one in LabelSheet.objects.filter(use=use)), *USUAL]


def layout_named(key: str, use: str) -> Layout:
    """The sheet with this key. Raises Refused where it was taken away meanwhile."""
    found = next((one for one in layouts(use) if one.key == key), None)
    if found is None:
        raise Refused([Reason(code="sheet", fact=_("This sheet of labels is not written down any more. Choose one."))])
    return found


def first_key(paper: str, use: str) -> str:
    """The sheet to begin with: the programme's own, else a usual one for its paper."""
    there = layouts(use)
    return next((one.key for one in there if one.paper == paper), there[0].key)


def beyond_the_edge(sheet: LabelSheet) -> Iterable[tuple[str, str]]:
    """(field, sentence) for what would lie beyond the edge of the paper."""
    wide, tall = SIZES_MM[Paper(sheet.paper)]
    right = sheet.left_mm + sheet.columns * sheet.width_mm + (sheet.columns - 1) * sheet.gap_across_mm
    bottom = sheet.top_mm + sheet.rows * sheet.height_mm + (sheet.rows - 1) * sheet.gap_down_mm
    says = _("%(far)s mm from the edge, but the paper is %(size)s mm: the last label would be cut off.")
    if right > wide:
        yield "columns", says % {"far": f"{right:g}", "size": f"{wide:g}"}
    if bottom > tall:
        yield "rows", says % {"far": f"{bottom:g}", "size": f"{tall:g}"}
