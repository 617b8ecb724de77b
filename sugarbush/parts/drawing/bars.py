"""Lying bars, a line of words above each: the same picture on a phone and on a desk, since lengths are in per cent."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from sugarbush.parts.drawing.scale import number_words, step_of, volume_ticks
from sugarbush.parts.shown import in_words

ROW_PX, BAR_PX, WORDS_PX = 42, 14, 14
FOOT_PX = 24
MOST_NAME = 28
MOST_BARS = 12
FEW_TICKS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What one bar stands for. value: 0 or more, of any one unit.  part: how much of it is drawn striped."""

    name: str
    value: float
    words: str
    part: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One bar. length_pct: of the picture's width; the striped part is its last part_pct, from part_from_pct on."""

    name: str
    words: str
    words_y_px: int
    y_px: int
    length_pct: float
    part_pct: float
    part_from_pct: float


@dataclass(slots=True, kw_only=True)
class Bars:
    """The picture. ticks: (per cent of the width, words).  line_pct: a value to compare with, None without one."""

    bars: list[Bar] = field(default_factory=list)
    ticks: list[tuple[float, str]] = field(default_factory=list)
    floor_px: int = 0
    height_px: int = 0
    bar_px: int = BAR_PX
    line_pct: float | None = None
    line_words: str = ""
    striped: bool = False


def short(name: str, most: int = MOST_NAME) -> str:
    """A name that fits above its bar on a phone; the table beside the picture holds all of it.

    >>> short("turned away: it smelt of diesel and soap")
    'turned away: it smelt of di…'
    """
    return name if len(name) <= most else name[: most - 1].rstrip() + "…"


def draw(rows: Sequence[Row], *, largest: float, ticks: Sequence[tuple[float, str]], line: float | None = None) -> Bars:
    """Place the bars. largest: the value that is the whole width, not below any row's.  ticks: (value, words)."""
    found = Bars(floor_px=len(rows) * ROW_PX, height_px=len(rows) * ROW_PX + FOOT_PX)
    for n, row in enumerate(rows):
        length = 100 * row.value / largest
        part = min(length, 100 * max(0.0, row.part) / largest)
        found.striped = found.striped or part > 0
        found.bars.append(
            Bar(
                name=short(row.name),
                words=row.words,
                words_y_px=n * ROW_PX + WORDS_PX,
                y_px=n * ROW_PX + WORDS_PX + 7,
                length_pct=round(length, 3),
                part_pct=round(part, 3),
                part_from_pct=round(length - part, 3),
            )
        )
    found.ticks = [(round(100 * value / largest, 3), words) for value, words in ticks]
    if line is not None:
        found.line_pct = round(100 * line / largest, 3)
    return found


def of_volumes(rows: Sequence[tuple[str, int, int]], units: object, others: str) -> Bars | None:
    """Bars of volumes: (name, mL, mL of it striped), in the order given; None where none is above nothing.

    others: what the bar is called that holds all past the first dozen.
    """
    drawn = [row for row in rows if row[1] > 0]
    if not drawn:
        return None
    if len(drawn) > MOST_BARS:
        rest = drawn[MOST_BARS - 1 :]
        drawn = [*drawn[: MOST_BARS - 1], (others, sum(row[1] for row in rest), sum(row[2] for row in rest))]
    largest = max(row[1] for row in drawn)
    return draw(
        [
            Row(name=name, value=ml, part=part, words=in_words("volume", ml, units, exact=True))
            for name, ml, part in drawn
        ],
        largest=largest,
        ticks=[(tick.at, tick.words) for tick in volume_ticks(largest, units, FEW_TICKS)],
    )


def of_numbers(
    rows: Sequence[tuple[str, float, str]], *, line: float | None = None, line_words: str = ""
) -> Bars | None:
    """Bars of plain numbers: (name, number, words), with one value to compare with."""
    if not rows or max(row[1] for row in rows) <= 0:
        return None
    largest = max(*(row[1] for row in rows), line or 0.0)
    step = step_of(largest, FEW_TICKS)
    ticks = [(n * step, number_words(n * step)) for n in range(1, int(largest / step + 1e-9) + 1)]
    found = draw(
        [Row(name=name, value=value, words=words) for name, value, words in rows],
        largest=largest,
        ticks=ticks,
        line=line,
    )
    found.line_words = line_words
    return found
