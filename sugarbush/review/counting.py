"""The season's totals straight from the ledger, a few GROUP BYs over all its movements.

What counts: movements that a collection made, where its act stands as counted. What is to review, or real but not ours,
is counted apart. A difference in measuring belongs to a delivery, so it counts whatever the entry beside it stands as.
A movement taken back counts against its cause, on the day on which the sap came.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from django.db.models import (
    BigIntegerField,
    Case,
    CharField,
    Exists,
    ExpressionWrapper,
    F,
    FloatField,
    Func,
    IntegerField,
    OuterRef,
    Q,
    QuerySet,
    Sum,
    Value,
    When,
)
from django.db.models.expressions import Combinable
from django.db.models.functions import Cast

from sugarbush.gathering.actions import ORIGIN
from sugarbush.sap import sofar
from sugarbush.sap.models import Act, ActKind, Cause, Movement, Standing, Vessel, VesselKind
from sugarbush.seasons.models import Programme, Season
from sugarbush.taps.models import Tap, TapState
from sugarbush.trees.models import Tree
from sugarbush.volunteers.models import Group

AT_THE_TREE = (Cause.OUT_OF_TREE, Cause.RAIN_KEPT, Cause.DISCARDED)
MEASURED = (Cause.MEASURED_OVER, Cause.MEASURED_UNDER)
_FROM_TREES = {str(cause) for cause in AT_THE_TREE}
QUARTER_S = 900
Key = TypeVar("Key", bound=Hashable)


class QuarterHour(Func):
    """Which quarter of an hour since 1970 a moment lies in; databases count this quickly, and every zone of today
    begins its days on one."""

    output_field = IntegerField()

    def as_sqlite(self, compiler: Any, connection: Any, **extra: Any) -> Any:
        return self.as_sql(
            compiler, connection, template="(CAST(strftime('%%%%s', %(expressions)s) AS INTEGER) / 900)", **extra
        )

    def as_postgresql(self, compiler: Any, connection: Any, **extra: Any) -> Any:
        return self.as_sql(
            compiler, connection, template="(FLOOR(EXTRACT(EPOCH FROM %(expressions)s) / 900)::integer)", **extra
        )


@dataclass(slots=True)
class Sums:
    """Millilitres that belong together. read_ml and sugar: what was measured, and millilitres times °Brix of it."""

    out_ml: int = 0
    rain_ml: int = 0
    tipped_ml: int = 0
    review_ml: int = 0
    not_ours_ml: int = 0
    read_ml: int = 0
    sugar: float = 0.0

    def add(self, other: Sums) -> None:
        self.out_ml += other.out_ml
        self.rain_ml += other.rain_ml
        self.tipped_ml += other.tipped_ml
        self.review_ml += other.review_ml
        self.not_ours_ml += other.not_ours_ml
        self.read_ml += other.read_ml
        self.sugar += other.sugar

    @property
    def kept_ml(self) -> int:
        """What left the tree in somebody's hands."""
        return self.out_ml + self.rain_ml - self.tipped_ml

    @property
    def sugar_brix(self) -> float | None:
        """Mean of the readings, weighted by volume."""
        return self.sugar / self.read_ml if self.read_ml > 0 else None


@dataclass(frozen=True, slots=True)
class Cell:
    """What one person brought from one tree for one group."""

    tree_id: int | None
    group_id: int | None
    person_id: int | None
    sums: Sums


def movements(season: Season, until: dt.datetime | None = None) -> QuerySet[Movement]:
    """The season's movements; `until`: only those recorded by then."""
    rows = Movement.objects.filter(season=season).order_by()
    return rows if until is None else rows.filter(recorded_at__lte=until)


def unusual(rows: QuerySet[Movement], season: Season) -> QuerySet[Movement]:
    """Of these, the movements of any act but a plain counted visit.

    They are few, and found by an index. To look at every act of a season for its standing takes ten times as long as
    to add all movements up and then set these right.
    """
    acts = Act.objects.filter(season=season).exclude(kind=ActKind.COLLECT, standing=Standing.COUNTED).order_by()
    return rows.filter(act__in=acts)


def signed() -> Combinable:
    """Millilitres of a movement, below zero where it takes another back."""
    return Case(When(reverses=None, then=F("volume_ml")), default=-F("volume_ml"), output_field=BigIntegerField())


def _columns(standing: Q) -> dict[str, Sum]:
    """Sums of what came out of trees, of the movements that stand so."""
    out = Q(cause=Cause.OUT_OF_TREE) & standing
    measured = out & Q(sugar_brix__isnull=False)
    return {
        "out": Sum("ml", filter=out),
        "rain": Sum("ml", filter=Q(cause=Cause.RAIN_KEPT) & standing),
        "tipped": Sum("ml", filter=Q(cause=Cause.DISCARDED) & standing),
        "read": Sum("ml", filter=measured),
        "sugar": Sum(F("ml") * Cast("sugar_brix", FloatField()), filter=measured, output_field=FloatField()),
    }


