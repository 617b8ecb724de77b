"""A season's totals as plain values: worked out from the ledger while it runs, kept as they were when it closed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import asdict, dataclass, field
from functools import cached_property
from typing import Any

from django.db.models import Count, Sum

from sugarbush.core.errors import CoreError
from sugarbush.core.sugar import pool
from sugarbush.core.syrup import sap_per_syrup, syrup_from_sugar_ml
from sugarbush.core.weather import CROSSES_ZERO
from sugarbush.gathering.models import Collection, CollectionState
from sugarbush.review import counting
from sugarbush.review.counting import Cell, Flow, Sums, TapCount, TreeFacts
from sugarbush.review.jars import JarRow, jars
from sugarbush.sap.models import VesselKind
from sugarbush.sap.tanks import assumed_brix
from sugarbush.seasons.models import Season
from sugarbush.weather.models import WeatherDay

EDITION = 1
"""Which shape kept totals have; raise it when a field changes its meaning."""


@dataclass(slots=True, kw_only=True)
class Row:
    """One line of a table: a day, a group, a species, a tree, a person. `taps` only where it says something."""

    name: str
    key: Any = None
    note: str = ""
    taps: int = 0
    sums: Sums = field(default_factory=Sums)


@dataclass(slots=True, kw_only=True)
class DayRow:
    """One local day: sap, and the weather where somebody wrote it down."""

    day: dt.date
    sums: Sums = field(default_factory=Sums)
    low_c: float | None = None
    high_c: float | None = None
    crosses: bool | None = None


@dataclass(slots=True, kw_only=True)
class Entries:
    """The counted entries themselves, added up: what the ledger is compared with."""

    count: int = 0
    out_ml: int = 0
    rain_ml: int = 0
    tipped_ml: int = 0
    review: int = 0


@dataclass(kw_only=True)
class Totals:
    """All that is said of a season as a whole. Everything else on its page is worked out from these."""

    year: int
    flows: list[Flow]
    days: list[DayRow]
    groups: list[Row]
    species: list[Row]
    taps: dict[str, int]
    trees_with_taps: int
    trees_with_sap: int
    people: int
    entries: Entries
    into_pans: list[tuple[int, float | None]]
    drawn_off: list[tuple[int, float | None]]
    syrup_brix: float
    assumed_brix: float
    jars: list[JarRow] = field(default_factory=list)

    def kept(self) -> dict[str, Any]:
        """Plain values, to be kept as JSON when the season closes."""
        values = asdict(self)
        for row in values["days"]:
            row["day"] = row["day"].isoformat()
        return {"edition": EDITION, **values}

    @classmethod
    def from_kept(cls, values: dict[str, Any]) -> Totals:
        """The totals as they were kept."""
        given = {name: value for name, value in values.items() if name != "edition"}
        given["flows"] = [Flow(**row) for row in given["flows"]]
        given["days"] = [
            DayRow(**{**row, "day": dt.date.fromisoformat(row["day"]), "sums": Sums(**row["sums"])})
            for row in given["days"]
        ]
        for name in ("groups", "species"):
            given[name] = [Row(**{**row, "sums": Sums(**row["sums"])}) for row in given[name]]
        given["entries"] = Entries(**given["entries"])
        given["jars"] = [JarRow(**row) for row in given.get("jars", [])]
        for name in ("into_pans", "drawn_off"):
            given[name] = [(ml, brix) for ml, brix in given[name]]
        return cls(**given)

    # What is added up ------------------------------------------------------------

    def ml(self, *causes: str, standing: str = "counted", at_tree: bool | None = None) -> int:
        """Millilitres of these causes."""
        return sum(
            flow.ml
            for flow in self.flows
            if flow.cause in causes and flow.standing == standing and at_tree in (None, flow.at_tree)
        )

    @cached_property
    def sums(self) -> Sums:
        """The whole season, added from its groups."""
        whole = Sums()
        for row in self.groups:
            whole.add(row.sums)
        return whole

    @property
    def holes(self) -> int:
        return sum(self.taps.values())

    @property
    def sap_per_tap_ml(self) -> int | None:
        return round(self.sums.out_ml / self.holes) if self.holes else None

    @property
    def in_pans_ml(self) -> int:
        return sum(ml for ml, _brix in self.into_pans)

    @property
    def syrup_ml(self) -> int:
        return sum(ml for ml, _brix in self.drawn_off)

    @property
    def ratio(self) -> float | None:
        """Volumes of sap put in pans for one of syrup."""
        return self.in_pans_ml / self.syrup_ml if self.syrup_ml else None

    @property
    def best_day(self) -> DayRow | None:
        best = max(self.days, key=lambda row: row.sums.out_ml, default=None)
        return best if best is not None and best.sums.out_ml > 0 else None

    @property
    def freeze_thaw_days(self) -> int:
        return sum(1 for row in self.days if row.crosses)

    @property
    def entries_agree(self) -> bool:
        """Whether the entries, added up for themselves, say what the ledger says."""
        mine = (self.entries.out_ml, self.entries.rain_ml, self.entries.tipped_ml)
        return mine == (self.sums.out_ml, self.sums.rain_ml, self.sums.tipped_ml)

    @cached_property
    def promise(self) -> Promise | None:
        return promised(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Promise:
    """What the sugar in the pans promised, beside what was drawn off. Sugar that did not come out was lost."""

    sap_ml: int
    sap_brix: float
    syrup_brix: float
    measured_syrup: bool
    unmeasured_ml: int
    promised_ml: int
    promised_ratio: float
    drawn_off_ml: int

    @property
    def short_pct(self) -> float:
        """Per cent under what was promised; below zero when more came out than the readings allow."""
        return 100 * (self.promised_ml - self.drawn_off_ml) / self.promised_ml if self.promised_ml else 0.0


def promised(totals: Totals) -> Promise | None:
    """The exact sugar balance of the pans (core.syrup). None while nothing was drawn off or no sugar is known.

    The syrup's density is the mean of what was read at draw-off; where nobody read it, the season's finish.
    """
    if not totals.into_pans or not totals.syrup_ml:
        return None
    read = [(ml, brix) for ml, brix in totals.drawn_off if brix is not None]
    try:
        sap = pool(totals.into_pans, assumed_brix=totals.assumed_brix)
        finish = pool(read).sugar_brix if read else None
        syrup_brix = finish or totals.syrup_brix
        if not sap.sugar_brix:
            return None
        return Promise(
            sap_ml=sap.volume_ml,
            sap_brix=sap.sugar_brix,
            syrup_brix=syrup_brix,
            measured_syrup=bool(read),
            unmeasured_ml=sap.unmeasured_ml,
            promised_ml=round(syrup_from_sugar_ml(sugar_kg=sap.sugar_kg, syrup_brix=syrup_brix)),
            promised_ratio=sap_per_syrup(sap_brix=sap.sugar_brix, syrup_brix=syrup_brix),
            drawn_off_ml=totals.syrup_ml,
        )
    except CoreError:
        return None


@dataclass(kw_only=True)
class Counted:
    """A season counted now: the totals, and the cells from which a reader's own tables are added."""

    totals: Totals
    cells: list[Cell]
    trees: dict[int, TreeFacts]
    taps: TapCount


