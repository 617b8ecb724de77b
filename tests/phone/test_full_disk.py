"""A server whose disk is full: what phones send stays on them, nothing is half-written, with room it goes through."""

from __future__ import annotations

import http.client
import json
import os
import shutil
import sqlite3
import subprocess
import uuid
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from tests.phone.real_server import Served, entry, served, walker
from tests.phone.test_killed_server import kept

# The mark of the database is for the migrated file that the server starts from; it is not touched here.
pytestmark = [pytest.mark.sqlite_only, pytest.mark.django_db, pytest.mark.slow]
SIZE_MB = 24


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of a few megabytes. Skipped where this machine lets nobody mount one."""
    place = tmp_path / "disk"
    place.mkdir()
    mount = shutil.which("mount")
    if mount is None or os.geteuid() != 0:
        pytest.skip("only root may mount a small disk")
    made = subprocess.run([mount, "-t", "tmpfs", "-o", f"size={SIZE_MB}m", "tmpfs", place], check=False)
    if made.returncode:
        pytest.skip("no small disk may be mounted here")
    try:
        yield place
    finally:
        subprocess.run(["umount", "--lazy", place], check=False)


def fill(place: Path) -> Path:
    """Take what room there is, to the last block."""
    filler = place / "filler"
    with filler.open("wb", buffering=0) as file:
        for block in (1 << 20, 4096):
            try:
                while True:
                    if file.write(b"\0" * block) < block:
                        break
            except OSError:
                continue
    return filler


def send_all(server: Served, entries: list[dict[str, Any]]) -> list[str]:
    phone = walker(server)
    return [one["state"] for start in range(0, len(entries), 25) for one in phone.send(entries[start : start + 25])]


def send_photo(server: Served, entry_id: str) -> str:
    phone, picture = walker(server), BytesIO()
    Image.effect_noise((1000, 800), 60).convert("RGB").save(picture, "JPEG", quality=80)
    line = http.client.HTTPConnection("127.0.0.1", server.port, timeout=60)
    headers = {
        "Cookie": f"sugarbush={phone.session}; sugarbush_form={phone.secret[:32]}",
        "X-CSRFToken": phone.secret,
        "Content-Type": "image/jpeg",
    }
    line.request("POST", f"/round/photos/?id={uuid.uuid4()}&entry={entry_id}", picture.getvalue(), headers)
    state: str = json.loads(line.getresponse().read())["state"]
    return state


def test_with_a_full_disk_entries_stay_on_the_phone_and_go_through_when_there_is_room(
    small_disk: Path, database_template: Path | None, django_db_setup: None
) -> None:
    with served(small_disk / "data", database_template) as server:
        tree = server.trees[0]
        before = [entry(tree, ago_ms=7_200_000 - n * 1_000) for n in range(30)]
        assert set(send_all(server, before)) == {"saved"}
        filler = fill(small_disk)
        entries = [entry(tree, ago_ms=3_600_000 - n * 1_000) for n in range(250)]
        states = send_all(server, entries)
        assert set(states) <= {"saved", "later"}
        assert states.count("later") > 0
        saved = [one for one, state in zip(entries, states, strict=True) if state == "saved"]
        assert walker(server).ask("GET", "/healthz")[0] == 200
        assert send_photo(server, before[0]["id"]) == "later"
        uploads = server.data / "uploads"
        assert [path for path in uploads.rglob("*") if path.is_file()] == []
        filler.unlink()
        assert send_photo(server, before[0]["id"]) == "saved"
        waiting = [one for one in entries if one not in saved]
        assert set(send_all(server, waiting)) == {"saved"}
        assert set(send_all(server, saved[:100] + waiting[:100])) <= {"before"}
        there = [*before, *saved, *waiting]
        with sqlite3.connect(server.data / "sugarbush.sqlite3") as base:
            assert base.execute("pragma integrity_check").fetchone() == ("ok",)
            (rows,) = base.execute("select count(*) from gathering_collection").fetchone()
        assert rows == len(there)
        assert kept(server, there) == (len(there), len(there), 4_000 * len(there))
        checked = server.manage("check_ledger")
        assert checked.returncode == 0, checked.stdout + checked.stderr
