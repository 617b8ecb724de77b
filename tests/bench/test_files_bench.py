"""A season of 250,000 entries as a file: sent while it is read, in memory that does not grow with the rows.

The limit is the project's own: 30 MB beyond what the process has before.
"""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Iterable
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse

from sugarbush.gathering.models import Collection
from tests import make

ROWS, MOST_EXTRA_KB = 250_000, 30 * 1024
AT_ONCE = 5_000

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="only Linux tells a process its memory so"),
]


def fill() -> None:
    season, group, bob = make.season(), make.group(), make.bob()
    trees = [make.tree(group=group) for _n in range(200)]
    start = dt.datetime.combine(season.tapping_from, dt.time(11), dt.UTC)
    for first in range(0, ROWS, AT_ONCE):
        Collection.objects.bulk_create(
            Collection(
                tree=trees[n % 200],
                person=bob,
                season=season,
                group=group,
                outcome="sap",
                volume_ml=1_000 + n % 7_000,
                happened_at=start + dt.timedelta(minutes=n // 5),
            )
            for n in range(first, first + AT_ONCE)
        )


def resident_kb() -> int:
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith("VmRSS:"):
            return int(line.split()[1])
    raise AssertionError("no VmRSS")


def sent(pieces: Iterable[bytes], no_more_than: int) -> tuple[int, int, float]:
    """Bytes, the most memory seen on the way beyond that before (kB), and seconds."""
    before, most, size, began = resident_kb(), 0, 0, time.perf_counter()
    for piece in pieces:
        size += len(piece)
        most = max(most, resident_kb() - before)
        if size > no_more_than:
            break
    return size, most, time.perf_counter() - began


def test_a_quarter_of_a_million_rows_take_no_more_memory_than_a_few() -> None:
    fill()
    alice = Client()
    alice.force_login(make.alice())
    address = reverse("season-csv", args=["collections"])
    b"".join(alice.get(reverse("people"), {"as": "xlsx"}).streaming_content)  # type: ignore[attr-defined]
    # The spreadsheets come out of the same rows; a third of each, packed, shows whether they gather anything.
    for kind, no_more_than in (("csv", 10**9), ("xlsx", 4_000_000), ("ods", 4_000_000)):
        answer = alice.get(address, {"as": kind, "year": str(make.season().year)})
        size, extra_kb, seconds = sent(answer.streaming_content, no_more_than)  # type: ignore[attr-defined]
        print(f"{kind}: {size / 1e6:.1f} MB, {extra_kb / 1024:.1f} MB of memory beyond, {seconds:.1f} s")
        assert size > 3_000_000
        assert extra_kb < MOST_EXTRA_KB, kind