def count(season: Season, until: dt.datetime | None = None) -> Counted:
    """Count the whole season in a dozen queries, however many entries it has."""
    cells = counting.cells(season, until)
    holes = counting.taps(season)
    trees = counting.trees(season, holes)
    days = counting.by_day(season, counting.zone_of(), until)
    totals = Totals(
        year=season.year,
        flows=counting.flows(season, until),
        days=_days(days),
        groups=_groups(cells),
        species=_species(cells, trees),
        taps=holes.by_state,
        trees_with_taps=len(holes.by_tree),
        trees_with_sap=len({cell.tree_id for cell in cells if cell.sums.out_ml}),
        people=len({cell.person_id for cell in cells if cell.sums.out_ml}),
        entries=_entries(season),
        into_pans=counting.poured(season, VesselKind.PAN, until),
        drawn_off=counting.poured(season, VesselKind.LOT, until),
        syrup_brix=float(season.syrup_brix),
        assumed_brix=float(assumed_brix(season)),
        jars=jars(season),
    )
    return Counted(totals=totals, cells=cells, trees=trees, taps=holes)


def _entries(season: Season) -> Entries:
    rows = Collection.objects.filter(season=season)
    counted = rows.filter(state=CollectionState.COUNTED).aggregate(
        n=Count("pk"), out=Sum("volume_ml"), rain=Sum("rain_ml"), tipped=Sum("discarded_ml")
    )
    return Entries(
        count=counted["n"],
        out_ml=int(counted["out"] or 0),
        rain_ml=int(counted["rain"] or 0),
        tipped_ml=int(counted["tipped"] or 0),
        review=rows.filter(state=CollectionState.REVIEW).count(),
    )


def _days(sums: dict[dt.date, Sums]) -> list[DayRow]:
    if not sums:
        return []
    first, last = min(sums), max(sums)
    measured = WeatherDay.objects.filter(day__range=(first, last), source=WeatherDay.Source.MEASURED)
    weather = {day: (float(low), float(high)) for day, low, high in measured.values_list("day", "low_c", "high_c")}
    rows = []
    # A single entry with a date years away must not make a row for every day between.
    span = counting.local_days(first, last) if (last - first).days <= 400 else sorted(sums)
    for day in span:
        row = DayRow(day=day, sums=sums.get(day, Sums()))
        if day in weather:
            row.low_c, row.high_c = weather[day]
            row.crosses = CROSSES_ZERO.counts(low_c=row.low_c, high_c=row.high_c)
        rows.append(row)
    return rows


def _groups(cells: Iterable[Cell]) -> list[Row]:
    names = counting.groups()
    found = counting.added(cells, lambda cell: cell.group_id)
    rows = [Row(name=names.get(key, "") if key else "", key=key, sums=sums) for key, sums in found.items()]
    return sorted(rows, key=lambda row: (-row.sums.out_ml, row.name))


def _species(cells: Iterable[Cell], trees: dict[int, TreeFacts]) -> list[Row]:
    def kind(cell: Cell) -> str:
        return trees[cell.tree_id].species if cell.tree_id in trees else ""

    found = counting.added(cells, kind)
    taps: dict[str, int] = {}
    for tree in trees.values():
        taps[tree.species] = taps.get(tree.species, 0) + tree.taps
    names = sorted(name for name in {*found, *taps} if name in found or taps[name])
    rows = [Row(name=name, key=name, taps=taps.get(name, 0), sums=found.get(name, Sums())) for name in names]
    return sorted(rows, key=lambda row: (-row.sums.out_ml, row.name))


def totals_of(season: Season) -> tuple[Totals, Counted]:
    """The totals to show: those kept when the season closed, else counted now; and the count behind the tables."""
    counted = count(season, until=season.closed_at if season.is_closed else None)
    kept = season.frozen_totals if season.is_closed else None
    if kept and kept.get("edition") == EDITION:
        return Totals.from_kept(kept), counted
    return counted.totals, counted