def _apart() -> dict[str, Sum]:
    """Sums of what came out of trees and does not count."""
    came = Q(cause__in=(Cause.OUT_OF_TREE, Cause.RAIN_KEPT))
    return {
        "review": Sum("ml", filter=came & Q(act__standing=Standing.REVIEW)),
        "not_ours": Sum("ml", filter=came & Q(act__standing=Standing.NOT_OURS)),
    }


def _at_the_tree(season: Season, until: dt.datetime | None) -> QuerySet[Movement]:
    return movements(season, until).filter(cause__in=AT_THE_TREE).annotate(ml=signed())


def _sums(row: Iterable[Any]) -> Sums:
    out, rain, tipped, read, sugar, review, not_ours = (value or 0 for value in row)
    return Sums(int(out), int(rain), int(tipped), int(review), int(not_ours), int(read), float(sugar))


COUNTED = Q(act__standing=Standing.COUNTED)


def cells(season: Season, until: dt.datetime | None = None) -> list[Cell]:
    """Everything that left trees, by tree, group and person; one query. All tables of the trees are added from it."""
    # "+ 0" keeps SQLite from walking the acts tree by tree, which jumps all over the file.
    rows = _at_the_tree(season, until).filter(act__origin_kind=ORIGIN).annotate(of_tree=F("act__tree_id") + 0)
    found = rows.values_list("of_tree", "act__group_id", "act__person_id").annotate(**_columns(COUNTED), **_apart())
    return [Cell(tree, group, person, _sums(row)) for tree, group, person, *row in found.iterator(chunk_size=5_000)]


def added(found: Iterable[Cell], key: Callable[[Cell], Key]) -> dict[Key, Sums]:
    """The cells added up by whatever `key` says."""
    totals: dict[Key, Sums] = defaultdict(Sums)
    for cell in found:
        totals[key(cell)].add(cell.sums)
    return dict(totals)


def by_day(season: Season, zone: ZoneInfo, until: dt.datetime | None = None) -> dict[dt.date, Sums]:
    """What left trees by local day, days of 23 and 25 hours included; two queries."""
    rows = _at_the_tree(season, until)
    does_not_count = ~(COUNTED & Q(act__origin_kind=ORIGIN))
    days: dict[dt.date, Sums] = defaultdict(Sums)

    def day(quarter: int) -> dt.date:
        return dt.datetime.fromtimestamp(quarter * QUARTER_S, zone).date()

    for quarter, *columns in (
        rows.annotate(quarter=QuarterHour("happened_at")).values_list("quarter").annotate(**_columns(Q()))
    ):
        days[day(quarter)].add(_sums([*columns, 0, 0]))
    few = unusual(rows, season).annotate(quarter=QuarterHour("happened_at")).values_list("quarter")
    for quarter, *columns in few.annotate(**_columns(does_not_count), **_apart()):
        *too_much, review, not_ours = columns
        days[day(quarter)].add(_sums([*(-(value or 0) for value in too_much), review, not_ours]))
    return {key: sums for key, sums in sorted(days.items()) if sums != Sums()}


@dataclass(frozen=True, slots=True)
class Flow:
    """Millilitres that went the same way. From or to nothing: came in or went out of the chain by its cause."""

    standing: str
    cause: str
    detail: str
    at_tree: bool
    came_from: str
    went_to: str
    ml: int


Way = tuple[str, str, bool, str, str]


def flows(season: Season, until: dt.datetime | None = None) -> list[Flow]:
    """The whole chain by cause, reason and kind of vessel.

    All movements are added as if they counted, those of earlier times once and for all; the few acts that stand
    otherwise are set right each time, since settling them changes that.
    """
    kinds = dict(Vessel.objects.filter(season=season).values_list("pk", "kind"))
    found: dict[tuple[str, Way], int] = defaultdict(int)
    counted = str(Standing.COUNTED)
    for way, ml in _ways(season, until, kinds).items():
        found[counted, way] += ml
    apart = Act.objects.filter(season=season, standing__in=(Standing.REVIEW, Standing.NOT_OURS)).order_by()
    # By their acts alone: beside the season SQLite would walk every movement to find these few.
    theirs = Movement.objects.filter(act__in=apart).order_by()
    theirs = theirs if until is None else theirs.filter(recorded_at__lte=until)
    few = _by_way(theirs, "act__standing", "act__origin_kind")
    for stands, origin, *ends, ml in few:
        way = _way(ends, kinds, at_tree=origin == ORIGIN)
        if way[2]:
            found[counted, way] -= _net(ends, ml)
            found[stands, way] += _net(ends, ml)
    return [
        Flow(standing, cause, why, tree, came, went, ml)
        for (standing, (cause, why, tree, came, went)), ml in sorted(found.items())
        if ml
    ]


def _by_way(rows: QuerySet[Movement], *first: str) -> QuerySet[Movement, tuple[Any, ...]]:
    """Sums by cause, reason, whether it takes back, and both ends."""
    # A difference carries its delivery as detail; there would be a row for each.
    rows = rows.annotate(
        why=Case(
            When(cause__in=(*MEASURED, Cause.MOVED), then=Value("", output_field=CharField())), default=F("detail")
        ),
        taken_back=ExpressionWrapper(Q(reverses__isnull=False), output_field=IntegerField()),
    )
    ways = (*first, "cause", "why", "taken_back", "from_vessel_id", "to_vessel_id")
    return rows.values_list(*ways).annotate(total=Sum("volume_ml"))


