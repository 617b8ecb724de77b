"""Jars are called back: nothing more goes out, every holder is told or tried, and the season waits for the end."""

from __future__ import annotations

import uuid
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied

from sugarbush.lots import jars, opened, recalls, second_look
from sugarbush.lots.models import LotState, Recall, RecallCall
from sugarbush.parts.reasons import Refused
from sugarbush.sap.ledger import balance_ml, chain
from sugarbush.seasons.closing import reasons_against
from tests import make
from tests.lots.syrup import packed, released, syrup

pytestmark = pytest.mark.django_db


def codes(season) -> set[str]:
    return {reason.code for reason in reasons_against(season)}


def test_a_recall_from_its_opening_to_its_end():
    lot = released(syrup(1_000), (250, 4))
    alice, bob = make.alice(), make.bob()
    issue = jars.issue_jars(lot=lot, size_ml=250, count=3, by=alice, person=bob)
    fair = jars.issue_jars(lot=lot, size_ml=250, count=1, by=alice, to_text="spring fair")
    recall = recalls.open_recall(season=lot.season, lots={lot: Decimal("0.031")}, reason="a sour pail", by=make.kai())
    lot.refresh_from_db()
    assert lot.state == LotState.RECALLED
    assert str(recall) == f"R{lot.season.year}-01"
    assert "recall" in codes(lot.season)
    jars.take_back(issue=issue, count=2, by=alice)  # coming back is what a recall is for
    with pytest.raises(Refused) as refused:
        jars.issue_jars(lot=lot, size_ml=250, count=1, by=alice, person=bob)
    assert refused.value.reasons[0].code == LotState.RECALLED
    with pytest.raises(Refused) as refused:
        recalls.close_recall(recall=recall, by=alice, outcome="over")
    assert {reason.code for reason in refused.value.reasons} == {"calls", "here"}
    recalls.tick_off(recall=recall, issue=issue, by=alice, reached=True, note="one eaten, two back")
    with pytest.raises(Refused):
        recalls.tick_off(recall=recall, issue=fair, by=alice, reached=False)
    recalls.tick_off(recall=recall, issue=fair, by=alice, reached=False, note="rang twice, put up a note")
    jars.break_jars(lot=lot, size_ml=250, count=2, by=alice, reason="called back", destroyed=True)
    recalls.close_recall(recall=recall, by=alice, outcome="Two jars back and destroyed, two eaten.")
    lot.refresh_from_db()
    assert lot.state == LotState.ISSUED
    assert balance_ml(lot.vessel) == 0
    assert "recall" not in codes(lot.season)
    assert chain(lot.season).closes


def test_a_false_alarm_lets_the_lot_stand_as_before():
    lot, waiting = released(), packed()
    recall = recalls.open_recall(season=lot.season, lots={lot: None, waiting: None}, reason="a rumour", by=make.alice())
    recalls.close_recall(recall=recall, by=make.alice(), outcome="The dairy meant another farm.", safe=True)
    lot.refresh_from_db()
    waiting.refresh_from_db()
    assert (lot.state, waiting.state) == (LotState.RELEASED, LotState.PACKED)


def test_a_lot_is_called_back_once_and_a_form_sent_twice_opens_one():
    lot = released()
    same = uuid.uuid4()
    for _again in range(2):
        recalls.open_recall(season=lot.season, lots={lot: None}, reason="sour", by=make.alice(), uuid=same)
    assert Recall.objects.count() == 1
    with pytest.raises(Refused) as refused:
        recalls.open_recall(season=lot.season, lots={lot: None}, reason="sour", by=make.alice())
    assert refused.value.reasons[0].code == "twice"


def test_two_presses_of_told_are_one_call():
    lot = released()
    issue = jars.issue_jars(lot=lot, size_ml=250, count=1, by=make.alice(), person=make.bob())
    recall = recalls.open_recall(season=lot.season, lots={lot: None}, reason="sour", by=make.alice())
    for _again in range(2):
        recalls.tick_off(recall=recall, issue=issue, by=make.alice(), reached=True)
    assert RecallCall.objects.count() == 1


def test_who_may_not():
    lot = released()
    with pytest.raises(PermissionDenied):
        recalls.open_recall(season=lot.season, lots={lot: None}, reason="sour", by=make.dora())
    recall = recalls.open_recall(season=lot.season, lots={lot: None}, reason="sour", by=make.kai())
    with pytest.raises(PermissionDenied):
        recalls.close_recall(recall=recall, by=make.kai(), outcome="over")


def test_what_keeps_a_season_open_at_the_bottling_table():
    vessel = syrup(1_000)
    season = vessel.season
    assert "syrup" in codes(season)
    lot = packed(vessel, (250, 4))
    assert "syrup" not in codes(season)
    assert "lots" in codes(season)
    second_look.release(lot=lot, by=make.alice())
    assert codes(season).isdisjoint({"syrup", "lots", "recall", "jars"})
    held = packed(syrup(1_000), (250, 4), syrup_brix=Decimal("60.0"))
    assert "lots" in codes(season)
    opened.open_again(lot=held, by=make.kai(), reason="thin")
    assert "syrup" in codes(season)
    jars.destroy_lot(lot=held, by=make.kai(), reason="mould")
    assert codes(season).isdisjoint({"syrup", "lots", "jars"})
