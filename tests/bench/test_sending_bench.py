"""How many entries of phones a real server keeps a second, on both databases, each safe on the disk before its word.

Held against the rate of an empty page of the same server (/healthz, through the whole of Django, no query), measured in
the same minute by the same phones. What is counted is entries, not requests: an entry is what a volunteer waits for
and what is kept durably (five rows and a receipt), and phones send them up to 25 at a time, so that one request with 25
entries does what 25 requests would. The other reading, one entry a request, is printed beside it and has a limit of its
own: there the whole of a request's reading (who is it, whose tree, what does the gate know) is paid for one entry.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from deploy import postgres
from tests.phone.real_server import Served, Walker, entry, served, walker

# The mark is for the migrated file that the server starts from; that database is not touched here.
pytestmark = pytest.mark.django_db
LEAST_SHARE, LEAST_SHARE_ALONE = 0.2, 0.015
PHONES, ENTRIES, BATCH, LANES, SECONDS = 20, 50, 25, 8, 6.0


@pytest.fixture(scope="module", params=["sqlite", "postgres"])
def server(
    request: pytest.FixtureRequest,
    tmp_path_factory: pytest.TempPathFactory,
    database_template: Path | None,
    django_db_setup: None,
) -> Iterator[Served]:
    data = tmp_path_factory.mktemp("sending-bench") / "data"
    if request.param == "sqlite":
        with served(data, database_template, people=PHONES, trees=PHONES) as found:
            yield found
    else:
        with postgres.running(durable=True) as socket:
            url = f"postgres://{postgres.USER}@/{postgres.USER}?host={socket}"
            with served(data, None, people=PHONES, trees=PHONES, url=url) as found:
                yield found


def rate(phones: list[Walker], ask: Callable[[Walker], Any]) -> float:
    """Requests a second of all phones together, each asking again as soon as it has its answer."""
    done = [0] * len(phones)
    stop_at = time.monotonic() + SECONDS

    def keep_asking(n: int) -> None:
        while time.monotonic() < stop_at:
            ask(phones[n])
            done[n] += 1

    threads = [threading.Thread(target=keep_asking, args=(n,)) for n in range(len(phones))]
    began = time.monotonic()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return sum(done) / (time.monotonic() - began)


def test_entries_are_kept_at_a_fifth_of_the_rate_of_an_empty_page(server: Served) -> None:
    phones = [walker(server, n) for n in range(LANES)]
    tree_of = {id(phone): server.trees[n] for n, phone in enumerate(phones)}

    def some(many: int) -> Callable[[Walker], None]:
        def send(phone: Walker) -> None:
            batch = [entry(tree_of[id(phone)], ago_ms=3_600_000 - k * 1_000) for k in range(many)]
            assert {one["state"] for one in phone.send(batch)} == {"saved"}

        return send

    def empty(phone: Walker) -> None:
        assert phone.ask("GET", "/healthz")[0] == 200

    # Two turns, each with its own empty page beside it: whatever else this machine does only takes away.
    turns = [(rate(phones, empty), rate(phones, some(BATCH))) for _ in range(2)]
    empty_rate, requests = max(turns, key=lambda turn: turn[1] / turn[0])
    alone = rate(phones, some(1))
    entries = requests * BATCH
    print(
        f"\nempty page {empty_rate:.0f} a second; {BATCH} entries a request: {requests:.0f} requests, {entries:.0f}"
        f" entries a second ({entries / empty_rate:.2f} of it); one entry a request: {alone:.0f} a second"
        f" ({alone / empty_rate:.3f} of it)"
    )
    assert entries / empty_rate >= LEAST_SHARE
    assert alone / empty_rate >= LEAST_SHARE_ALONE


def test_twenty_phones_that_come_back_at_once_lose_nothing(server: Served) -> None:
    phones = [walker(server, n) for n in range(PHONES)]
    answers: list[dict[str, Any]] = []
    began = time.monotonic()

    def come_back(n: int) -> None:
        # Each walker has trees of their own, two hours apart from nobody.
        tree = server.trees[n]
        waiting = [entry(tree, ago_ms=3_600_000 - k * 1_000) for k in range(ENTRIES)]
        for start in range(0, ENTRIES, BATCH):
            answers.extend(phones[n].send(waiting[start : start + BATCH]))

    threads = [threading.Thread(target=come_back, args=(n,)) for n in range(PHONES)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    took_s = time.monotonic() - began
    states = {one["state"] for one in answers}
    print(f"\n{PHONES} phones with {ENTRIES} entries each: {len(answers)} answers in {took_s:.1f} s, {states}")
    assert (len(answers), states) == (PHONES * ENTRIES, {"saved"})
    checked = server.manage("check_ledger")
    assert checked.returncode == 0, checked.stdout
