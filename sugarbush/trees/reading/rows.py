"""What every kind of file is read into: a table of rows."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple, Protocol

from sugarbush.trees.reading.kinds import Kind

MOST_COLUMNS = 500


class Trouble(NamedTuple):
    """Why a row could not be taken apart: a reason code of `refusals` and what its sentence names."""

    code: str
    values: dict[str, str]


class RawRow(NamedTuple):
    """One row as it stands in the file."""

    number: int
    """Counted as a person counts: the first row under the heading is 1; blank rows are counted, not given."""
    line: int
    """The line of the file it starts on, from 1; for GeoJSON the same as number."""
    values: list[str]
    """As many as the table has columns; empty text where the file says nothing."""
    trouble: Trouble | None


class Table(Protocol):
    """A tree file that has been opened: its columns are known, its rows can be read as often as wanted."""

    @property
    def kind(self) -> Kind: ...

    @property
    def columns(self) -> list[str]: ...

    @property
    def notices(self) -> list[str]:
        """Sentences for the preview: no heading, an unusual encoding, lines skipped above the heading."""

    @property
    def size_bytes(self) -> int: ...

    @property
    def read_bytes(self) -> int:
        """How far the latest reading of rows has come, for a progress bar."""

    def rows(self) -> Iterator[RawRow]:
        """Every row, from the first, holding only a few at a time. May raise CannotRead on the way."""

    def sample(self, most: int = 200) -> list[RawRow]:
        """The first rows that could be taken apart, at most so many; no error for what comes later."""


@dataclass(slots=True)
class Progress:
    """Counts bytes as they are read."""

    read_bytes: int = 0

    def add(self, count: int) -> None:
        self.read_bytes += count


def distinct_names(names: list[str]) -> list[str]:
    """Column names without doubles or blanks, so that each can be chosen by its name.

    >>> distinct_names(["Tree", "", "Tree"])
    ['Tree', 'Column 2', 'Tree (2)']
    """
    taken: set[str] = set()
    result = []
    for place, name in enumerate(names, start=1):
        base = " ".join(name.split())[:80] or f"Column {place}"
        candidate, count = base, 1
        while candidate in taken:
            count += 1
            candidate = f"{base} ({count})"
        taken.add(candidate)
        result.append(candidate)
    return result
