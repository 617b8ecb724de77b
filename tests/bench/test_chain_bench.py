"""A city's season: 250,000 collections, 25,000 deliveries, 2,500 vessels, 500 batches, 2,000 people.

The season's balance in at most 1.5x the time of one SQL sum over the same rows; a tank's page in the same few queries
however long its history. The limits are the project's own.
"""

from __future__ import annotations

import random
import sqlite3
import time
from collections.abc import Iterator
from decimal import Decimal

import pytest
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from sugarbush.review import counting, recount
from sugarbush.review.recount import movements
from sugarbush.sap import ledger, sofar
from sugarbush.sap.ledger import Move, hands_of, post
from sugarbush.sap.models import ActKind, Cause, Vessel
from sugarbush.seasons.models import Season
from sugarbush.volunteers.models import Person
from tests import make
from tests.bench.test_review_bench import best_of, put

COLLECTIONS, DELIVERIES, PEOPLE, TANKS, BATCHES = 250_000, 25_000, 2_000, 500, 500
WHEN = "2025-03-01 12:00:00"
ACT = "id kind reason overfill_reason standing origin_kind origin_uuid happened_at recorded_at author_id season_id"
MOVEMENT = "uuid happened_at recorded_at volume_ml sugar_brix cause detail act_id from_vessel_id to_vessel_id season_id"
Row = tuple[str | int | float | None, ...]


class City:
    """Its rows, written straight into the file; each vessel's balance is kept beside it by plain addition."""

    def __init__(self) -> None:
        self.season = make.season()
        self.by = make.bob().pk
        self.random = random.Random(1)
        self.acts: list[Row] = []
        self.moves: list[Row] = []
        people = [f"Person {n:04d}" for n in range(PEOPLE)]
        Person.objects.bulk_create(Person(display_name=name) for name in people)
        pks = list(Person.objects.filter(display_name__startswith="Person ").values_list("pk", flat=True))
        self.hands = self.vessels("hands", PEOPLE, pks)
        self.tanks, self.pans, self.lots = (self.vessels(kind, BATCHES) for kind in ("tank", "pan", "lot"))
        self.gather_and_deliver()
        self.boil()
        put("sap_act", ACT, self.acts)
        put("sap_movement", MOVEMENT, self.moves)
        self.count = len(self.moves)
        self.out_ml = sum(int(move[3] or 0) for move in self.moves if move[5] == "out_of_tree")
        self.acts.clear()
        self.moves.clear()
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")

    def key(self) -> str:
        return f"{self.random.getrandbits(128):032x}"

    def vessels(self, kind: str, count: int, people: list[int] | None = None) -> list[str]:
        keys = [self.key() for _ in range(count)]
        put(
            "sap_vessel",
            "id kind season_id person_id code out_of_use made_at",
            [
                (key, kind, self.season.pk, people[n] if people else None, key[:12], 0, WHEN)
                for n, key in enumerate(keys)
            ],
        )
        return keys

    def act(self, kind: str, origin: str, standing: str = "counted") -> str:
        act = self.key()
        self.acts.append((act, kind, "", "", standing, origin, self.key(), WHEN, WHEN, self.by, self.season.pk))
        return act

    def move(self, act: str, source: str | None, target: str | None, ml: int, cause: str, detail: str = "") -> None:
        brix = 2.1 if cause == "out_of_tree" and len(self.moves) % 4 == 0 else None
        self.moves.append((self.key(), WHEN, WHEN, ml, brix, cause, detail, act, source, target, self.season.pk))

    def gather_and_deliver(self) -> None:
        self.in_tanks = [0] * TANKS
        each = COLLECTIONS // DELIVERIES
        for n in range(DELIVERIES):
            hands, tank, held = self.hands[n * 7 % PEOPLE], n % TANKS, 0
            for k in range(n * each, (n + 1) * each):
                act = self.act("collect", "collection", "review" if k % 50 == 0 else "counted")
                ml = 1_000 + k % 7_000
                self.move(act, None, hands, ml, "out_of_tree")
                held += ml
                if k % 3 == 0:
                    self.move(act, hands, None, 100, "discarded", "ice")
                    held -= 100
            act = self.act("deliver", "delivery")
            if n % 4 == 0:
                self.move(act, None, hands, 50, "measured_over", self.key())
                held += 50
            self.move(act, hands, self.tanks[tank], held, "moved")
            self.in_tanks[tank] += held

    def boil(self) -> None:
        for n in range(BATCHES):
            ml = self.in_tanks[n]
            self.move(self.act("boil", "batch"), self.tanks[n], self.pans[n], ml - 10_000, "moved")
            act, syrup = self.act("draw_off", "batch"), (ml - 10_000) // 44
            self.move(act, self.pans[n], self.lots[n], syrup, "moved")
            self.move(act, self.pans[n], None, ml - 10_000 - syrup, "evaporated")


