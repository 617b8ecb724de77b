"""The boiling day: no fire without its safety lines, never more sap than there is, and the rest goes up as steam."""

from __future__ import annotations

from decimal import Decimal

import pytest

from sugarbush.boils.actions import Line, accept_delivery
from sugarbush.boils.batches import add_sap, close_batch, open_batch
from sugarbush.boils.days import CHECKLIST, light, put_out, why_not_lit
from sugarbush.boils.draw_offs import draw_off, lose, new_lot, next_lot_code
from sugarbush.boils.models import Batch, BatchState, BoilDay
from sugarbush.boils.tally import tally, tanks_of
from sugarbush.parts.reasons import Refused
from sugarbush.sap.ledger import balance_ml, chain, totals_by_cause
from sugarbush.sap.models import Cause
from sugarbush.sap.tanks import tank_state
from tests import make

pytestmark = pytest.mark.django_db


def fill(litres, brix=None):
    tree = make.tapped_tree()
    left = Decimal(litres)
    while left > 0:
        make.collection(tree, litres=min(left, Decimal(8)), brix=brix)
        left -= 8
    line = Line(
        volume_ml=int(litres) * 1000,
        tank=make.tank(),
        container=make.container(),
        sugar_brix=Decimal(brix) if brix else None,
    )
    accept_delivery(depot=make.depot(), person=make.bob(), keeper=make.dora(), lines=[line])


def boil_day(**fields):
    ticked = dict.fromkeys(CHECKLIST, True)
    day = BoilDay.objects.create(
        season=make.season(), day=make.today(), site="Mill Race yard", lead=make.kai(), **{**ticked, **fields}
    )
    day.crew.set([make.kai(), make.alice()])
    return day


@pytest.mark.parametrize("line", CHECKLIST)
def test_the_fire_is_not_lit_while_one_safety_line_is_unticked(line):
    day = boil_day(**{line: False})
    with pytest.raises(Refused) as refused:
        light(day=day, by=make.kai())
    assert [reason.code for reason in refused.value.reasons] == [line]


def test_the_fire_needs_two_adults_and_somebody_trained():
    day = boil_day()
    day.crew.set([make.kai(), make.person("Wim", age_band="youth")])
    assert [reason.code for reason in why_not_lit(day, make.kai())] == ["crew"]
    assert [reason.code for reason in why_not_lit(boil_day(), make.person("Pia", "boil_lead", None))] == ["person"]


def test_two_hundred_litres_are_not_taken_from_a_tank_that_holds_one_hundred_and_eighty():
    fill(180)
    day = light(day=boil_day(), by=make.kai())
    with pytest.raises(Refused):
        open_batch(day=day, by=make.kai(), takes=[(make.tank(), 200_000)])
    assert not day.batches.exists()
    assert balance_ml(make.tank()) == 180_000


def test_without_a_fire_nothing_goes_in_the_pan():
    fill(8)
    with pytest.raises(Refused):
        open_batch(day=boil_day(), by=make.kai(), takes=[(make.tank(), 8_000)])


def test_a_plain_batch_empties_the_tank_and_the_rest_goes_up_as_steam():
    fill(40, "2.0")
    day = light(day=boil_day(), by=make.kai())
    batch = open_batch(day=day, by=make.kai(), takes=[(make.tank(), 30_000)])
    add_sap(batch=batch, by=make.kai(), takes=[(make.tank(), 10_000)])
    batch = close_batch(batch=batch, by=make.kai(), syrup_ml=900, syrup_brix=Decimal("66.5"))
    assert batch.state == BatchState.CLOSED
    assert batch.lot is not None
    assert (balance_ml(make.tank()), balance_ml(batch.pan), balance_ml(batch.lot)) == (0, 0, 900)
    assert totals_by_cause(make.season())[Cause.EVAPORATED] == 39_100
    assert chain(make.season()).closes


def test_more_syrup_than_sap_is_a_slip():
    fill(8)
    batch = open_batch(day=light(day=boil_day(), by=make.kai()), by=make.kai(), takes=[(make.tank(), 8_000)])
    with pytest.raises(Refused):
        close_batch(batch=batch, by=make.kai(), syrup_ml=8_001)


def test_a_burnt_batch_gives_nothing_keeps_its_trail_and_says_why():
    fill(8)
    batch = open_batch(day=light(day=boil_day(), by=make.kai()), by=make.kai(), takes=[(make.tank(), 8_000)])
    with pytest.raises(Refused):
        close_batch(batch=batch, by=make.kai(), syrup_ml=0)
    batch = close_batch(batch=batch, by=make.kai(), syrup_ml=0, loss_reason="Scorched while nobody looked.")
    assert batch.state == BatchState.LOST
    assert totals_by_cause(make.season())[Cause.LOST] == 8_000
    assert batch.pan.into.count() == 1


def test_a_batch_closes_once():
    fill(8)
    batch = open_batch(day=light(day=boil_day(), by=make.kai()), by=make.kai(), takes=[(make.tank(), 8_000)])
    close_batch(batch=batch, by=make.kai(), syrup_ml=100)
    with pytest.raises(Refused):
        close_batch(batch=batch, by=make.kai(), syrup_ml=100)


def test_the_day_does_not_end_over_a_full_pan():
    fill(8)
    day = light(day=boil_day(), by=make.kai())
    batch = open_batch(day=day, by=make.kai(), takes=[(make.tank(), 8_000)])
    with pytest.raises(Refused):
        put_out(day=day, by=make.kai())
    close_batch(batch=batch, by=make.kai(), syrup_ml=100)
    assert put_out(day=day, by=make.kai()).state == "out"


def test_forty_litres_at_two_brix_promise_nine_hundred_and_twenty_two_millilitres():
    # 40 L at 2.0 Brix give 0.922 L of 66.0 Brix syrup, 43.389 to 1: exact mass balance at 20 °C, trade-facts 4.2 [C].
    fill(40, "2.0")
    found = tally([tank_state(tank) for tank in tanks_of(make.season())], make.season())
    assert found.syrup_ml == pytest.approx(922, abs=1)
    assert found.ratio == pytest.approx(43.389, abs=0.002)


def test_three_parts_pool_by_mass_over_several_tanks():
    # 12 L at 1.8, 8 L at 2.6, 20 L at 2.1 Brix: 2.110 Brix and 0.973 L of syrup, trade-facts 13 "One whole job" [C].
    make.tapped_tree()
    for litres, brix, code in ((12, "1.8", "A"), (8, "2.6", "B"), (20, "2.1", "C")):
        line = Line(volume_ml=litres * 1000, tank=make.tank(code), container=make.container(), sugar_brix=Decimal(brix))
        accept_delivery(
            depot=make.depot(),
            person=make.bob(),
            keeper=make.dora(),
            lines=[line],
            explanation="no entries in this test",
        )
    found = tally([tank_state(tank) for tank in tanks_of(make.season())], make.season())
    assert found.volume_ml == 40_000
    assert found.sugar_brix == pytest.approx(2.1103, abs=0.0005)
    assert found.syrup_ml == pytest.approx(973, abs=2)
