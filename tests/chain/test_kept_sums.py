"""Sums kept from one page to the next: never older than the rows, never from a transaction that was given up."""

from __future__ import annotations

import pytest
from django.db import transaction
from django.utils import timezone

from sugarbush.review import counting
from sugarbush.sap import sofar
from sugarbush.sap.ledger import Move, below_zero, hands_of, post
from sugarbush.sap.models import ActKind, Cause
from tests import make
from tests.chain.planting import change

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def nothing_kept():
    sofar.forget()
    yield
    sofar.forget()


def collected(ml: int) -> None:
    season = make.season()
    move = Move(volume_ml=ml, cause=Cause.OUT_OF_TREE, target=hands_of(make.bob(), season))
    post(kind=ActKind.COLLECT, season=season, author=make.bob(), happened_at=timezone.now(), moves=[move])


def out_ml() -> int:
    return sum(flow.ml for flow in counting.flows(make.season()) if flow.cause == "out_of_tree")


def test_what_came_since_is_added():
    collected(1_000)
    assert out_ml() == 1_000
    assert sofar.recall("ways", make.season())[0].count == 1
    collected(500)
    assert out_ml() == 1_500
    assert sofar.recall("ways", make.season())[0].count == 2


def test_an_entry_settled_since_is_seen():
    entry = make.collection(make.given_tree(), by=make.bob(), litres="2")
    assert entry.state == "review"
    assert [flow.standing for flow in counting.flows(make.season()) if flow.ml] == ["review"]
    entry.season.acts.update(standing="counted")
    assert [flow.standing for flow in counting.flows(make.season()) if flow.ml] == ["counted"]


def test_nothing_is_kept_of_what_was_given_up():
    collected(1_000)
    with transaction.atomic():
        collected(700)
        assert out_ml() == 1_700
        transaction.set_rollback(True)
    assert out_ml() == 1_000


def test_rows_that_are_not_those_that_were_added_are_added_again():
    collected(1_000)
    season = make.season()
    assert below_zero(season) == []
    mark = sofar.mark(season)
    sofar.keep("ways", season, sofar.Mark(seq=mark.seq, uuid=mark.uuid, count=2), {})
    assert out_ml() == 1_000
    change(season.movements.filter(seq=mark.seq), uuid="0" * 32)
    assert sofar.recall("below-zero", season) == (sofar.Mark(), None)
