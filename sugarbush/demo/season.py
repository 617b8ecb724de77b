"""One season of the demo as plain data: taps, visits, deliveries, boiling days, pulled spouts.

The litres follow the weather, the kind of maple and the single tree. Everything a person would have written down is
here, in the order it happened, so that a later step can replay it through the same acts a person uses. It closes:
what a carrier delivers is what they hold, measured anew within two per cent; every tank is emptied into the pan.
"""

from __future__ import annotations

import math
import random
import uuid
from collections import defaultdict
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from sugarbush.demo.inventory import SEED
from sugarbush.demo.people import TIME_ZONE, depots
from sugarbush.demo.programme import DemoTree, programme_trees, stop_day
from sugarbush.demo.records import DemoBoil, DemoCan, DemoDelivery, DemoPull, DemoSeason, DemoTap, DemoVisit
from sugarbush.demo.weather import YEAR, first_day_of, sap_strength, weather_days

PAIL_ML = 11_000
CAN_ML = 20_000
BIT_UM = 7938
"""5/16 inch, today's usual bit (UVM Extension)."""
# What a tap gives on a day of strength 1, in millilitres, and the usual sugar, by kind. The demo's own figures.
_FLOW_ML = {"saccharum": 2300, "nigrum": 2200, "rubrum": 1900, "saccharinum": 2700, "negundo": 1800,
            "platanoides": 1300, "macrophyllum": 1500, "grandidentatum": 1200}  # fmt: skip
_BRIX = {"saccharum": 2.4, "nigrum": 2.3, "rubrum": 1.7, "saccharinum": 1.7, "negundo": 2.1,
         "platanoides": 1.8, "macrophyllum": 1.6, "grandidentatum": 2.2}  # fmt: skip
TAPPERS = {"North Bank": "rafe", "Mill Race": "bram", "Lantern Green": "ivo"}
CARRIERS = {"North Bank": ("rafe", "sunniva"), "Mill Race": ("bram", "wilhelmina"),
            "Lantern Green": ("ivo", "perpetua")}  # fmt: skip
_DELIVERY_DAYS = (1, 4)
_BOIL_DAY = 5
_LAST_ROUND = 46
_PULL_DAY = 47
_PAN_AREA_CM2 = 12_000


@dataclass
class _Making:
    """What is known while the season is being written down."""

    rng: random.Random
    start: date
    strengths: list[float]
    trees: list[DemoTree]
    in_pails_ml: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    cans: int = 0

    def at(self, index: int, hour: int, minute: float) -> datetime:
        """A local time on a day of the season, as UTC."""
        local = datetime.combine(self.start + timedelta(days=index), time(hour), ZoneInfo(TIME_ZONE))
        return local.astimezone(UTC) + timedelta(minutes=round(minute))

    def uuid(self) -> uuid.UUID:
        """An identifier of the usual random kind, but from the seed."""
        return uuid.UUID(int=self.rng.getrandbits(128), version=4)


def demo_season(
    trees: list[DemoTree] | None = None, *, seed: int = SEED, year: int = YEAR, first_day: date | None = None
) -> DemoSeason:
    """The whole season, from the first tap to the last spout. first_day moves it to another time as it is."""
    start = first_day or first_day_of(year)
    weather = weather_days(year, seed, first_day=start)
    trees = programme_trees(seed=seed, first_day=start) if trees is None else trees
    making = _Making(random.Random(f"season {seed}"), start, sap_strength(weather), [t for t in trees if t.taps])  # noqa: S311
    taps = _taps(making)
    visits = _visits(making)
    deliveries, boils = _deliveries_and_boils(making, visits)
    return DemoSeason(
        tuple(weather), tuple(taps), tuple(visits), tuple(deliveries), tuple(boils), tuple(_pulls(making, taps))
    )


def _taps(making: _Making) -> list[DemoTap]:
    taps: list[DemoTap] = []
    rng = making.rng
    so_far: dict[str, int] = defaultdict(int)
    for tree in making.trees:
        aspect = rng.randrange(0, 360, 5)
        for position in range(1, tree.taps + 1):
            # Saturday and Sunday of the first week, about ten minutes a hole, on days above freezing.
            day, minute = 5 + so_far[tree.group] // 8, 11 * (so_far[tree.group] % 8)
            so_far[tree.group] += 1
            taps.append(
                DemoTap(
                    making.uuid(), tree.tree_no, position, making.at(day, 12, minute), TAPPERS[tree.group],
                    height_mm=rng.randrange(700, 1150, 10), aspect_deg=(aspect + 170 * (position - 1)) % 360,
                    bit_um=BIT_UM, depth_mm=rng.choice((40, 42, 45)), shavings="white",
                    container=f"PAIL-{len(taps) + 1:02d}",
                )
            )  # fmt: skip
    return sorted(taps, key=lambda tap: tap.placed_at)


