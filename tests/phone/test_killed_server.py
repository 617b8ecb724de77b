"""The server killed while it takes a batch: what it has said is kept is kept, once, and the rest comes again."""

from __future__ import annotations

import http.client
import random
import sqlite3
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.phone.real_server import Served, Walker, entry, served, walker

# The mark of the database is for the migrated file that the server starts from; it is not touched here.
pytestmark = [pytest.mark.sqlite_only, pytest.mark.django_db]
BATCH = 20


def send_while_killing(server: Served, phone: Walker, entries: list[dict[str, Any]], kills: int) -> set[str]:
    """Send all, batch by batch; in so many batches kill the worker at a random moment. Returns what was confirmed."""
    chance = random.Random(20260314)
    confirmed: set[str] = set()
    give_up = time.monotonic() + 60 + 4 * kills
    while left := [one for one in entries if one["id"] not in confirmed]:
        assert time.monotonic() < give_up, f"{len(left)} are still to send"
        killer = None
        if kills > 0:
            killer = threading.Timer(chance.uniform(0, 0.25), server.kill_worker)
            killer.start()
            kills -= 1
        try:
            answers = phone.send(left[:BATCH])
            confirmed |= {one["id"] for one in answers if one["state"] in {"saved", "before"}}
            assert {one["state"] for one in answers} <= {"saved", "before", "later"}
        except (OSError, http.client.HTTPException):
            time.sleep(0.05)
        if killer is not None:
            killer.join()
    assert kills == 0
    return confirmed


@pytest.fixture(scope="module")
def server(
    tmp_path_factory: pytest.TempPathFactory, database_template: Path | None, django_db_setup: None
) -> Iterator[Served]:
    with served(tmp_path_factory.mktemp("killed") / "data", database_template) as found:
        yield found


def kept(server: Served, entries: list[dict[str, Any]]) -> tuple[int, int, int]:
    """How many of these entries are there, how many movements they made, and the millilitres of these."""
    names = [one["id"].replace("-", "") for one in entries]
    gaps = ",".join("?" * len(names))
    with sqlite3.connect(server.data / "sugarbush.sqlite3") as base:
        (rows,) = base.execute(f"select count(*) from gathering_collection where id in ({gaps})", names).fetchone()
        moved = base.execute(
            "select count(*), coalesce(sum(m.volume_ml), 0) from sap_movement m join sap_act a on a.id = m.act_id"
            f" where a.origin_uuid in ({gaps})",
            names,
        ).fetchone()
    return rows, *moved


@pytest.mark.parametrize("kills", [4, pytest.param(50, marks=pytest.mark.slow)])
def test_every_entry_the_server_confirmed_is_there_once_however_often_it_was_killed(kills: int, server: Served) -> None:
    entries = [entry(server.trees[0], ago_ms=3_600_000 - n * 100) for n in range(kills * BATCH)]
    confirmed = send_while_killing(server, walker(server), entries, kills)
    assert confirmed == {one["id"] for one in entries}
    assert kept(server, entries) == (len(entries), len(entries), 4_000 * len(entries))
    checked = server.manage("check_ledger")
    assert checked.returncode == 0, checked.stdout + checked.stderr


class BehindAHouse(http.client.HTTPConnection):
    """A line that is gone once the batch is sent: the answer finds nobody."""

    def getresponse(self) -> http.client.HTTPResponse:
        self.close()
        raise ConnectionResetError("no signal")


def test_a_line_cut_in_mid_batch_goes_on_where_it_was(server: Served) -> None:
    phone = walker(server)
    entries = [entry(server.trees[0], ago_ms=3_600_000 - n * 100) for n in range(30)]
    phone.line = BehindAHouse("127.0.0.1", server.port)
    with pytest.raises(ConnectionResetError):
        phone.send(entries)
    answers = phone.send(entries)
    assert {one["state"] for one in answers} <= {"saved", "before"}
    assert kept(server, entries) == (30, 30, 120_000)
