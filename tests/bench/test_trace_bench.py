"""A trace through a city's season beside the time of reading the same rows once. The limits are the project's own."""

from __future__ import annotations

import datetime as dt
import sqlite3
import time
import uuid
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from sugarbush.sap import trace
from sugarbush.sap.models import Act, Vessel, VesselKind
from tests import make
from tests.bench.test_review_bench import MOVEMENT, best_of, put

COLLECTIONS, DELIVERIES, BATCHES, PEOPLE, TANKS = 250_000, 25_000, 500, 1_400, 100
MOST_TIMES = 6  # of reading the same rows once, which a busy machine slows alike
VESSEL = "id kind code season_id person_id out_of_use made_at"
ACT = " ".join(str(f.column) for f in Act._meta.concrete_fields)


class City:
    """Rows of a season whose balances hold: who collects delivers, tanks are boiled, pans drawn off."""

    def __init__(self) -> None:
        self.season = make.season(year=2025, tapping_from=dt.date(2025, 2, 20), tapping_to=dt.date(2025, 4, 10))
        self.author = make.alice().pk
        self.trees = [make.tree().pk for _n in range(200)]
        self.start = dt.datetime(2025, 2, 21, 11, tzinfo=dt.UTC)
        self.acts: list[tuple[str | int | float | None, ...]] = []
        self.moves: list[tuple[str | int | float | None, ...]] = []
        self.vessels: list[tuple[str | int | float | None, ...]] = []
        self.people = [make.person(f"Person {n:04d}", role=None).pk for n in range(PEOPLE)]

    def vessel(self, kind: str, code: str, person: int | None = None) -> str:
        key = uuid.uuid4().hex
        self.vessels.append((key, kind, code, self.season.pk, person, False, "2025-02-20 00:00:00"))
        return key

    def act(
        self, kind: str, n: int, origin: str, *rows: tuple[str | None, str | None, int, str], person: int | None = None
    ) -> None:
        when = f"{self.start + dt.timedelta(seconds=n * 14):%Y-%m-%d %H:%M:%S}"
        key = uuid.uuid4().hex
        tree = self.trees[n % len(self.trees)] if origin == "collection" else None
        values: dict[str, Any] = {
            "id": key,
            "kind": kind,
            "standing": "counted",
            "origin_kind": origin,
            "origin_uuid": uuid.uuid4().hex,
            "happened_at": when,
            "recorded_at": when,
            "author_id": self.author,
            "approver_id": None,
            "group_id": None,
            "person_id": person,
            "season_id": self.season.pk,
            "tree_id": tree,
        }
        self.acts.append(tuple(values.get(column, "") for column in ACT.split()))
        for source, target, ml, cause in rows:
            self.moves.append((uuid.uuid4().hex, when, when, ml, None, cause, "", key, source, target, self.season.pk))

    def fill(self) -> None:
        hands = [self.vessel("hands", f"hands {n}", person) for n, person in enumerate(self.people)]
        tanks = [self.vessel("tank", f"T{n:03d}") for n in range(TANKS)]
        held, in_tank = [0] * PEOPLE, [0] * TANKS
        each, boil = COLLECTIONS // DELIVERIES, COLLECTIONS // BATCHES
        for n in range(COLLECTIONS):
            # In rounds: each person visits ten trees, then delivers into one of the tanks near them.
            who = (n // each) * 7 % PEOPLE
            ml, ice = 2_000 + n % 5_000, 100 if n % 3 == 0 else 0
            rows: list[tuple[str | None, str | None, int, str]] = [(None, hands[who], ml, "out_of_tree")]
            if ice:
                rows.append((hands[who], None, ice, "discarded"))
            self.act("collect", n, "collection", *rows, person=self.people[who])
            held[who] += ml - ice
            if n % each == each - 1:
                tank = (who + n // each % 3) % TANKS
                kept = held[who] // 10 if n % 4 == 0 else 0
                self.act("deliver", n, "delivery", (hands[who], tanks[tank], held[who] - kept, "moved"))
                in_tank[tank] += held[who] - kept
                held[who] = kept
            if n % boil == boil - 1:
                batch = n // boil
                pan, lot = self.vessel("pan", f"pan {batch}"), self.vessel("lot", f"lot {batch}")
                taken = sorted(range(TANKS), key=lambda t: -in_tank[t])[:4]
                poured = [(tanks[t], pan, in_tank[t] * 9 // 10, "moved") for t in taken]
                self.act("boil", n, "batch", *poured)
                for t, row in zip(taken, poured, strict=True):
                    in_tank[t] -= row[2]
                whole = sum(row[2] for row in poured)
                syrup = whole // 44
                self.act("draw_off", n, "batch", (pan, lot, syrup, "moved"), (pan, None, whole - syrup, "evaporated"))
        put("sap_vessel", VESSEL, self.vessels)
        put("sap_act", ACT, self.acts)
        put("sap_movement", MOVEMENT, self.moves)
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")


@pytest.mark.django_db
def test_a_trace_through_a_city_s_season(capsys):
    city = City()
    city.fill()
    season = city.season
    plain = connection.connection
    assert isinstance(plain, sqlite3.Connection)

    def read_once() -> object:
        rows = plain.execute(
            "SELECT seq, act_id, from_vessel_id, to_vessel_id, volume_ml, cause FROM sap_movement"
            " WHERE season_id = ? ORDER BY seq",
            [season.pk],
        )
        return sum(1 for _row in rows)

    once = best_of(3, read_once)
    last = Vessel.objects.get(season=season, kind=VesselKind.LOT, code=f"lot {BATCHES - 1}")
    first = Act.objects.filter(season=season, kind="collect").order_by("movements__seq")[0]
    with CaptureQueriesContext(connection) as queries:
        found = trace.back(last, season)
    with CaptureQueriesContext(connection) as more:
        forth = trace.forth(season, came=[first.pk])
    back_s = best_of(2, lambda: trace.back(last, season))
    forth_s = best_of(2, lambda: trace.forth(season, came=[first.pk]))
    began = time.perf_counter()
    for part in found.parts[:50]:
        assert trace.way_of(found, part)
    ways_s = time.perf_counter() - began
    with capsys.disabled():
        print(f"\n{len(city.moves):,} movements, {len(city.vessels):,} vessels: read once {once:.2f} s")
        print(f"  one lot back to its {len(found.parts):,} collections: {back_s:.2f} s, {back_s / once:.1f}x")
        print(f"  one collection on to {len(forth.lots):,} lots: {forth_s:.2f} s, {forth_s / once:.1f}x")
        print(f"  the ways of 50 collections through the vessels: {ways_s:.2f} s")
    assert len(queries) <= 4
    assert len(more) <= 3
    assert sum(part.ml for part in found.parts) == pytest.approx(found.total_ml)
    # Backward and forward are two readings of one mixing: the same share either way.
    by_seq = {part.seq: part.share for part in found.parts}
    seq = first.movements.order_by("seq")[0].seq
    at = forth.lots.get(last.pk)
    assert (at.share if at else 0.0) == pytest.approx(by_seq.get(seq, 0.0), abs=1e-12)
    assert max(back_s, forth_s) <= MOST_TIMES * once