def _gathering_days(making: _Making) -> list[int]:
    """Between two and five days of each week from the second: those on which the most sap hangs."""
    days: list[int] = []
    for week in range(1, len(making.strengths) // 7):
        # A round ends with the week's Friday; the week-end's sap is fetched with Monday's.
        usable = [7 * week + weekday for weekday in range(5)]
        running = sorted(usable, key=lambda i: (-making.strengths[i], i))
        good = [i for i in running if making.strengths[i] > 0.3]
        days += sorted(running[: max(2, min(5, len(good)))])
    return days


def _visits(making: _Making) -> list[DemoVisit]:
    visits: list[DemoVisit] = []
    rng = making.rng
    factor = {tree.tree_no: math.exp(rng.gauss(0, 0.28)) for tree in making.trees}
    # One hole in the town is all but dry.
    factor[making.trees[len(making.trees) // 2].tree_no] = 0.04
    sugar = {tree.tree_no: rng.gauss(0, 0.16) for tree in making.trees}
    rounds = _gathering_days(making)
    for index in range(6, _LAST_ROUND + 1):
        for tree in making.trees:
            flow = _FLOW_ML[_epithet(tree)] * tree.taps * factor[tree.tree_no] * making.strengths[index]
            room = PAIL_ML * tree.taps
            hanging_ml = making.in_pails_ml[tree.tree_no] + flow * rng.uniform(0.85, 1.15)
            making.in_pails_ml[tree.tree_no] = min(room, hanging_ml)
        if index not in rounds:
            continue
        at_stop: dict[str, int] = defaultdict(int)
        for tree in making.trees:
            late = _days_after_stop(tree, making, index)
            # After a stop nobody comes by any more, but for one who had not heard of it.
            if late is not None and not (tree.why == "revoked" and 0 < late <= 4 and not _came_late(visits, tree)):
                continue
            person = CARRIERS[tree.group][rounds.index(index) % 2]
            happened_at = making.at(index, 15, 10 + 6 * at_stop[tree.group] + rng.uniform(0, 3))
            at_stop[tree.group] += 1
            visit = _visit(making, tree, index, person, happened_at, sugar[tree.tree_no])
            visits.append(replace(visit, after_stop=late is not None))
    return sorted(visits, key=lambda visit: (visit.happened_at, visit.tree_no))


def _epithet(tree: DemoTree) -> str:
    return tree.row["BOTANICAL"].split()[1]


def _days_after_stop(tree: DemoTree, making: _Making, index: int) -> int | None:
    stop = stop_day(tree, making.start)
    days = (making.start + timedelta(days=index) - stop).days if stop else -1
    return days if days >= 0 else None


def _came_late(visits: list[DemoVisit], tree: DemoTree) -> bool:
    return any(visit.after_stop and visit.tree_no == tree.tree_no for visit in visits)


def _visit(
    making: _Making, tree: DemoTree, index: int, person: str, happened_at: datetime, sweeter: float
) -> DemoVisit:
    rng = making.rng
    hanging_ml = making.in_pails_ml[tree.tree_no]
    volume_ml = 100 * round(hanging_ml / 100)
    blank = DemoVisit(making.uuid(), tree.tree_no, tree.group, person, happened_at, "empty")
    chance = rng.random()
    if chance < 0.012:
        return replace(blank, outcome="no_access", note="gate locked, nobody in")
    if chance < 0.016:
        return replace(blank, outcome="unsafe", note="limb hanging over the pail")
    if chance < 0.020:
        making.in_pails_ml[tree.tree_no] = 0
        return replace(blank, outcome="gone", note="pail not on its hook, new one hung")
    if making.strengths[index] < 0.7 and index < 30 and chance < 0.055:
        return replace(blank, outcome="frozen")
    making.in_pails_ml[tree.tree_no] = 0
    if volume_ml < 200:
        return blank
    discarded_ml, reason, look = _tipped(making, index, volume_ml)
    brix = _BRIX[_epithet(tree)] + sweeter + rng.gauss(0, 0.08) - max(0, index - 30) * 0.015
    measured = rng.random() < 0.6
    return replace(
        blank,
        outcome="sap",
        volume_ml=volume_ml,
        discarded_ml=discarded_ml,
        discard_reason=reason,
        sugar_brix=Decimal(f"{min(2.9, max(1.3, brix)):.1f}") if measured else None,
        look=look,
        note="pail full to the brim" if volume_ml >= PAIL_ML * tree.taps else "",
    )


def _tipped(making: _Making, index: int, volume_ml: int) -> tuple[int, str, str]:
    """How much is tipped out at the tree, why, and how the rest looks."""
    rng = making.rng
    chance = rng.random()
    if index < 20 and chance < 0.07:
        return min(volume_ml, rng.choice((300, 400, 500, 800))), "ice", "clear"
    if 0.10 < chance < 0.115:
        return min(volume_ml, 500), "debris", "debris"
    if index > 37 and chance < 0.10 + 0.05 * (index - 38):
        return volume_ml, "milky" if index > 43 else "cloudy", "milky" if index > 43 else "cloudy"
    return 0, "", "clear"


def _deliveries_and_boils(making: _Making, visits: list[DemoVisit]) -> tuple[list[DemoDelivery], list[DemoBoil]]:
    deliveries: list[DemoDelivery] = []
    boils: list[DemoBoil] = []
    tanks_ml: dict[str, int] = defaultdict(int)
    sugar_ml: dict[str, float] = defaultdict(float)
    brought = 0
    for week in range(1, len(making.strengths) // 7):
        for weekday in _DELIVERY_DAYS:
            cut = making.at(7 * week + weekday, 18, 0)
            lot = [visit for visit in visits[brought:] if visit.happened_at < cut]
            brought += len(lot)
            carried: dict[tuple[str, str], list[DemoVisit]] = defaultdict(list)
            for visit in lot:
                if visit.net_ml:
                    carried[(visit.group, visit.person)].append(visit)
            for nth, ((group, person), theirs) in enumerate(carried.items()):
                at = making.at(7 * week + weekday, 18, 5 + 9 * nth)
                deliveries.append(_delivery(making, group, person, theirs, at, tanks_ml, sugar_ml))
        boils.append(_boil(making, week, tanks_ml, sugar_ml))
    return deliveries, boils


def _delivery(
    making: _Making, group: str, person: str, theirs: list[DemoVisit], at: datetime,
    tanks_ml: dict[str, int], sugar_ml: dict[str, float],
) -> DemoDelivery:  # fmt: skip
    rng = making.rng
    depot = next(depot for depot in depots() if group in depot.groups)
    held_ml = sum(visit.net_ml for visit in theirs)
    read = [(visit.net_ml, float(visit.sugar_brix)) for visit in theirs if visit.sugar_brix is not None]
    weight = sum(ml for ml, _ in read)
    brix = sum(ml * b for ml, b in read) / weight if weight else 1.9
    left_ml = max(100, 100 * round(held_ml * rng.uniform(0.985, 1.015) / 100))
    cans: list[DemoCan] = []
    day = (at - timedelta(hours=12)).date()
    index = (day - making.start).days
    while left_ml > 0:
        volume_ml = min(left_ml, 19_000)
        left_ml -= volume_ml
        making.cans += 1
        # Two cans of the whole season are turned away, both in its warm last fortnight.
        sour = index > 35 and making.cans % 16 == 0
        tank = None if sour else _tank_with_room(depot.tanks, tanks_ml, volume_ml)
        can_brix = Decimal(f"{min(2.9, max(1.3, brix + rng.gauss(0, 0.04))):.1f}")
        if tank:
            tanks_ml[tank] += volume_ml
            sugar_ml[tank] += volume_ml * float(can_brix)
        cans.append(
            DemoCan(
                f"CAN-{making.cans % 30 + 1:02d}", volume_ml, can_brix, Decimal(f"{rng.uniform(0.5, 4.0):.1f}"),
                "milky" if sour else "clear", tank, "smells sour" if sour else "",
            )
        )  # fmt: skip
    return DemoDelivery(making.uuid(), depot.name, person, depot.keyholder, at, held_ml, tuple(cans))


def _tank_with_room(tanks: tuple[tuple[str, int], ...], held_ml: dict[str, int], volume_ml: int) -> str:
    return next(code for code, room_ml in tanks if held_ml[code] + volume_ml <= room_ml)


def _boil(making: _Making, week: int, tanks_ml: dict[str, int], sugar_ml: dict[str, float]) -> DemoBoil:
    """Every tank emptied into the pan; syrup by the rule of 87 for 66.0 Brix, less a few hundredths."""
    index = 7 * week + _BOIL_DAY
    sap = tuple((code, volume_ml) for code, volume_ml in sorted(tanks_ml.items()) if volume_ml)
    promised_ml = sum(sugar_ml[code] for code, _ in sap) / 87
    # An hour to heat, then 40 litres an hour and square metre, the usual flat pan; common practice.
    hours = 1.0 + sum(volume_ml for _, volume_ml in sap) / 1000 / (40 * _PAN_AREA_CM2 / 10_000)
    tanks_ml.clear()
    sugar_ml.clear()
    return DemoBoil(
        day=making.start + timedelta(days=index),
        site="Foundry yard, 4 Foundry Lane",
        lit_at=making.at(index, 7, 30),
        out_at=making.at(index, 7, 30 + 60 * hours),
        pan_area_cm2=_PAN_AREA_CM2,
        lead="ingrith",
        crew=("ingrith", "odile", ("tamsin", "aldous", "perpetua")[week % 3]),
        sap=sap,
        syrup_ml=50 * round(promised_ml * making.rng.uniform(0.94, 0.99) / 50),
        syrup_brix=Decimal("66.0"),
    )


def _pulls(making: _Making, taps: list[DemoTap]) -> list[DemoPull]:
    tree_of = {tree.tree_no: tree for tree in making.trees}
    pulls: list[DemoPull] = []
    for nth, tap in enumerate(taps):
        group = tree_of[tap.tree_no].group
        pulls.append(DemoPull(tap.tree_no, tap.position, making.at(_PULL_DAY, 10, 6 * nth), CARRIERS[group][0]))
    return pulls
