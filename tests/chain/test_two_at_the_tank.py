"""Two people at one tank at the same moment: exactly one gets the last litres, and the ledger stays balanced."""

from __future__ import annotations

import threading
import uuid

import pytest
from django.db import close_old_connections, connection

from sugarbush.boils.tank_acts import move_between_tanks, tip_out_tank
from sugarbush.parts.reasons import Refused
from sugarbush.sap.ledger import Move, balance_ml, chain, hands_of, post
from sugarbush.sap.models import Act, ActKind, Cause
from tests import make

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def tank():
    """Tank A with its last 20 L."""
    hands, tank = hands_of(make.bob(), make.season()), make.tank("A")
    for kind, move in (
        (ActKind.COLLECT, Move(volume_ml=20_000, cause=Cause.OUT_OF_TREE, target=hands)),
        (ActKind.DELIVER, Move(volume_ml=20_000, cause=Cause.MOVED, source=hands, target=tank)),
    ):
        from django.utils import timezone

        post(kind=kind, season=make.season(), author=make.alice(), happened_at=timezone.now(), moves=[move])
    return tank


def together(*acts):
    """Run these at once, each on a connection of its own; the outcomes in their order."""
    start = threading.Barrier(len(acts))
    outcomes: list[str | None] = [None] * len(acts)

    def run(n, act):
        close_old_connections()
        try:
            start.wait(timeout=10)
            act()
            outcomes[n] = "done"
        except Refused as refused:
            outcomes[n] = refused.reasons[0].code
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(n, act)) for n, act in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    return outcomes


def test_of_two_who_draw_the_last_20_litres_one_is_told_so(tank):
    dora, kai, other = make.dora(), make.kai(), make.tank("B")
    outcomes = together(
        lambda: move_between_tanks(source=tank, target=other, volume_ml=20_000, by=dora),
        lambda: tip_out_tank(tank=tank, volume_ml=20_000, by=kai, reason="ropy"),
    )
    assert sorted(outcomes) == ["done", "short"]
    assert balance_ml(tank) == 0
    assert chain(make.season()).closes


def test_the_same_form_pressed_twice_at_once_is_one_act(tank):
    dora, other, act_id = make.dora(), make.tank("B"), uuid.uuid4()
    outcomes = together(
        *[lambda: move_between_tanks(source=tank, target=other, volume_ml=5_000, by=dora, act_id=act_id)] * 3
    )
    assert outcomes == ["done"] * 3
    assert Act.objects.filter(kind=ActKind.TRANSFER).count() == 1
    assert (balance_ml(tank), balance_ml(other)) == (15_000, 5_000)
