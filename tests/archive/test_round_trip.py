"""What was kept comes back the same: on each database, byte for byte, as one moment, and from an older program too."""

from __future__ import annotations

import datetime as dt
import json
from decimal import Decimal
from io import StringIO
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command
from django.db import DEFAULT_DB_ALIAS, DatabaseError, connections, transaction

from sugarbush.archive import jobs
from sugarbush.archive.loading import restore
from sugarbush.archive.manifest import CannotRestore
from sugarbush.archive.reading import Archive
from sugarbush.archive.rows import last_number, lines
from sugarbush.archive.tables import LEFT_OUT, Table, in_order, ours
from sugarbush.audit.models import AuditEvent
from sugarbush.sap.models import Movement, Vessel
from sugarbush.trees.models import TreeObservation
from sugarbush.volunteers.models import Group
from sugarbush.weather.models import WeatherDay
from tests import make
from tests.archive import kept


@pytest.mark.django_db
def test_an_empty_install_holds_the_same_after_it_was_filled(tmp_path: Path) -> None:
    kept.small_programme()
    gone = Group.objects.create(name="Was here once")
    number = gone.pk
    gone.delete()
    first = kept.keep(tmp_path / "first.zip")
    assert [one["name"].split("/")[0] for one in first["uploads"]] == ["permissions", "trees"]
    assert first["ledger"]["by_cause_ml"] == {f"{make.today().year}/out_of_tree": 2_500}
    assert all(str(settings.DATA) not in row.decode() for table in in_order() for row in lines(table))
    groups = Table(Group)
    last = last_number(groups)
    with Archive(tmp_path / "first.zip") as archive, pytest.raises(CannotRestore, match="is not empty"):
        restore(archive)
    kept.empty()
    with Archive(tmp_path / "first.zip") as archive:
        done = restore(archive)
    assert (done.uploads, done.ledger.volume_ml, done.filled_in) == (2, 2_500, [])
    second = kept.keep(tmp_path / "second.zip")
    assert {**first, "made_at": ""} == {**second, "made_at": ""}
    assert TreeObservation.objects.get().photo.read() == b"\xff\xd8\xff a photo"
    # The number of a row that is gone is given to no other, and the database holds its books as before.
    assert last_number(groups) == last
    assert Group.objects.create(name="New").pk > number
    with pytest.raises(DatabaseError), transaction.atomic():
        Movement.objects.update(volume_ml=1)
    with pytest.raises(DatabaseError), transaction.atomic():
        AuditEvent.objects.update(act="x")
    make.collection(make.tapped_tree(), litres="1")
    out = StringIO()
    call_command("check_ledger", stdout=out)
    assert "adds up to the millilitre" in out.getvalue()


@pytest.mark.django_db
def test_a_row_is_written_alike_by_each_database() -> None:
    """Written out here, so that both databases are held to the same bytes."""
    make.programme()
    day = WeatherDay.objects.create(day=dt.date(2026, 3, 1), low_c=Decimal("-7"), high_c=Decimal("4.2"))
    (row,) = (json.loads(one) for one in lines(Table(WeatherDay)) if json.loads(one)["id"] == day.pk)
    assert (row["day"], row["low_c"], row["high_c"]) == ("2026-03-01", "-7.0", "4.2")
    said = {"b": [1.0, -0.0, 1e21, 0.1, None], "a": "ż\U0001f341", "A": {"2": True, "10": 1e-7}}
    at = dt.datetime(2026, 3, 1, 23, 59, 59, 1, tzinfo=dt.timezone(dt.timedelta(hours=-6)))
    AuditEvent.objects.create(at=at, act="an act", subject_kind="x", subject_id="1", new=said)
    (line,) = lines(Table(AuditEvent), ["at", "by_id", "new"])
    assert line.decode() == (
        '{"at":"2026-03-02T05:59:59.000001Z","by_id":null,'
        '"new":{"A":{"10":1e-07,"2":true},"a":"ż🍁","b":[1.0,0.0,1000000000000000000000,0.1,null]}}\n'
    )


def test_every_table_goes_along_or_is_named_as_left_out() -> None:
    ordered = [table.name for table in in_order()]
    every = {model._meta.db_table for model in ours()}
    assert set(ordered) | (set(LEFT_OUT) & every) == every
    assert len(ordered) == len(set(ordered)) > 90
    assert ordered.index("volunteers_person") < ordered.index("sap_act") < ordered.index("sap_movement")


@pytest.mark.django_db
def test_an_archive_of_an_older_program_is_filled_in_as_its_migration_did(tmp_path: Path) -> None:
    kept.small_programme()
    kept.keep(tmp_path / "now.zip")
    kept.empty()

    def without_a_column(rows: list[dict[str, object]]) -> None:
        for row in rows:
            del row["out_of_use"]

    older = kept.change_table(kept.members_of(tmp_path / "now.zip"), "sap_vessel", without_a_column)
    manifest = kept.said(older)
    vessels = next(table for table in manifest["tables"] if table["name"] == "sap_vessel")
    del vessels["columns"]["out_of_use"]
    said_all = kept.pack(tmp_path / "b.zip", kept.say(older, manifest))
    with Archive(said_all) as archive, pytest.raises(CannotRestore, match="column out_of_use of sap_vessel is missing"):
        restore(archive)
    manifest["migrations"]["sap"].pop()
    with Archive(kept.pack(tmp_path / "older.zip", kept.say(older, manifest))) as archive:
        assert restore(archive).filled_in == ["sap_vessel.out_of_use"]
    assert not Vessel.objects.filter(out_of_use=True).exists()
    out = StringIO()
    call_command("check_ledger", stdout=out)
    assert "adds up" in out.getvalue()


@pytest.mark.django_db(transaction=True)
def test_an_archive_is_one_moment_and_nobody_waits_for_it(tmp_path: Path) -> None:
    make.group("Before")
    beside = connections.create_connection(DEFAULT_DB_ALIAS)
    wrote: list[int] = []
    columns = {name: field for name, field in Table(Group).columns.items() if name != "id"}
    into = f"INSERT INTO volunteers_group ({', '.join(columns)}) VALUES ({', '.join('%s' for _ in columns)})"
    row = [
        field.get_db_prep_save("Meanwhile" if name == "name" else field.get_default(), beside)
        for name, field in columns.items()
    ]

    def write_meanwhile(done: int, whole: int) -> None:
        if not wrote:
            with beside.cursor() as cursor:
                cursor.execute(into, row)
            wrote.append(done)

    try:
        manifest, sha256 = jobs.make(tmp_path / "a.zip", tell=write_meanwhile)
    finally:
        beside.close()
    counts = {table["name"]: table["rows"] for table in manifest["tables"]}
    assert wrote
    assert (counts["volunteers_group"], Group.objects.count()) == (1, 2)
    assert len(sha256) == 64
    with pytest.raises(FileExistsError):
        jobs.make(tmp_path / "a.zip")
    with pytest.raises(CommandError, match="is there already"):
        call_command("keep_archive", str(tmp_path / "a.zip"))
    out = StringIO()
    call_command("keep_archive", str(tmp_path / "b.zip"), stdout=out)
    assert "SHA-256" in out.getvalue()
    with pytest.raises(CommandError, match="not the one you gave"):
        call_command("restore_archive", str(tmp_path / "b.zip"), sha256="0" * 64)
