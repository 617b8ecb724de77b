"""A season of 250,000 entries: totals take a query or two a table, in a time that plain SQL over the rows sets.

The limits are the project's own.
"""

from __future__ import annotations

import datetime as dt
import sqlite3
import time
import uuid
from collections.abc import Callable
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.db.models import F, Sum
from django.db.models.functions import TruncDate
from django.test.utils import CaptureQueriesContext

from sugarbush.review import counting, pictures, reach, totals
from sugarbush.sap.ledger import hands_of
from sugarbush.sap.models import Cause, Movement
from tests import make

ENTRIES, TREES, PEOPLE = 250_000, 1_000, 60
ZONE = ZoneInfo("America/Detroit")
MOST_TIMES = 10
MOST_PICTURES_S = 2.0
MOST_QUERIES = 7  # what is kept is looked at before it is used
ACT = (
    "id kind reason overfill_reason standing origin_kind origin_uuid happened_at recorded_at"
    " author_id group_id person_id season_id tree_id"
)
MOVEMENT = "uuid happened_at recorded_at volume_ml sugar_brix cause detail act_id from_vessel_id to_vessel_id season_id"

ENTRY = (
    "id outcome volume_ml discarded_ml discard_reason rain_ml sugar_brix look source state review_reasons settled_note"
    " note body_hash happened_at recorded_at edition group_id person_id season_id tree_id"
)


def put(table: str, columns: str, rows: list[tuple[str | int | float | None, ...]]) -> None:
    """Straight into the file: through the ORM this would take minutes."""
    names = columns.split()
    places = ",".join(["%s"] * len(names))
    with connection.cursor() as cursor:
        cursor.executemany(f"INSERT INTO {table} ({','.join(names)}) VALUES ({places})", rows)


def fill() -> None:
    """Six weeks of visits, every third with something tipped out, one in fifty of them to review."""
    make.programme(time_zone="America/Detroit")
    season = make.season(year=2025, tapping_from=dt.date(2025, 2, 20), tapping_to=dt.date(2025, 4, 10))
    groups = [make.group("North Bank"), make.group("Mill Race"), make.group("Lantern Green")]
    trees = [make.tree(group=groups[n % 3]).pk for n in range(TREES)]
    people = [make.person(f"Person {n:02d}", group=groups[n % 3].name) for n in range(PEOPLE)]
    hands = [hands_of(person, season).pk.hex for person in people]
    start = dt.datetime(2025, 2, 21, 11, tzinfo=dt.UTC)
    entries: list[tuple[str | int | float | None, ...]] = []
    acts: list[tuple[str | int | float | None, ...]] = []
    moves: list[tuple[str | int | float | None, ...]] = []
    for n in range(ENTRIES):
        who = n * 7 % PEOPLE
        when = f"{start + dt.timedelta(days=n * 42 // ENTRIES, minutes=n % 1_080):%Y-%m-%d %H:%M:%S}"
        act, by, standing = uuid.uuid4().hex, people[who].pk, "review" if n % 50 == 0 else "counted"
        origin = ("collect", "", "", standing, "collection", uuid.uuid4().hex)
        acts.append((act, *origin, when, when, by, groups[n % 3].pk, by, season.pk, trees[n % TREES]))
        brix = 2.1 if n % 4 == 0 else None
        tipped = (100, "ice") if n % 3 == 0 else (0, "")
        said = ("sap", 1_000 + n % 7_000, *tipped, 0, brix, "clear", "page", standing, "[]", "", "", "")
        where = (groups[n % 3].pk, by, season.pk, trees[n % TREES])
        entries.append((origin[-1], *said, when, when, 1, *where))
        one = (when, when, 1_000 + n % 7_000, brix, "out_of_tree", "")
        moves.append((uuid.uuid4().hex, *one, act, None, hands[who], season.pk))
        if n % 3 == 0:
            gone = (when, when, 100, None, "discarded", "ice")
            moves.append((uuid.uuid4().hex, *gone, act, hands[who], None, season.pk))
    put("gathering_collection", ENTRY, entries)
    put("sap_act", ACT, acts)
    put("sap_movement", MOVEMENT, moves)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def best_of(times: int, work: Callable[[], object]) -> float:
    best = float("inf")
    for _ in range(times):
        began = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - began)
    return best


@pytest.mark.django_db
def test_the_totals_of_250_000_entries(capsys):
    fill()
    season = make.season(year=2025)
    plain = connection.connection
    assert isinstance(plain, sqlite3.Connection)

    def by_cause() -> object:
        return plain.execute("SELECT cause, SUM(volume_ml) FROM sap_movement GROUP BY cause").fetchall()

    def by_tree() -> object:
        return plain.execute(
            "SELECT a.tree_id, a.group_id, a.person_id, m.cause, SUM(m.volume_ml) FROM sap_movement m"
            " JOIN sap_act a ON a.id = m.act_id WHERE m.season_id = ? GROUP BY 1, 2, 3, 4",
            [season.pk],
        ).fetchall()

    alone, joined = best_of(3, by_cause), best_of(3, by_tree)
    # Days and chain read the movements alone: a sum without a join is their measure. Who brought what needs the act.
    tables = (
        ("by tree, group and person", lambda: counting.cells(season), joined),
        ("by day", lambda: counting.by_day(season, ZONE), alone),
        ("the whole chain", lambda: counting.flows(season), alone),
    )
    with capsys.disabled():
        print(f"\n{ENTRIES:,} entries: plain SUM {alone:.2f} s, plain SUM by tree, group and person {joined:.2f} s")
        for name, work, measure in tables:
            with CaptureQueriesContext(connection) as queries:
                work()
            took = best_of(2, work)
            print(f"  {name}: {took:.2f} s, {took / measure:.1f}x the plain sum")
            assert sum("sap_movement" in query["sql"] for query in queries) <= MOST_QUERIES, name
            assert took <= MOST_TIMES * measure, name
        with CaptureQueriesContext(connection) as queries:
            began = time.perf_counter()
            counted = totals.count(season)
            whole = time.perf_counter() - began
        print(f"  everything the page counts: {whole:.2f} s, {len(queries)} queries")
    assert len(queries) <= 23
    # The pictures come on top of that: from sums already added, and a look at when somebody went and what was boiled.
    mine = reach.tree_rows(counted.cells, counted.trees, reach.of(make.alice()))
    with CaptureQueriesContext(connection) as queries:
        pictures.of(season, counted.totals, mine, "metric")
    drawing = best_of(2, lambda: pictures.of(season, counted.totals, mine, "metric"))
    with capsys.disabled():
        print(f"  all pictures of the page: {drawing:.2f} s, {len(queries)} queries")
    assert drawing <= MOST_PICTURES_S
    assert len(queries) <= 4

    # Nothing is left out: against a plain sum, and by day against Django's own cutting of days.
    (expected,) = plain.execute(
        "SELECT SUM(volume_ml) FROM sap_movement WHERE cause = 'out_of_tree'"
        " AND act_id IN (SELECT id FROM sap_act WHERE standing = 'counted')"
    ).fetchone()
    assert counted.totals.sums.out_ml == expected
    everything = reach.tree_rows(counted.cells, counted.trees, reach.of(make.alice()))
    assert reach.together(everything).out_ml == expected
    days = Movement.objects.filter(cause=Cause.OUT_OF_TREE, act__standing="counted").order_by()
    cut = days.annotate(day=TruncDate("happened_at", tzinfo=ZONE)).values_list("day").annotate(ml=Sum(F("volume_ml")))
    assert {row.day: row.sums.out_ml for row in counted.totals.days if row.sums.out_ml} == dict(cut)