@pytest.fixture(scope="module")
def city(django_db_setup: None, django_db_blocker: object) -> Iterator[City]:
    with django_db_blocker.unblock(), transaction.atomic():  # type: ignore[attr-defined]  # pytest-django's own
        yield City()
        transaction.set_rollback(True)


@pytest.mark.django_db
def test_the_seasons_balance_in_the_time_of_a_sum(city, capsys, monkeypatch):
    season = Season.objects.get(pk=city.season.pk)
    plain = connection.connection
    assert isinstance(plain, sqlite3.Connection)

    def one_sum() -> object:
        sql = "SELECT cause, SUM(volume_ml) FROM sap_movement WHERE season_id = ? GROUP BY cause"
        return plain.execute(sql, [season.pk]).fetchall()

    alone = best_of(5, one_sum)
    cold = best_of(3, lambda: ledger.chain(season))
    first = best_of(2, lambda: counting.flows(season))
    # The test's own transaction keeps nothing, since its rows vanish again; a page's does.
    monkeypatch.setattr(sofar, "may_keep", lambda: True)
    counting.flows(season)
    ledger.below_zero(season)
    ledger.chain(season)
    monkeypatch.undo()
    warm = best_of(5, lambda: ledger.chain(season))
    again = best_of(5, lambda: counting.flows(season))
    walked = best_of(3, lambda: ledger.below_zero(season))
    began = time.perf_counter()
    book = recount.read(season)
    found = [one.code for check in (movements.the_chain, movements.vessels) for one in check(season, book)]
    recounted = time.perf_counter() - began
    with capsys.disabled():
        print(f"\n{city.count:,} movements: one SQL sum by cause {alone:.3f} s")
        print(f"  the balance, first time: {cold:.3f} s, {cold / alone:.2f}x; again: {warm:.3f} s, {warm / alone:.2f}x")
        print(f"  the page's chain, first time: {first:.3f} s, {first / alone:.1f}x; again: {again:.3f} s,", end=" ")
        print(f"{again / alone:.2f}x; below zero again {walked:.3f} s; every row read again {recounted:.1f} s")
    sofar.forget()
    assert found == []
    assert ledger.chain(season).closes
    flows = counting.flows(season)
    assert sum(flow.ml for flow in flows if flow.cause == "out_of_tree") == city.out_ml
    assert sum(flow.ml for flow in flows if flow.went_to == "lot") == sum((ml - 10_000) // 44 for ml in city.in_tanks)
    assert warm <= 1.5 * alone
    assert again <= 1.5 * alone
    assert cold <= 3 * alone


@pytest.mark.django_db
def test_a_tanks_page_asks_the_same_however_long_its_history(city, capsys):
    dora, rhea = make.dora(), make.rhea()
    long = Vessel.objects.get(pk=city.tanks[0])
    short = make.tank("S")
    hands = hands_of(make.lena(), city.season)
    for kind, move in (
        (ActKind.COLLECT, Move(volume_ml=9_000, cause=Cause.OUT_OF_TREE, target=hands, sugar_brix=Decimal("2"))),
        (ActKind.DELIVER, Move(volume_ml=9_000, cause=Cause.MOVED, source=hands, target=short)),
    ):
        post(kind=kind, season=city.season, author=dora, happened_at=timezone.now(), moves=[move])
    lines = []
    for name, person, address in (
        ("tank", dora, lambda tank: reverse("tank", args=[tank.pk])),
        ("ledger of a tank", rhea, lambda tank: f"{reverse('season-ledger')}?vessel={tank.pk}"),
    ):
        client = Client()
        client.force_login(person)
        client.get(address(short))
        counts, took = [], []
        for tank in (short, long):
            with CaptureQueriesContext(connection) as queries:
                began = time.perf_counter()
                assert client.get(address(tank)).status_code == 200
                took.append(time.perf_counter() - began)
            counts.append(len(queries))
        lines.append(f"  {name}: {counts[0]} queries short, {counts[1]} long; {took[0]:.2f} s and {took[1]:.2f} s")
        assert counts[1] <= counts[0] + 2
        assert counts[1] <= 45
    with capsys.disabled():
        print("\n" + "\n".join(lines))
