"""From entries to what each person brought: their sap, net of what was turned away, and where its sugar was read.

Sap of several entries travels together, so what is turned away, spilled or handed over at a moment is taken from all
that is in those hands just then, each entry by its part, to the millilitre (core.shares). Times are those of the field:
an entry that came in late stands where it belongs.
"""

from __future__ import annotations

import gc
from collections import defaultdict
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from decimal import Decimal
from operator import itemgetter
from typing import NamedTuple

from django.db.models import CharField
from django.db.models.functions import Cast

from sugarbush.boils.models import Delivery, DeliveryLine
from sugarbush.gathering.models import Collection, CollectionState
from sugarbush.sap.models import ActKind, Cause, Movement, VesselKind
from sugarbush.sap.tanks import assumed_brix
from sugarbush.seasons.models import Season

SOURCES = ("entry", "delivery", "tree", "programme")
"""Where the sugar of an entry was read, the nearest first. Kept with a share by its place in this row."""


@dataclass(slots=True, kw_only=True)
class Brought:
    """One counted entry: what of it counts, and its sugar in hundredths of a °Brix with the place of its source."""

    pk: str
    person_id: int
    tree_id: int
    at: str
    sap_ml: int
    rain_ml: int
    net_ml: int
    own: int | None
    gone_ml: int = 0
    delivered: int | None = None

    @property
    def counted_ml(self) -> int:
        """Its sap, without rain, tipped out, turned away or spilled; half a millilitre counts as one."""
        whole = self.sap_ml + self.rain_ml
        if not self.rain_ml or not whole:
            return self.net_ml - self.gone_ml
        return (2 * (self.net_ml - self.gone_ml) * self.sap_ml + whole) // (2 * whole)


class Weighed(NamedTuple):
    """One entry as a share keeps it: which, its millilitres, hundredths of a °Brix, and the place of its source."""

    entry: str
    ml: int
    brix_hundredths: int
    source: int


ENTRY, OVER, GONE, DELIVERY = range(4)  # at the same moment: what comes before what goes


@dataclass(slots=True, kw_only=True)
class _Drop:
    """A delivery as it takes sap out of hands."""

    person_id: int
    rejected_ml: int = 0
    measured_ml: int = 0
    all_of_it: bool = False
    sugar: int = 0
    read_ml: int = 0

    @property
    def brix(self) -> int | None:
        """Mean of its readings by volume, in hundredths; half counts as one."""
        return (2 * self.sugar + self.read_ml) // (2 * self.read_ml) if self.read_ml else None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Way:
    """Sap that went from one pair of hands to another, or was lost on the way (no taker)."""

    giver: int
    ml: int
    taker: int | None = None


Event = tuple[str, int, int, "_Way | _Drop | None"]


def hundredths(brix: Decimal) -> int:
    return int(brix * 100)


def _plain(name: str) -> Cast:
    """A moment or a key as the database writes it: in order all the same, and four times as fast to read."""
    return Cast(name, CharField())


def entries_of(season: Season) -> list[Brought]:
    """Every counted entry with sap, oldest first; one query."""
    rows = (
        Collection.objects.filter(season=season, state=CollectionState.COUNTED, volume_ml__gt=0)
        .annotate(key=_plain("pk"), at=_plain("happened_at"))
        .order_by("happened_at", "pk")
        .values_list("key", "person_id", "tree_id", "at", "volume_ml", "rain_ml", "discarded_ml", "sugar_brix")
    )
    return [
        Brought(
            pk=key.replace("-", ""),
            person_id=person_id,
            tree_id=tree_id,
            at=at,
            sap_ml=sap_ml,
            rain_ml=rain_ml,
            net_ml=sap_ml + rain_ml - tipped_ml,
            own=None if brix is None else hundredths(brix),
        )
        for key, person_id, tree_id, at, sap_ml, rain_ml, tipped_ml, brix in rows.iterator(chunk_size=10_000)
    ]


def _deliveries(season: Season) -> Iterable[Event]:
    found: dict[str, tuple[str, int, _Drop]] = {}
    rows = Delivery.objects.filter(season=season).annotate(key=_plain("pk"), at=_plain("happened_at")).order_by()
    for pk, person_id, at, number, all_of_it in rows.values_list("key", "person_id", "at", "number", "all_of_it"):
        found[pk] = (at, number, _Drop(person_id=person_id, all_of_it=all_of_it))
    lines = DeliveryLine.objects.filter(delivery__season=season).annotate(key=_plain("delivery_id")).order_by()
    for pk, volume_ml, brix, rejected in lines.values_list("key", "volume_ml", "sugar_brix", "reject_reason"):
        drop = found[pk][2]
        drop.measured_ml += volume_ml
        if rejected:
            drop.rejected_ml += volume_ml
        elif brix is not None:
            drop.sugar += hundredths(brix) * volume_ml
            drop.read_ml += volume_ml
    return [(at, DELIVERY, number, drop) for at, number, drop in found.values()]


