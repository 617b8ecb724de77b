"""Every movement of a season read once, in the order of posting, and what it leaves in each vessel.

Nothing here asks the ledger's own sums: a fault in those would then hide itself.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import groupby, islice
from typing import Any

from django.db.models import Q

from sugarbush.sap.models import Movement, Vessel
from sugarbush.seasons.models import Season

AT_ONCE = 500
COMES = frozenset({"out_of_tree", "rain_kept", "measured_over"})
GOES = frozenset(
    {"discarded", "rejected", "spilled", "measured_under", "evaporated", "lost", "filter", "issued", "destroyed"}
)


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that does not add up, by name. seq, vessel: the movement or vessel to look at, where there is one."""

    code: str
    sentence: str
    seq: int | None = None
    vessel: uuid.UUID | None = None


@dataclass(frozen=True, slots=True)
class Row:
    """One movement as it stands in the table."""

    seq: int
    act: uuid.UUID
    source: uuid.UUID | None
    target: uuid.UUID | None
    ml: int
    cause: str
    detail: str
    takes_back: int | None
    at: dt.datetime
    season: int

    @property
    def counts_ml(self) -> int:
        """Against its cause where it takes another movement back."""
        return self.ml if self.takes_back is None else -self.ml

    @property
    def fits(self) -> bool:
        """Whether its ends are those of its cause."""
        if self.source is None and self.target is None:
            return False
        if self.cause == "moved":
            return self.source is not None and self.target is not None and self.source != self.target
        comes = self.cause in COMES
        into = comes if self.takes_back is None else not comes
        outside, inside = (self.source, self.target) if into else (self.target, self.source)
        return outside is None and inside is not None and (comes or self.cause in GOES)


@dataclass(slots=True)
class Book:
    """The season's movements added up by hand."""

    vessels: dict[uuid.UUID, Vessel]
    held: dict[uuid.UUID, int] = field(default_factory=lambda: defaultdict(int))
    by_cause: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    last_into: dict[uuid.UUID, int] = field(default_factory=dict)
    below: dict[uuid.UUID, tuple[int, int]] = field(default_factory=dict)
    full: dict[uuid.UUID, tuple[int, int]] = field(default_factory=dict)
    odd: list[Row] = field(default_factory=list)
    strangers: list[Row] = field(default_factory=list)
    elsewhere: list[int] = field(default_factory=list)
    count: int = 0

    @property
    def came_ml(self) -> int:
        return sum(ml for cause, ml in self.by_cause.items() if cause in COMES)

    @property
    def gone_ml(self) -> int:
        return sum(ml for cause, ml in self.by_cause.items() if cause in GOES)

    @property
    def held_ml(self) -> int:
        return sum(self.held.values())


def ml_words(volume_ml: int) -> str:
    return f"{volume_ml:,} mL".replace("-", "−")


def chunks(rows: Iterable[Any]) -> Iterator[list[Any]]:
    steps = iter(rows)
    while chunk := list(islice(steps, AT_ONCE)):
        yield chunk


def read(season: Season) -> Book:
    """Walk the season's movements, act by act: only what an act leaves behind has to be possible."""
    found = Vessel.objects.filter(season=season).select_related("person", "season")
    book = Book(vessels={vessel.pk: vessel for vessel in found})
    acts = groupby(_lines(season), key=lambda line: line[0].act)
    for _act, lines in acts:
        _post(book, list(lines), season)
    return book


def _lines(season: Season) -> Iterator[tuple[Row, str, bool]]:
    names = (
        "seq",
        "act_id",
        "from_vessel_id",
        "to_vessel_id",
        "volume_ml",
        "cause",
        "detail",
        "reverses_id",
        "happened_at",
        "season_id",
        "act__overfill_reason",
        "act__season_id",
        "act__happened_at",
    )
    rows = Movement.objects.filter(Q(season=season) | Q(act__season=season)).order_by("seq")
    for *values, why, act_season, act_at in rows.values_list(*names).iterator(chunk_size=5_000):
        row = Row(*values)
        yield row, why, act_season == row.season and act_at == row.at


def _post(book: Book, lines: list[tuple[Row, str, bool]], season: Season) -> None:
    before: dict[uuid.UUID, int] = {}
    why = ""
    for row, words, same in lines:
        book.count += 1
        why = words
        if not same:
            book.elsewhere.append(row.seq)
        if not row.fits:
            book.odd.append(row)
        if any(end is not None and end not in book.vessels for end in (row.source, row.target)):
            book.strangers.append(row)
        if row.season != season.pk:
            continue
        book.by_cause[row.cause] += row.counts_ml
        for end, change in ((row.source, -row.ml), (row.target, row.ml)):
            if end is not None:
                before.setdefault(end, book.held[end])
                book.held[end] += change
        if row.target is not None and row.takes_back is None:
            book.last_into[row.target] = row.seq
    last = lines[-1][0].seq
    for end, was in before.items():
        now, vessel = book.held[end], book.vessels.get(end)
        if now < 0 and end not in book.below:
            book.below[end] = (last, now)
        room = vessel.capacity_ml if vessel is not None else None
        if room is not None and now > room and now > was and not why.strip() and end not in book.full:
            book.full[end] = (last, now)
