"""The season's tables to take home: whole millilitres, moments with their offset, one row at a time."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from sugarbush.gathering.models import Collection, CollectionState
from sugarbush.review import counting, reach
from sugarbush.review.counting import Sums
from sugarbush.review.reach import Reach
from sugarbush.review.totals import Counted, Row, Totals
from sugarbush.sap.models import Movement
from sugarbush.seasons.models import Season

AT_ONCE = 2_000
SUM_HEADS = ("volume_ml", "rain_ml", "tipped_out_ml", "kept_ml", "to_review_ml", "not_ours_ml", "sugar_brix")


@dataclass(frozen=True, slots=True)
class Table:
    """A file: its heads, and its rows as they are read."""

    heads: Sequence[str]
    rows: Iterable[Sequence[Any]]


def _cells(sums: Sums) -> tuple[Any, ...]:
    brix = sums.sugar_brix
    return (
        sums.out_ml,
        sums.rain_ml,
        sums.tipped_ml,
        sums.kept_ml,
        sums.review_ml,
        sums.not_ours_ml,
        None if brix is None else round(brix, 2),
    )


def no_group() -> str:
    return _("no group")


def _named(head: str, rows: Iterable[Row], *, empty: str = "", taps: bool = False) -> Table:
    heads = (head, "taps", *SUM_HEADS) if taps else (head, *SUM_HEADS)
    return Table(heads, ((row.name or empty, *((row.taps,) if taps else ()), *_cells(row.sums)) for row in rows))


def by_tree(counted: Counted, mine: Reach) -> Table:
    rows = reach.tree_rows(counted.cells, counted.trees, mine)
    return Table(
        ("tree", "address", "species", "taps", *SUM_HEADS),
        ((row.name, row.note, counted.trees[row.key].species, row.taps, *_cells(row.sums)) for row in rows),
    )


def by_person(counted: Counted, mine: Reach) -> Table:
    return _named("person", reach.person_rows(counted.cells, mine))


def by_group(totals: Totals) -> Table:
    return _named("group", totals.groups, empty=no_group())


def by_species(totals: Totals) -> Table:
    return _named("species", totals.species, empty=_("not known"), taps=True)


def by_day(totals: Totals) -> Table:
    return Table(
        ("day", "coldest_c", "warmest_c", *SUM_HEADS),
        ((row.day, row.low_c, row.high_c, *_cells(row.sums)) for row in totals.days),
    )


ENTRY_HEADS = (
    "entry",
    "tree",
    "day",
    "time",
    "person",
    "group",
    "outcome",
    "volume_ml",
    "rain_ml",
    "discarded_ml",
    "reason",
    "brix",
    "state",
    "said_volume_ml",
    "said_rain_ml",
    "said_discarded_ml",
)


def collections(season: Season, mine: Reach) -> Table:
    """Every entry the reader may open. The first three millilitre columns hold what counts, so they add up to the page;
    the last three hold what the entry says, counted or not.
    """
    return Table(ENTRY_HEADS, _entries(season, mine))


def _entries(season: Season, mine: Reach) -> Iterator[Sequence[Any]]:
    # The file is read after the page's own time zone is put away again, so days are told in the programme's by name.
    zone = counting.zone_of()
    rows = Collection.objects.filter(mine.entries(), season=season).order_by("happened_at", "pk")
    fields = "id tree__code happened_at person__display_name group__name outcome volume_ml rain_ml discarded_ml"
    more = "discard_reason sugar_brix state"
    for row in rows.values_list(*fields.split(), *more.split()).iterator(chunk_size=AT_ONCE):
        pk, code, at, person, group, outcome, *said, reason, brix, state = row
        local = at.astimezone(zone)
        counts = said if state == CollectionState.COUNTED else (0, 0, 0)
        yield (
            *(pk, code, local.date(), _moment(at, zone), person, group or no_group(), outcome),
            *(*counts, reason, brix, state, *said),
        )


MOVEMENT_HEADS = (
    "seq",
    "happened_at",
    "recorded_at",
    "act",
    "standing",
    "cause",
    "detail",
    "from",
    "to",
    "volume_ml",
    "counts_ml",
    "brix",
    "tree",
    "person",
    "group",
    "author",
    "reason",
    "takes_back",
)


def movements(season: Season, rows: QuerySet[Movement] | None = None) -> Table:
    """The ledger itself, or some of its rows. counts_ml: below zero where a movement takes another back."""
    return Table(MOVEMENT_HEADS, _movements(Movement.objects.filter(season=season) if rows is None else rows))


def _movements(rows: QuerySet[Movement]) -> Iterator[Sequence[Any]]:
    zone = counting.zone_of()
    rows = rows.order_by("seq")
    rows = rows.select_related(
        "act__tree", "act__person", "act__group", "act__author", "from_vessel__person", "to_vessel__person"
    )
    for row in rows.iterator(chunk_size=AT_ONCE):
        act = row.act
        yield (
            row.seq,
            _moment(row.happened_at, zone),
            _moment(row.recorded_at, zone),
            act.kind,
            act.standing,
            row.cause,
            row.detail,
            row.from_vessel,
            row.to_vessel,
            row.volume_ml,
            -row.volume_ml if row.reverses_id else row.volume_ml,
            row.sugar_brix,
            act.tree.code if act.tree else None,
            act.person,
            act.group,
            act.author,
            act.reason,
            row.reverses_id,
        )


def _moment(at: dt.datetime, zone: dt.tzinfo) -> dt.datetime:
    return at.astimezone(zone).replace(microsecond=0)
