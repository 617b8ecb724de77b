"""The ledger is only added to: the database refuses anything else, whoever asks and however."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction
from django.utils import timezone

from sugarbush.sap import append_only
from sugarbush.sap.ledger import Move, hands_of, post
from sugarbush.sap.models import Act, ActKind, Cause, Movement, Standing, Vessel
from tests import make

pytestmark = pytest.mark.django_db


def collected(ml: int = 4_000, **how: object) -> Act:
    return post(
        kind=ActKind.COLLECT,
        season=make.season(),
        author=make.bob(),
        happened_at=timezone.now(),
        moves=[Move(volume_ml=ml, cause=Cause.OUT_OF_TREE, target=hands_of(make.bob(), make.season()))],
        **how,  # type: ignore[arg-type]  # names of post
    )


def run(sql: str) -> Callable[[], object]:
    def go() -> None:
        with connection.cursor() as cursor:
            cursor.execute(sql)

    return go


CHANGES: dict[str, Callable[[], object]] = {
    "a query's update": lambda: Movement.objects.update(volume_ml=1),
    "a bulk update": lambda: Movement.objects.bulk_update([*Movement.objects.all()], ["detail"]),
    "a query's delete": lambda: Movement.objects.all()._raw_delete("default"),
    "SQL that changes": run("UPDATE sap_movement SET cause = 'rain_kept'"),
    "SQL that deletes": run("DELETE FROM sap_movement"),
    "an act under another name": lambda: Act.objects.update(reason="another"),
    "an act of another day": lambda: Act.objects.update(happened_at=timezone.now()),
    "an act deleted": run("DELETE FROM sap_act"),
    "an act that counts put to review": lambda: Act.objects.update(standing=Standing.REVIEW),
    "a vessel of another kind": lambda: Vessel.objects.update(kind="tank"),
    "a vessel in other hands": lambda: Vessel.objects.update(person=make.lena()),
}


@pytest.mark.parametrize("how", CHANGES)
def test_what_was_posted_stays(how):
    make.lena()
    act = collected()
    before = [[*rows.objects.order_by("pk").values()] for rows in (Act, Movement, Vessel)]
    with pytest.raises(IntegrityError), transaction.atomic():
        CHANGES[how]()
    assert [[*rows.objects.order_by("pk").values()] for rows in (Act, Movement, Vessel)] == before
    assert act.movements.get().volume_ml == 4_000


@pytest.mark.sqlite_only
@pytest.mark.parametrize("table", ["sap_movement", "sap_act"])
def test_nothing_is_written_over(table):
    """SQLite's own way to replace a row asks no trigger of DELETE."""
    collected()
    with pytest.raises(IntegrityError), transaction.atomic():
        run(f"INSERT OR REPLACE INTO {table} SELECT * FROM {table}")()


@pytest.mark.postgres_only
@pytest.mark.parametrize("table", ["sap_movement", "sap_act"])
def test_nothing_is_emptied(table):
    collected()
    run("SET CONSTRAINTS ALL IMMEDIATE")()
    with pytest.raises(IntegrityError), transaction.atomic():
        run(f"TRUNCATE {table} CASCADE")()


def test_an_act_to_review_is_settled_once():
    act = collected(standing=Standing.REVIEW)
    Act.objects.filter(pk=act.pk).update(standing=Standing.NOT_OURS)
    with pytest.raises(IntegrityError), transaction.atomic():
        Act.objects.filter(pk=act.pk).update(standing=Standing.COUNTED)


def test_a_vessel_can_still_be_renamed_and_put_out_of_use():
    tank = make.tank()
    Vessel.objects.filter(pk=tank.pk).update(code="B", out_of_use=True, capacity_ml=5_000)


def test_what_is_lifted_comes_back():
    assert append_only.missing() == []
    act = collected()
    with append_only.lifted():
        assert append_only.missing() == sorted(append_only.NAMES)
        Movement.objects.filter(act=act).update(volume_ml=1)
    assert append_only.missing() == []
    with pytest.raises(IntegrityError), transaction.atomic():
        Movement.objects.update(volume_ml=2)


@pytest.mark.django_db(transaction=True)
def test_a_whole_database_can_still_be_emptied():
    """Django's flush, which clears up after each test with real transactions."""
    collected()
    call_command("flush", interactive=False, verbosity=0)
    assert not Movement.objects.exists()
    assert append_only.missing() == []
