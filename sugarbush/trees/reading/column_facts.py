"""What the values of a column look like, counted over the sample."""

import re
from collections.abc import Callable
from dataclasses import dataclass

from sugarbush.trees.reading.mapping import DateOrder
from sugarbush.trees.reading.positions import read_position
from sugarbush.trees.reading.rows import RawRow
from sugarbush.trees.reading.site_words import site_of
from sugarbush.trees.reading.species import SpeciesIndex

_POINT_NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?\Z")
_COMMA_NUMBER = re.compile(r"[-+]?\d+,\d+\Z")
_UNIT = re.compile(r"[-+]?\d+(?:[.,]\d+)?\s*(in|inch|inches|\"|″|cm|mm)\.?\Z", re.IGNORECASE)
_DAY = re.compile(r"(\d{1,4})[-/.](\d{1,2})[-/.](\d{1,4})")


@dataclass(frozen=True, slots=True)
class ColumnFacts:
    """Shares are of the cells that say something, 0 to 1."""

    name: str
    filled: int
    distinct_share: float
    number_share: float
    comma_share: float
    numbers: tuple[float, ...]
    fine_share: float
    """Numbers with four or more decimals, as degrees have."""
    botanical_share: float
    common_share: float
    code_share: float
    position_share: float
    day_share: float
    site_share: float
    unit: str
    words_share: float
    """Cells with letters and a space or more than one word, as addresses and notes have."""
    texts: tuple[str, ...]

    @property
    def middle(self) -> float:
        """The median of its numbers; 0 without any."""
        return sorted(self.numbers)[len(self.numbers) // 2] if self.numbers else 0.0

    def at_share(self, share: float) -> float:
        """The number that so large a share of the numbers lies below; 0 without any."""
        return sorted(self.numbers)[min(int(len(self.numbers) * share), len(self.numbers) - 1)] if self.numbers else 0.0


def facts_of(columns: list[str], sample: list[RawRow], known: SpeciesIndex) -> list[ColumnFacts]:
    """The facts of every column, in order."""
    return [_facts(name, [row.values[at].strip() for row in sample], known) for at, name in enumerate(columns)]


def _facts(name: str, cells: list[str], known: SpeciesIndex) -> ColumnFacts:
    texts = [cell for cell in cells if cell]
    unlike = list(dict.fromkeys(texts))
    commas = [text for text in texts if _COMMA_NUMBER.match(text)]
    points = [text for text in texts if _POINT_NUMBER.match(text)]
    written = [match for text in texts if (match := _UNIT.match(text))]
    numbers = [float(text.replace(",", ".")) for text in points + commas]
    numbers += [float(re.sub(r"[^\d.,+-].*", "", match[0]).replace(",", ".") or 0) for match in written]
    fine = [text for text in points + commas if len(re.split("[.,]", text)[-1]) >= 4 and re.search("[.,]", text)]
    worded = [text for text in unlike if re.search(r"[^\W\d]", text)]
    units = [match[1].casefold() for match in written]
    count = len(texts) or 1
    return ColumnFacts(
        name=name,
        filled=len(texts),
        distinct_share=len(unlike) / count,
        number_share=len(numbers) / count,
        comma_share=len(commas) / count,
        numbers=tuple(numbers),
        fine_share=len(fine) / count,
        botanical_share=_share(worded, known.is_botanical, unlike),
        common_share=_share(worded, known.is_common, unlike),
        code_share=_share(worded, known.is_code, unlike),
        position_share=_share(unlike, _is_position, unlike),
        day_share=_share(unlike, lambda text: _DAY.match(text) is not None, unlike),
        site_share=_share(worded, lambda text: bool(site_of(text)), unlike),
        unit="" if not units else ("in" if units[0][0] in 'i"″' else units[0]),
        words_share=sum(" " in text for text in worded) / (len(unlike) or 1),
        texts=tuple(unlike),
    )


def _share(texts: list[str], holds: Callable[[str], bool], among: list[str]) -> float:
    return sum(map(holds, texts)) / (len(among) or 1)


def _is_position(text: str) -> bool:
    return read_position(text, "lon lat") is not None


def day_order(texts: tuple[str, ...]) -> DateOrder:
    """In which order the dates of a column give year, month and day."""
    parts = [tuple(map(int, match.groups())) for text in texts if (match := _DAY.match(text))]
    if not parts or any(first > 31 for first, _, _ in parts):
        return "ymd"
    return "dmy" if any(first > 12 for first, _, _ in parts) or any("." in text[:6] for text in texts) else "mdy"
