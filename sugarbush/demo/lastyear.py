"""Last year's season of the demo: a dozen trees, one tap each, three boiling days. Small, whole and closed.

The same plain records as this year's season, so that the same acts replay it.
"""

from __future__ import annotations

import random
import uuid
from collections import Counter
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from sugarbush.demo.inventory import SEED
from sugarbush.demo.people import GROUPS, TIME_ZONE, depots
from sugarbush.demo.programme import RESTING, TAPPED, DemoTree
from sugarbush.demo.records import DemoBoil, DemoCan, DemoDelivery, DemoPull, DemoSeason, DemoTap, DemoVisit
from sugarbush.demo.season import BIT_UM, CARRIERS, TAPPERS
from sugarbush.demo.weather import weather_days

TREES_A_GROUP = 4
_WEEKS = ((9, 12), (16, 19), (23, 26))
"""The two days of each week on which sap was fetched; the second evening it was brought to the depot."""
_TAPPED, _PULLED = 5, 44
_CAN_ML = 19_000


@dataclass
class _Making:
    """What is known while the season is being written down."""

    rng: random.Random
    first_day: date

    def at(self, index: int, hour: int, minute: int) -> datetime:
        local = datetime.combine(self.first_day + timedelta(days=index), time(hour), ZoneInfo(TIME_ZONE))
        return local.astimezone(UTC) + timedelta(minutes=minute)

    def uuid(self) -> uuid.UUID:
        return uuid.UUID(int=self.rng.getrandbits(128), version=4)


def last_years_trees(trees: list[DemoTree]) -> list[DemoTree]:
    """Those of this year's trees that were tapped a year ago too: some of the town's, and those that rest for it."""
    chosen: list[DemoTree] = []
    for group in GROUPS:
        mine = [tree for tree in trees if tree.group == group and tree.owner == "town"]
        resting = [tree for tree in mine if tree.state == RESTING and "summer" not in tree.why]
        chosen += resting + [tree for tree in mine if tree.state == TAPPED][: TREES_A_GROUP - len(resting)]
    return chosen


def last_years_season(trees: list[DemoTree], *, seed: int = SEED, first_day: date) -> DemoSeason:
    """Last year's season of these trees, from its first tap to its last spout. first_day is that season's own."""
    making = _Making(random.Random(f"last year {seed}"), first_day)  # noqa: S311 - an invented town, nothing secret
    taps = [_tap(making, tree, nth) for nth, tree in enumerate(trees)]
    pulls = [
        DemoPull(tree.tree_no, 1, making.at(_PULLED, 11, 6 * nth), CARRIERS[tree.group][0])
        for nth, tree in enumerate(trees)
    ]
    visits: list[DemoVisit] = []
    deliveries: list[DemoDelivery] = []
    boils: list[DemoBoil] = []
    for week in _WEEKS:
        fetched = [_visit(making, tree, index, nth) for index in week for nth, tree in enumerate(trees)]
        brought = [_delivery(making, group, fetched, week[-1], nth) for nth, group in enumerate(GROUPS)]
        visits += fetched
        deliveries += brought
        boils.append(_boil(making, brought, week[-1] + 1))
    weather = tuple(weather_days(first_day.year, seed, first_day=first_day))
    return DemoSeason(weather, tuple(taps), tuple(visits), tuple(deliveries), tuple(boils), tuple(pulls))


def _tap(making: _Making, tree: DemoTree, nth: int) -> DemoTap:
    rng = making.rng
    return DemoTap(
        making.uuid(), tree.tree_no, 1, making.at(_TAPPED, 12, 11 * nth), TAPPERS[tree.group],
        height_mm=rng.randrange(700, 1150, 10), aspect_deg=rng.randrange(0, 360, 5), bit_um=BIT_UM, depth_mm=40,
        shavings="white", container=f"PAIL-{nth + 1:02d}",
    )  # fmt: skip


def _visit(making: _Making, tree: DemoTree, index: int, nth: int) -> DemoVisit:
    icy = index < 13 and nth % 7 == 2
    return DemoVisit(
        making.uuid(), tree.tree_no, tree.group, CARRIERS[tree.group][0], making.at(index, 15, 5 + 7 * nth), "sap",
        volume_ml=100 * making.rng.randint(18, 72), discarded_ml=500 if icy else 0, discard_reason="ice" if icy else "",
        sugar_brix=Decimal(f"{making.rng.uniform(1.7, 2.5):.1f}"), look="clear",
    )  # fmt: skip


def _delivery(making: _Making, group: str, fetched: list[DemoVisit], index: int, nth: int) -> DemoDelivery:
    """All that a carrier holds, measured anew within one and a half per cent, into the depot's first tank."""
    depot = next(depot for depot in depots() if group in depot.groups)
    theirs = [visit for visit in fetched if visit.group == group]
    held_ml = sum(visit.net_ml for visit in theirs)
    brix = sum((visit.net_ml * (visit.sugar_brix or Decimal(2)) for visit in theirs), Decimal(0)) / held_ml
    left_ml = 100 * round(held_ml * making.rng.uniform(0.985, 1.015) / 100)
    cans: list[DemoCan] = []
    while left_ml > 0:
        volume_ml = min(left_ml, _CAN_ML)
        left_ml -= volume_ml
        code = f"CAN-{len(cans) + 1:02d}"
        cans.append(DemoCan(code, volume_ml, round(brix, 1), Decimal("2.0"), "clear", depot.tanks[0][0]))
    at = making.at(index, 18, 10 + 9 * nth)
    return DemoDelivery(making.uuid(), depot.name, CARRIERS[group][0], depot.keyholder, at, held_ml, tuple(cans))


def _boil(making: _Making, brought: list[DemoDelivery], index: int) -> DemoBoil:
    """Every tank emptied into the pan; syrup by the rule of 87 for 66.0 Brix, less a few hundredths."""
    cans = [can for delivery in brought for can in delivery.cans]
    tanks_ml: Counter[str] = Counter()
    for can in cans:
        tanks_ml[str(can.tank)] += can.volume_ml
    promised_ml = float(sum(can.volume_ml * can.sugar_brix for can in cans)) / 87
    return DemoBoil(
        day=making.first_day + timedelta(days=index),
        site="Foundry yard, 4 Foundry Lane",
        lit_at=making.at(index, 8, 0),
        out_at=making.at(index, 14, 30),
        pan_area_cm2=6_000,
        lead="ingrith",
        crew=("ingrith", "odile"),
        sap=tuple(sorted(tanks_ml.items())),
        syrup_ml=50 * round(promised_ml * making.rng.uniform(0.93, 0.98) / 50),
        syrup_brix=Decimal("66.0"),
    )