def _other_ways(season: Season) -> Iterable[Event]:
    """Handed over to somebody else, or spilled and tipped out on the way."""
    standing = Movement.objects.filter(season=season, reverses=None, reversed_by=None, from_vessel__kind="hands")
    standing = standing.annotate(at=_plain("happened_at")).order_by("seq")
    over = standing.filter(act__kind=ActKind.HAND_OVER, to_vessel__kind=VesselKind.HANDS)
    ends = ("seq", "at", "from_vessel__person_id", "to_vessel__person_id", "volume_ml")
    for seq, at, giver, taker, ml in over.values_list(*ends):
        yield at, OVER, seq, _Way(giver=giver, taker=taker, ml=ml)
    lost = standing.filter(cause__in=(Cause.DISCARDED, Cause.SPILLED)).exclude(act__origin_kind="collection")
    for seq, at, giver, ml in lost.values_list("seq", "at", "from_vessel__person_id", "volume_ml"):
        yield at, GONE, seq, _Way(giver=giver, ml=ml)


class Hands:
    """What one pair of hands holds: millilitres by entry, in the order in which they came."""

    def __init__(self) -> None:
        self.held: dict[int, int] = {}
        self.total = 0

    def put(self, entry: int, ml: int) -> None:
        self.held[entry] = self.held.get(entry, 0) + ml
        self.total += ml

    def take(self, ml: int) -> dict[int, int]:
        """Take so much, from each entry by its part; at most what is there."""
        if ml >= self.total:
            taken, self.held, self.total = self.held, {}, 0
            return taken
        if ml <= 0:
            return {}
        taken, left, rest = {}, ml, []
        for entry, there in self.held.items():
            whole, over = divmod(ml * there, self.total)
            taken[entry] = whole
            left -= whole
            rest.append((-over, -there, entry))
        rest.sort()
        for _over, _there, entry in rest[:left]:
            taken[entry] += 1
        for entry, part in taken.items():
            if part == self.held[entry]:
                del self.held[entry]
            else:
                self.held[entry] -= part
        self.total -= ml
        return taken


def walk(entries: list[Brought], others: Iterable[Event]) -> None:
    """Follow the sap through people's hands; each entry then knows what of it was lost and which delivery read it."""
    hands: dict[int, Hands] = defaultdict(Hands)
    events: list[Event] = [(entry.at, ENTRY, n, None) for n, entry in enumerate(entries)]
    events += others
    events.sort(key=itemgetter(0, 1, 2))
    for _at, kind, n, what in events:
        if kind == ENTRY:
            entry = entries[n]
            if entry.net_ml:
                hands[entry.person_id].put(n, entry.net_ml)
        elif isinstance(what, _Way):
            taken = hands[what.giver].take(what.ml)
            if what.taker is None:
                _lose(entries, taken)
            else:
                for place, part in taken.items():
                    hands[what.taker].put(place, part)
        elif what is not None:
            _drop(entries, hands[what.person_id], what)


def _lose(entries: list[Brought], taken: dict[int, int]) -> None:
    for place, part in taken.items():
        entries[place].gone_ml += part


def _drop(entries: list[Brought], held: Hands, drop: _Drop) -> None:
    _lose(entries, held.take(drop.rejected_ml))
    brought = held.take(held.total if drop.all_of_it else drop.measured_ml - drop.rejected_ml)
    if drop.brix is not None:
        for place in brought:
            if entries[place].delivered is None:
                entries[place].delivered = drop.brix


def tree_means(entries: Iterable[Brought]) -> dict[int, int]:
    """The mean of each tree's own readings this season, in hundredths of a °Brix; half counts as one."""
    sums: dict[int, list[int]] = defaultdict(lambda: [0, 0])
    for entry in entries:
        if entry.own is not None:
            sums[entry.tree_id][0] += entry.own
            sums[entry.tree_id][1] += 1
    return {tree: (2 * total + count) // (2 * count) for tree, (total, count) in sums.items()}


@contextmanager
def _without_sweeps() -> Iterator[None]:
    """No sweeps for circles of unused objects meanwhile.

    A city's season makes a million objects that stay, and no circles; the sweeps alone took a third of the time.
    """
    sweeps = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if sweeps:
            gc.enable()


def weighed(season: Season) -> tuple[dict[int, list[Weighed]], Decimal]:
    """What each person brought, entry by entry, and the sugar the programme assumes where nobody read any.

    Six queries and one pass, however long the season. Entries of which nothing counts are left out.
    """
    with _without_sweeps():
        return _weighed(season)


def _weighed(season: Season) -> tuple[dict[int, list[Weighed]], Decimal]:
    entries = entries_of(season)
    walk(entries, [*_deliveries(season), *_other_ways(season)])
    means = tree_means(entries)
    programme = assumed_brix(season)
    last = hundredths(programme)
    found: dict[int, list[Weighed]] = defaultdict(list)
    for entry in entries:
        ml = entry.counted_ml
        if ml <= 0:
            continue
        if entry.own is not None:
            brix, source = entry.own, 0
        elif entry.delivered is not None:
            brix, source = entry.delivered, 1
        elif entry.tree_id in means:
            brix, source = means[entry.tree_id], 2
        else:
            brix, source = last, 3
        found[entry.person_id].append(Weighed(entry.pk, ml, brix, source))
    return dict(found), programme


def sugar_of(rows: Iterable[Weighed]) -> Decimal:
    """Litres times °Brix of these entries, exact (core.sharerules.sugar_weight, in whole hundredths)."""
    return Decimal(sum(row.ml * row.brix_hundredths for row in rows)).scaleb(-5)