def _way(ends: Sequence[Any], kinds: dict[Any, str], *, at_tree: bool) -> Way:
    cause, why, back, source, target = ends
    came, went = (target, source) if back else (source, target)
    return cause, why, at_tree and cause in _FROM_TREES, kinds.get(came, ""), kinds.get(went, "")


def _net(ends: Sequence[Any], ml: int) -> int:
    return -int(ml) if ends[2] else int(ml)


def _ways(season: Season, until: dt.datetime | None, kinds: dict[Any, str]) -> dict[Way, int]:
    """Everything added up as if it counted. Movements are only added to, so a sum is kept up to the last of them."""
    before, kept = sofar.recall("ways", season) if until is None else (sofar.Mark(), None)
    now = sofar.mark(season) if until is None else None
    found: dict[Way, int] = defaultdict(int, kept or {})
    rows = movements(season, until)
    if now is not None:
        rows = rows.filter(seq__gt=before.seq, seq__lte=now.seq) if before.seq else rows.filter(seq__lte=now.seq)
    for *ends, ml in _by_way(rows):
        found[_way(ends, kinds, at_tree=True)] += _net(ends, ml)
    # Tipped out from a tank is not tipped out at a tree; those acts are no visits.
    others = Act.objects.filter(season=season).exclude(kind__in=(ActKind.COLLECT, ActKind.DELIVER, ActKind.BOIL))
    apart = rows.filter(act__in=others.exclude(origin_kind=ORIGIN).order_by(), cause__in=AT_THE_TREE)
    for *ends, ml in _by_way(apart):
        found[_way(ends, kinds, at_tree=True)] -= _net(ends, ml)
        found[_way(ends, kinds, at_tree=False)] += _net(ends, ml)
    if now is not None:
        sofar.keep("ways", season, now, dict(found))
    return found


def poured(season: Season, kind: str, until: dt.datetime | None = None) -> list[tuple[int, float | None]]:
    """What went into vessels of this kind (pans, lots) by its sugar: (millilitres, °Brix or None); two queries.

    Syrup poured back from a lot into a pan is no sap: it counts against what was drawn off.
    """
    rows = movements(season, until).filter(cause=Cause.MOVED)
    before = VesselKind.TANK if kind == VesselKind.PAN else VesselKind.PAN
    into = rows.filter(from_vessel__kind=before, to_vessel__kind=kind, reverses=None)
    back = rows.filter(from_vessel__kind=kind, to_vessel__kind=before)
    net: dict[float | None, int] = defaultdict(int)
    for sign, part in ((1, into), (-1, back)):
        for brix, ml in part.values_list("sugar_brix").annotate(ml=Sum("volume_ml")):
            net[None if brix is None else float(brix)] += sign * int(ml)
    return [(ml, brix) for brix, ml in sorted(net.items(), key=lambda row: (row[0] is None, row[0] or 0)) if ml > 0]


@dataclass(slots=True)
class TreeFacts:
    """What the tables say of a tree."""

    code: str
    address: str
    species: str
    taps: int = 0


@dataclass(slots=True)
class TapCount:
    """The season's holes, whatever became of them."""

    by_state: dict[str, int] = field(default_factory=lambda: dict.fromkeys(map(str, TapState), 0))
    by_tree: dict[int, int] = field(default_factory=dict)

    @property
    def holes(self) -> int:
        return sum(self.by_state.values())


def taps(season: Season) -> TapCount:
    """The season's holes by state and by tree; one query."""
    count = TapCount()
    for tree_id, state in Tap.objects.filter(season=season).order_by().values_list("tree_id", "state").iterator():
        count.by_state[state] += 1
        count.by_tree[tree_id] = count.by_tree.get(tree_id, 0) + 1
    return count


def trees(season: Season, holes: TapCount) -> dict[int, TreeFacts]:
    """The trees with a hole or with sap this season; one query."""
    with_sap = Act.objects.filter(tree=OuterRef("pk"), season=season)
    with_hole = Tap.objects.filter(tree=OuterRef("pk"), season=season)
    rows = Tree.objects.filter(Exists(with_sap) | Exists(with_hole)).order_by()
    return {
        pk: TreeFacts(code, address, species or "", holes.by_tree.get(pk, 0))
        for pk, code, address, species in rows.values_list("pk", "code", "address", "species__common")
    }


def groups() -> dict[int, str]:
    return dict(Group.objects.values_list("pk", "name"))


def zone_of(programme: Programme | None = None) -> ZoneInfo:
    """The zone in which the programme's days begin and end."""
    found = programme or Programme.current()
    return found.zone if found else ZoneInfo("UTC")


def local_days(first: dt.date, last: dt.date) -> Iterator[dt.date]:
    """Every day from first to last, both included."""
    for n in range((last - first).days + 1):
        yield first + dt.timedelta(days=n)
