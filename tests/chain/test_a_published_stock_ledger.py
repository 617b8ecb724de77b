"""A stock ledger out of a book, kept in ours: receipts on one side, issues on the other, the balance between them.

Source: E. A. Dawe, Paper and Its Uses, the stock ledger page of the chapter on the stock room (on Wikisource, page 106
of the scan). Stock No. 25, Printing Double Demy, 480's, in reams of 20 quires of 24 sheets:
    receipts  1 January 1914  200 reams        1 March  480 reams
    issues    3 January, job 142  17 reams 14 quires        4 January, job 201  153 reams 10 quires
The book prints no balance; it is worked out here by hand: 200 − 17 14/20 − 153 10/20 = 28 reams 16 quires, and with
the second receipt 508 reams 16 quires. One sheet stands for a millilitre, the stock room for a tank.
"""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from sugarbush.parts.reasons import Refused
from sugarbush.sap.ledger import Move, balance_ml, chain, hands_of, post
from sugarbush.sap.models import Act, ActKind, Cause
from tests import make
from tests.chain.test_from_tree_to_jar import in_as

pytestmark = pytest.mark.django_db


def sheets(reams: int, quires: int = 0) -> int:
    return (reams * 20 + quires) * 24


def test_the_balance_after_each_line():
    season, room = make.season(), make.tank("25", None)
    store = hands_of(make.bob(), season)

    def line(day: dt.date, *moves: Move) -> Act:
        at = dt.datetime.combine(day, dt.time(9), dt.UTC)
        return post(kind=ActKind.DELIVER, season=season, author=make.dora(), happened_at=at, moves=list(moves))

    def received(day: dt.date, amount: int) -> None:
        came = Move(volume_ml=amount, cause=Cause.OUT_OF_TREE, target=store)
        line(day, came, Move(volume_ml=amount, cause=Cause.MOVED, source=store, target=room))

    def issued(day: dt.date, amount: int, job: str) -> None:
        line(day, Move(volume_ml=amount, cause=Cause.ISSUED, source=room, detail=job))

    received(dt.date(1914, 1, 1), sheets(200))
    issued(dt.date(1914, 1, 3), sheets(17, 14), "job 142")
    issued(dt.date(1914, 1, 4), sheets(153, 10), "job 201")
    assert balance_ml(room) == sheets(28, 16) == 13_824
    with pytest.raises(Refused, match="more would be needed"):
        issued(dt.date(1914, 1, 5), sheets(28, 17), "job 202")
    received(dt.date(1914, 3, 1), sheets(480))
    assert balance_ml(room) == sheets(508, 16) == 244_224
    assert chain(season).closes
    page = in_as(make.rhea()).get(reverse("season-ledger"), {"vessel": "25"})
    assert [row.balance_ml for row in page.context["lines"]] == [
        sheets(200),
        sheets(182, 6),
        sheets(28, 16),
        sheets(508, 16),
    ]
