"""Jars go out, come back and break; never more than there are, and the vessel holds the whole ones exactly."""

from __future__ import annotations

import threading
import uuid

import pytest
from django.core.exceptions import PermissionDenied
from django.db import connection

from sugarbush.lots import closing, jars
from sugarbush.lots.models import JarIssue, LotState
from sugarbush.parts.reasons import Refused
from sugarbush.sap.ledger import balance_ml, chain
from sugarbush.sap.models import Movement
from tests import make
from tests.lots.syrup import packed, released, syrup


@pytest.mark.django_db
def test_jars_go_out_and_come_back():
    lot = released(syrup(5_000), (250, 16), (500, 2))
    alice, bob = make.alice(), make.bob()
    issue = jars.issue_jars(lot=lot, size_ml=250, count=5, by=alice, person=bob, purpose="share")
    assert jars.jars_free(lot.season) == {lot: {500: 2, 250: 11}}
    assert (jars.pool(lot.season).jars, jars.pool(lot.season).syrup_ml) == ({500: 2, 250: 11}, 3_750)
    jars.take_back(issue=issue, count=2, by=alice, reason="too many")
    jars.take_back(issue=issue, count=1, by=alice)
    assert jars.still_out(issue) == 2
    assert balance_ml(lot.vessel) == 14 * 250 + 2 * 500
    assert closing.jars_that_do_not_add_up(lot.season) == []
    assert chain(lot.season).closes
    standing = Movement.objects.filter(cause="issued", reverses=None, reversed_by=None)
    assert [m.volume_ml for m in standing] == [500]
    with pytest.raises(Refused):
        jars.take_back(issue=issue, count=3, by=alice)


@pytest.mark.django_db
def test_never_more_than_there_are_and_only_released_lots():
    lot = released(syrup(1_000), (250, 4))
    owner = make.owner()
    with pytest.raises(Refused) as refused:
        jars.issue_jars(lot=lot, size_ml=250, count=5, by=make.alice(), owner=owner)
    assert refused.value.reasons[0].code == "too-few"
    with pytest.raises(Refused):
        jars.issue_jars(lot=lot, size_ml=500, count=1, by=make.alice(), owner=owner)
    with pytest.raises(Refused):
        jars.issue_jars(lot=lot, size_ml=250, count=1, by=make.alice())
    held = packed()
    with pytest.raises(Refused) as refused:
        jars.issue_jars(lot=held, size_ml=250, count=1, by=make.alice(), owner=owner)
    assert refused.value.reasons[0].code == "packed"
    with pytest.raises(PermissionDenied):
        jars.issue_jars(lot=lot, size_ml=250, count=1, by=make.bob(), owner=owner)


@pytest.mark.django_db
def test_the_last_jar_out_shows_and_the_first_one_back_too():
    lot = released(syrup(1_000), (250, 4))
    issue = jars.issue_jars(lot=lot, size_ml=250, count=4, by=make.alice(), to_text="spring fair")
    lot.refresh_from_db()
    assert lot.state == LotState.ISSUED
    assert jars.jars_free(lot.season) == {}
    jars.take_back(issue=issue, count=1, by=make.alice())
    lot.refresh_from_db()
    assert lot.state == LotState.RELEASED


@pytest.mark.django_db
def test_the_same_hand_out_twice_counts_once_and_another_body_is_refused():
    lot, same = released(), uuid.uuid4()
    for _again in range(2):
        jars.issue_jars(lot=lot, size_ml=250, count=3, by=make.alice(), person=make.bob(), uuid=same)
    assert JarIssue.objects.count() == 1
    assert balance_ml(lot.vessel) == 17 * 250
    with pytest.raises(Refused) as refused:
        jars.issue_jars(lot=lot, size_ml=250, count=4, by=make.alice(), person=make.bob(), uuid=same)
    assert refused.value.reasons[0].code == "other-body"


@pytest.mark.django_db
def test_jars_break_and_are_destroyed_with_a_reason():
    lot, same = released(), uuid.uuid4()
    with pytest.raises(Refused):
        jars.break_jars(lot=lot, size_ml=250, count=1, by=make.alice(), reason=" ")
    for _again in range(2):
        jars.break_jars(lot=lot, size_ml=250, count=2, by=make.alice(), reason="box fell", uuid=same)
    jars.break_jars(lot=lot, size_ml=250, count=3, by=make.alice(), reason="mould", destroyed=True)
    assert jars.whole([lot])[lot.pk] == {250: 15}
    assert balance_ml(lot.vessel) == 15 * 250
    assert sorted(Movement.objects.filter(from_vessel=lot.vessel).values_list("cause", "volume_ml")) == [
        ("destroyed", 750),
        ("lost", 500),
    ]
    jars.destroy_lot(lot=lot, by=make.kai(), reason="mould in every jar")
    lot.refresh_from_db()
    assert lot.state == LotState.DESTROYED
    assert balance_ml(lot.vessel) == 0
    assert chain(lot.season).closes


@pytest.mark.django_db
def test_free_jars_take_as_many_queries_for_200_lots_as_for_20(django_assert_max_num_queries):
    for _n in range(20):
        released(syrup(250), (250, 1))
    season = make.season()
    with django_assert_max_num_queries(3):
        assert len(jars.jars_free(season)) == 20


@pytest.mark.django_db(transaction=True)
def test_two_people_handing_out_the_last_jars_at_once():
    lot = released(syrup(750), (250, 3))
    alice, bob = make.alice(), make.bob()
    start, outcomes = threading.Barrier(2), []

    def hand_out() -> None:
        try:
            start.wait()
            jars.issue_jars(lot=lot, size_ml=250, count=2, by=alice, person=bob)
            outcomes.append("out")
        except Refused as refused:
            outcomes.append(refused.reasons[0].code)
        finally:
            connection.close()

    threads = [threading.Thread(target=hand_out) for _n in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(outcomes) == ["out", "too-few"]
    assert balance_ml(lot.vessel) == 250
    assert jars.whole([lot])[lot.pk] == {250: 1}
