"""What the demo has made so far: people, groups, owners, depots and trees, by the names the plan gives them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field

from sugarbush.demo.programme import DemoPermission, DemoTree
from sugarbush.demo.records import DemoSeason
from sugarbush.kit.models import Container, Depot
from sugarbush.owners.models import Owner, Permission
from sugarbush.sap.models import Vessel
from sugarbush.seasons.models import Season
from sugarbush.trees.models import Tree
from sugarbush.volunteers.models import Group, Person

LEADS = {"North Bank": "tamsin", "Mill Race": "aldous", "Lantern Green": "perpetua"}
SCOUTS = {"North Bank": "sunniva", "Mill Race": "wilhelmina", "Lantern Green": "ivo"}
KNOWERS = {"North Bank": "rafe", "Mill Race": "aldous", "Lantern Green": "perpetua"}
"""Who looks at a group's trees first, and who, knowing the species, looks again."""


@dataclass(frozen=True, kw_only=True)
class Plan:
    """The demo as plain data."""

    seed: int
    first_day: dt.date
    year: int
    trees: list[DemoTree]
    slips: list[DemoPermission]
    season: DemoSeason
    last_trees: list[DemoTree]
    """Trees that were tapped last year too."""
    last_season: DemoSeason

    @property
    def last_first_day(self) -> dt.date:
        """The first day of last year's season."""
        return self.first_day - dt.timedelta(days=LAST_YEAR_DAYS)


LAST_YEAR_DAYS = 364


@dataclass
class Cast:
    """Rows by the plan's names."""

    people: dict[str, Person] = field(default_factory=dict)
    groups: dict[str, Group] = field(default_factory=dict)
    owners: dict[str, Owner] = field(default_factory=dict)
    depots: dict[str, Depot] = field(default_factory=dict)
    containers: dict[str, Container] = field(default_factory=dict)
    tanks: dict[str, Vessel] = field(default_factory=dict)
    trees: dict[str, Tree] = field(default_factory=dict)
    slips: dict[str, Permission] = field(default_factory=dict)

    @property
    def coordinator(self) -> Person:
        return self.people["odile"]

    def lead(self, group: str) -> Person:
        """Who leads a group."""
        return self.people[LEADS[group]]

    def trees_of(self, plan: Sequence[DemoTree]) -> list[Tree]:
        """The trees themselves, in the plan's order."""
        return [self.trees[tree.tree_no] for tree in plan]

    def know_trees(self, numbers: list[str]) -> None:
        """Read these trees of the town's list, as they now are."""
        for tree in Tree.objects.filter(inventory_number__in=numbers).select_related("group", "species"):
            self.trees[tree.inventory_number] = tree


def season_of(year: int) -> Season:
    """The season of a year, as it now is."""
    return Season.objects.get(year=year)
