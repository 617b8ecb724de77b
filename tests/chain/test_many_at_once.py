"""Several people gather, bring, boil and hand out at one moment, with real threads; afterwards every book balances."""

from __future__ import annotations

import threading
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.utils import timezone

from sugarbush.boils.actions import Line, accept_delivery
from sugarbush.boils.batches import add_sap, open_batch
from sugarbush.boils.draw_offs import draw_off
from sugarbush.boils.handover import hand_over
from sugarbush.boils.models import BoilDay, BoilState
from sugarbush.boils.tank_acts import move_between_tanks, tip_out_tank
from sugarbush.gathering.actions import Visit, log_visit
from sugarbush.lots.jars import issue_jars
from sugarbush.parts.reasons import Refused
from sugarbush.review.recount import findings
from sugarbush.sap.ledger import Move, balance_ml, below_zero, chain, hands_of, post
from sugarbush.sap.models import ActKind, Cause
from sugarbush.seasons import actions as season_actions
from sugarbush.seasons.models import Season, SeasonState
from tests import make
from tests.lots import syrup

pytestmark = pytest.mark.django_db(transaction=True)


def together(jobs: list[Callable[[], Any]]) -> list[Any]:
    """Start all at one moment; what each gave, or was refused with. Anything else fails the test."""
    start = threading.Barrier(len(jobs))
    answers: list[Any] = [None] * len(jobs)

    def run(n: int) -> None:
        try:
            start.wait(20)
            answers[n] = jobs[n]()
        except Exception as error:
            answers[n] = error
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(n,)) for n in range(len(jobs))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(90)
    odd = [answer for answer in answers if isinstance(answer, Exception) and not isinstance(answer, Refused)]
    assert odd == []
    return answers


def refusals(answers: list[Any]) -> int:
    return sum(isinstance(answer, Refused) for answer in answers)


def test_everybody_at_once_and_the_books_balance():
    """All want of tank A; Bob’s hands, the pan and a lot of 8 jars are asked for more than they hold."""
    season, can = make.season(), make.container("C-1", 60_000)
    trees = [make.tapped_tree() for _ in range(3)]
    bob, lena, mira = make.bob(), make.lena(), make.person("Mira", "volunteer", "North Bank")
    dora, kai, alice = make.dora(), make.kai(), make.alice()
    a, b = make.tank("A"), make.tank("B")
    for tank in (a, b):
        tank.usual_temperature_c = Decimal("2.0")
        tank.save()
    make.collection(trees[0], by=bob, litres="30", note="a big run", confirmed=True)
    accept_delivery(
        depot=make.depot(),
        person=bob,
        keeper=dora,
        lines=[Line(volume_ml=30_000, tank=a, container=can, sugar_brix=Decimal("2.0"))],
    )
    make.collection(trees[1], by=bob, litres="7")
    day = BoilDay.objects.create(season=season, day=make.today(), site="Yard", state=BoilState.LIT, lead=kai)
    batch = open_batch(day=day, by=kai, takes=[(a, 10_000)])
    lot = syrup.released(syrup.syrup(2_000), (250, 8))
    before = chain(season).came_ml

    def deliver() -> object:
        line = Line(volume_ml=6_000, tank=b, container=can)
        return accept_delivery(depot=make.depot(), person=bob, keeper=dora, lines=[line])

    def gather(person: Any, n: int) -> Callable[[], object]:
        visit = Visit(outcome="sap", volume_ml=2_000 + n)
        return lambda: log_visit(tree=trees[n % 3], by=person, visit=visit)

    gathered = [gather(person, n) for n, person in enumerate((bob, lena, mira, lena))]
    jobs = [
        *gathered,
        deliver,
        lambda: hand_over(giver=bob, taker=mira, volume_ml=6_000, by=bob),
        lambda: add_sap(batch=batch, by=kai, takes=[(a, 15_000)]),
        lambda: move_between_tanks(source=a, target=b, volume_ml=15_000, by=dora),
        lambda: tip_out_tank(tank=a, volume_ml=15_000, by=dora, reason="a leaf"),
        lambda: draw_off(batch=batch, by=kai, syrup_ml=7_000, syrup_brix=Decimal("66.4")),
        lambda: draw_off(batch=batch, by=alice, syrup_ml=7_000, syrup_brix=Decimal("66.4")),
        lambda: issue_jars(lot=lot, size_ml=250, count=5, by=alice, person=bob),
        lambda: issue_jars(lot=lot, size_ml=250, count=5, by=kai, person=mira),
    ]
    answers = together(jobs)
    assert refusals(answers[: len(gathered)]) == 0  # nothing gathered is ever lost
    # 20 L are in the tank and three want 15 of it: one gets them. Of 8 jars one gets 5.
    assert refusals(answers[6:9]) == 2
    assert refusals(answers[11:13]) == 1
    assert balance_ml(a) == 5_000
    found = chain(season)
    assert found.closes
    assert found.came_ml >= before + sum(2_000 + n for n in range(4))
    assert below_zero(season) == []
    assert [one.sentence for one in findings(season)] == []


def test_nothing_slips_in_while_a_season_closes():
    """What is posted at the very moment is either counted before the season closes, or refused."""
    season = make.season(state=SeasonState.ENDING)
    bob = make.bob()
    hands = hands_of(bob, season)
    now = timezone.now()

    def both_ways() -> object:
        moves = [
            Move(volume_ml=1_000, cause=Cause.OUT_OF_TREE, target=hands),
            Move(volume_ml=1_000, cause=Cause.DISCARDED, source=hands, detail="ice"),
        ]
        return post(kind=ActKind.COLLECT, season=season, author=bob, happened_at=now, moves=moves)

    alice = make.alice()
    answers = together(
        [both_ways, both_ways, lambda: season_actions.step(by=alice, season=season, to=SeasonState.CLOSED), both_ways]
    )
    closed = Season.objects.get(pk=season.pk)
    posted = [n for n in (0, 1, 3) if not isinstance(answers[n], Refused)]
    assert closed.is_closed
    assert closed.frozen_totals is not None
    kept = sum(flow["ml"] for flow in closed.frozen_totals["flows"] if flow["cause"] == "out_of_tree")
    assert kept == 1_000 * len(posted)
    assert all(answers[n].recorded_at <= closed.closed_at for n in posted)
