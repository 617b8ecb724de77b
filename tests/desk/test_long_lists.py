"""A list of 2,000 asks the database no more questions than a list of 20; every list that has pages is here."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from pytest_django.plugin import DjangoDbBlocker

from sugarbush.boils.models import BoilDay, Delivery
from sugarbush.owners.models import TreeOwner
from sugarbush.sap.models import Act
from sugarbush.trees.files import ImportProblem, ImportRun
from sugarbush.trees.tiles import t17
from sugarbush.volunteers.models import Membership
from sugarbush.weather.models import WeatherDay
from tests import make

pytestmark = [pytest.mark.django_db, pytest.mark.heavy, pytest.mark.slow]
FEW, MANY = 20, 2_000


class Town:
    """One row of each kind, made by the usual means, and as many copies of it as a test asks for."""

    def __init__(self) -> None:
        make.programme()
        self.alice = make.alice()
        self.season = make.season(state="running")
        self.tree = make.tapped_tree()
        self.owner = make.owner()
        make.owns(self.tree, self.owner)
        self.slip = self.tree.permissions.get()
        self.entry = make.collection(self.tree, litres="2")
        self.waiting = make.collection(make.given_tree(), litres="2")
        self.to_settle = make.tap(make.given_tree(), state="to_settle", settle_reasons=["Somebody was faster."])
        self.tank = make.tank()
        self.delivery = Delivery.objects.create(
            number=1, season=self.season, depot=make.depot(), person=make.bob(), keeper=make.dora(),
            happened_at=timezone.now(), explanation="The scale was wet.", difference_ml=10,
        )  # fmt: skip
        self.run = ImportRun.objects.create(file_name="trees.csv", path="x", sha256="0" * 64, started_by=self.alice)
        self.row = ImportProblem.objects.create(run=self.run, row_number=1, reason="no_place")
        self.boil = BoilDay.objects.create(season=self.season, day=make.today(), site="Foundry yard", lead=make.kai())
        self.weather = WeatherDay.objects.create(day=make.today(), low_c=-5, high_c=6, entered_by=self.alice)
        self.pail = make.container()
        self.bob = make.bob()
        self.role = Membership.objects.get(person=self.bob)
        self.given, self.spout = self.tree.assignments.get(), self.tree.taps.get()
        self.line, self.owned = self.slip.lines.get(), TreeOwner.objects.get(tree=self.tree)
        self.act = Act.objects.get(origin_uuid=self.entry.pk)
        self.moved = self.act.movements.get()
        self.rows = 1

    def grow(self, rows: int) -> None:
        """Copies, until there are so many of each."""
        n = range(self.rows, rows)
        self.rows = rows
        east = [self.tree.longitude + k * 0.0002 for k in range(rows)]  # 15 m apart: none looks like its neighbour
        trees = copies(
            self.tree,
            n,
            code=lambda k: f"QH-{50_000 + k}",
            address=lambda k: f"{k} Weir Lane",
            longitude=lambda k: east[k],
            t17=lambda k: t17(longitude_deg=east[k], latitude_deg=self.tree.latitude),
        )
        people = copies(self.bob, n, display_name=lambda k: f"Walker {k}", email=lambda k: None)
        of_tree: dict[str, Callable[[int], Any]] = {"tree": lambda k: trees[k - n.start]}
        of_both = {**of_tree, "person": lambda k: people[k - n.start]}
        copies(self.role, n, person=of_both["person"])
        copies(self.given, n, **of_tree)
        taps = copies(self.spout, n, **of_tree)
        copies(self.to_settle, n, position=lambda k: 2, **of_tree)
        slips = copies(self.slip, n, number=lambda k: f"P9{k:05}")
        copies(self.line, n, permission=lambda k: slips[k - n.start], **of_tree)
        # All of them on one slip and with one owner as well: those pages list trees.
        copies(self.line, n, **of_tree)
        copies(self.owned, n, **of_tree)
        copies(self.owner, n, name=lambda k: f"Owner {k}")
        copies(self.entry, n, tap=lambda k: taps[k - n.start], **of_both)
        copies(self.waiting, n, **of_both)
        acts = copies(self.act, n, **of_both)
        hands = copies(self.moved.to_vessel, n, person=of_both["person"])
        copies(self.moved, n, act=lambda k: acts[k - n.start], to_vessel=lambda k: hands[k - n.start])
        copies(self.delivery, n, number=lambda k: k + 1, person=of_both["person"])
        copies(self.run, n, file_name=lambda k: f"trees {k}.csv")
        copies(self.row, n, row_number=lambda k: k + 1)
        copies(self.boil, n, day=lambda k: make.today() - make.days(k))
        copies(self.weather, n, day=lambda k: make.today() - make.days(k))
        copies(self.pail, n, code=lambda k: f"P-9{k:05}")
        copies(make.group(), n, name=lambda k: f"Group {k}")
        copies(make.depot(), n, name=lambda k: f"Yard {k}")


def copies(row: Any, n: range, **differ: Callable[[int], Any]) -> list[Any]:
    """The row again and again, each with its own number, its own id and what else must differ."""
    model = type(row)
    fields = [field for field in model._meta.concrete_fields if not field.primary_key and field.name not in differ]
    values = {field.attname: getattr(row, field.attname) for field in fields if not field.unique}
    once = [field for field in fields if field.unique]  # such as a key of its own: made anew
    rows = [
        model(
            **values,
            **{field.attname: field.get_default() for field in once},
            **{name: make_one(k) for name, make_one in differ.items()},
        )
        for k in n
    ]
    return list(model._default_manager.bulk_create(rows, batch_size=500))


LISTS: dict[str, Callable[[Town], str]] = {
    "trees": lambda town: reverse("trees"),
    "trees, all": lambda town: reverse("trees") + "?all=1",
    "trees on the map": lambda town: reverse("map"),
    "owners": lambda town: reverse("owners"),
    "an owner's trees": lambda town: reverse("owner", args=[town.owner.pk]),
    "permissions": lambda town: reverse("permissions"),
    "people": lambda town: reverse("people"),
    "groups": lambda town: reverse("groups"),
    "a group": lambda town: reverse("group", args=[make.group().pk]),
    "containers": lambda town: reverse("containers"),
    "depots": lambda town: reverse("depots"),
    "deliveries": lambda town: reverse("deliveries"),
    "entries to look at": lambda town: reverse("review-list"),
    "taps in": lambda town: reverse("taps-in"),
    "taps to settle": lambda town: reverse("taps-settle"),
    "boil days": lambda town: reverse("boil-days"),
    "season, its trees and people": lambda town: reverse("season-review"),
    "season, its ledger": lambda town: reverse("season-ledger"),
    "files": lambda town: reverse("files"),
    "a file's rows": lambda town: reverse("file", args=[town.run.pk]),
    "weather": lambda town: reverse("weather"),
    "today": lambda town: reverse("today"),
}

# What 2,000 people carry is read some hundred hands at a time: a database takes only so many values in one question.
BY_THE_HUNDRED = {"deliveries": 4, "today": 4}


@pytest.fixture(scope="module")
def asked(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[dict[str, list[list[str]]]]:
    """The questions of each list, with few rows and with many. Built once; nothing of it stays."""
    with django_db_blocker.unblock(), transaction.atomic():
        town, client = Town(), Client()
        client.force_login(town.alice)
        found: dict[str, list[list[str]]] = {name: [] for name in LISTS}
        for rows in (FEW, MANY):
            town.grow(rows)
            for name, way in LISTS.items():
                with CaptureQueriesContext(connection) as context:
                    answer = client.get(way(town))
                assert answer.status_code == 200, name
                found[name].append([query["sql"] for query in context.captured_queries])
        yield found
        transaction.set_rollback(True)
    make.forget()


@pytest.mark.parametrize("name", LISTS)
def test_a_long_list_asks_no_more_than_a_short_one(asked: dict[str, list[list[str]]], name: str) -> None:
    few, many = asked[name]
    new = [sql for sql in many if sql not in few]
    assert len(many) <= len(few) + BY_THE_HUNDRED.get(name, 0), new[:3]
