"""The boiling day: no fire without its safety lines, never more sap than there is, and the rest goes up as steam."""

from __future__ import annotations

import datetime as dt
import uuid
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from sugarbush.audit.models import AuditEvent
from sugarbush.boils import batches as batches_module
from sugarbush.boils.actions import Line, accept_delivery
from sugarbush.boils.batches import add_sap, close_batch, open_batch
from sugarbush.boils.days import CHECKLIST, light, put_out, why_not_lit
from sugarbush.boils.draw_offs import draw_off, lose, new_lot, next_lot_code
from sugarbush.boils.looks import open_too_long
from sugarbush.boils.models import Batch, BatchState
from sugarbush.boils.models_pan import DrawOff
from sugarbush.boils.tally import tally, tanks_of
from sugarbush.parts.reasons import Refused
from sugarbush.sap.ledger import balance_ml, chain, totals_by_cause
from sugarbush.sap.models import Act, Cause, Movement, Vessel, VesselKind
from sugarbush.sap.tanks import tank_state
from tests import make
from tests.boils.cast import boil_day, fill, lit_day, open_pan

pytestmark = pytest.mark.django_db


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


def codes(refused) -> list[str]:
    return [reason.code for reason in refused.value.reasons]


def test_every_reason_against_the_fire_names_its_next_step():
    day = boil_day(**dict.fromkeys(CHECKLIST, False))
    day.crew.clear()
    reasons = why_not_lit(day, make.person("Pia", "boil_lead", None))
    assert [reason.code for reason in reasons] == [*CHECKLIST, "crew", "person"]
    assert all(reason.next_text for reason in reasons)


def test_syrup_is_drawn_off_several_times_into_new_and_open_lots():
    batch = open_pan(40)
    first = draw_off(batch=batch, by=make.kai(), syrup_ml=400, syrup_brix=Decimal("66.2"))
    second = draw_off(batch=batch, by=make.kai(), syrup_ml=300, syrup_brix=Decimal("66.8"), lot=first.lot, filter_ml=50)
    third = draw_off(batch=batch, by=make.kai(), syrup_ml=100)
    assert first.lot == second.lot != third.lot
    assert (balance_ml(first.lot), balance_ml(third.lot), balance_ml(batch.pan)) == (700, 100, 39_150)
    batch = close_batch(batch=batch, by=make.kai(), syrup_ml=0)
    assert (batch.state, batch.lot, batch.syrup_brix) == (BatchState.CLOSED, first.lot, Decimal("66.8"))
    totals = totals_by_cause(make.season())
    assert (totals[Cause.FILTER], totals[Cause.EVAPORATED]) == (50, 39_150)
    assert chain(make.season()).closes


def test_a_lot_that_is_packed_takes_no_more():
    batch = open_pan(8)
    lot = draw_off(batch=batch, by=make.kai(), syrup_ml=10).lot
    Vessel.objects.filter(pk=lot.pk).update(shut_at=timezone.now())
    lot.refresh_from_db()
    with pytest.raises(Refused) as refused:
        draw_off(batch=batch, by=make.kai(), syrup_ml=10, lot=lot)
    assert codes(refused) == ["shut"]
    with pytest.raises(Refused) as refused:
        draw_off(batch=batch, by=make.kai(), syrup_ml=10, lot=make.tank())
    assert codes(refused) == ["no-lot"]


def test_lot_codes_are_digits_that_nobody_mishears_and_none_comes_twice():
    season = make.season(year=2031)
    assert next_lot_code(season) == "31-001"
    assert [new_lot(season).code for _ in range(3)] == ["31-001", "31-002", "31-003"]
    Vessel.objects.create(kind=VesselKind.LOT, season=season, code="31-120")
    Vessel.objects.create(kind=VesselKind.LOT, season=season, code="31-1A7")
    assert new_lot(season).code == "31-121"


@pytest.mark.parametrize("cause", ["boil-over", "scorched", "spilled", "sample"])
def test_what_is_lost_from_the_pan_keeps_its_cause_and_litres(cause):
    batch = open_pan(8)
    lose(batch=batch, by=make.kai(), volume_ml=500, cause=cause, note="while stoking")
    move = Movement.objects.get(cause=Cause.LOST)
    assert (move.volume_ml, move.detail, move.act.reason) == (500, cause, "while stoking")
    assert balance_ml(batch.pan) == 7_500


def test_more_is_not_lost_than_the_pan_holds():
    batch = open_pan(8)
    with pytest.raises(Refused):
        lose(batch=batch, by=make.kai(), volume_ml=8_001, cause="spilled")


def test_what_scorches_after_a_draw_off_is_lost_and_the_syrup_stays():
    batch = open_pan(8)
    draw_off(batch=batch, by=make.kai(), syrup_ml=50)
    batch = close_batch(batch=batch, by=make.kai(), syrup_ml=0, loss_reason="The rest scorched.")
    assert batch.state == BatchState.CLOSED
    totals = totals_by_cause(make.season())
    assert (totals[Cause.LOST], totals[Cause.EVAPORATED]) == (7_950, 0)


def test_every_form_at_the_pan_that_comes_twice_counts_once():
    fill(40, "2.0")
    day = lit_day()
    batch_id, tokens = uuid.uuid4(), [uuid.uuid4() for _ in range(4)]
    for _twice in range(2):
        batch = open_batch(day=day, by=make.kai(), takes=[(make.tank(), 20_000)], batch_id=batch_id)
        add_sap(batch=batch, by=make.kai(), takes=[(make.tank(), 5_000)], token=tokens[0])
        draw_off(batch=batch, by=make.kai(), syrup_ml=300, token=tokens[1])
        lose(batch=batch, by=make.kai(), volume_ml=100, cause="sample", token=tokens[2])
        close_batch(batch=batch, by=make.kai(), syrup_ml=0, token=tokens[3])
    assert (Batch.objects.count(), DrawOff.objects.count()) == (1, 1)
    assert balance_ml(make.tank()) == 15_000
    totals = totals_by_cause(make.season())
    assert (totals[Cause.LOST], totals[Cause.EVAPORATED]) == (100, 24_600)


def late_tank():
    fill(8, "2.0", when=timezone.now() - dt.timedelta(days=8))


def test_sap_past_its_boil_by_goes_in_only_with_a_name_and_a_reason():
    late_tank()
    day = lit_day()
    with pytest.raises(Refused) as refused:
        open_batch(day=day, by=make.kai(), takes=[(make.tank(), 8_000)])
    assert codes(refused) == ["late"]
    assert all(reason.next_text for reason in refused.value.reasons)
    with pytest.raises(Refused) as refused:
        open_batch(day=day, by=make.kai(), takes=[(make.tank(), 8_000)], approver=make.bob(), reason="smells fine")
    assert codes(refused) == ["approver"]
    assert not Batch.objects.exists()
    open_batch(day=day, by=make.kai(), takes=[(make.tank(), 8_000)], approver=make.alice(), reason="Clear and sweet.")
    act = Act.objects.get(kind="boil")
    assert (act.approver, act.reason) == (make.alice(), "Clear and sweet.")
    event = AuditEvent.objects.get(act="put sap in pan")
    assert (event.new["approver"], event.reason) == (make.alice().pk, "Clear and sweet.")


def test_a_reason_given_for_sap_that_keeps_is_not_written_to_its_name():
    fill(8, "2.0")
    open_batch(day=lit_day(), by=make.kai(), takes=[(make.tank(), 8_000)], approver=make.alice(), reason="not needed")
    assert Act.objects.get(kind="boil").approver is None


def test_nothing_but_a_tank_of_this_season_is_poured_in_a_pan():
    batch = open_pan(8)
    lot = new_lot(make.season())
    with pytest.raises(Refused) as refused:
        add_sap(batch=batch, by=make.kai(), takes=[(lot, 1)])
    assert codes(refused) == ["no-tank"]


def test_a_server_that_dies_between_the_lines_of_a_batch_leaves_nothing_half_done(monkeypatch):
    batch = open_pan(40)
    before = (Movement.objects.count(), AuditEvent.objects.count())

    def dies(**_given):
        raise ConnectionError

    monkeypatch.setattr(batches_module, "note_look", dies)
    with pytest.raises(ConnectionError):
        close_batch(batch=batch, by=make.kai(), syrup_ml=900)
    batch.refresh_from_db()
    assert batch.state == BatchState.OPEN
    assert (Movement.objects.count(), AuditEvent.objects.count()) == before
    assert not DrawOff.objects.exists()
    assert not Vessel.objects.filter(kind=VesselKind.LOT).exists()


def test_a_batch_left_open_for_more_than_a_day_is_called_out():
    batch = open_pan(8)
    assert not open_too_long(batch)
    assert open_too_long(batch, timezone.now() + dt.timedelta(hours=25))
    closed = close_batch(batch=batch, by=make.kai(), syrup_ml=100)
    assert not open_too_long(closed, timezone.now() + dt.timedelta(hours=25))


def test_only_who_keeps_batches_draws_off():
    batch = open_pan(8)
    for act in (
        lambda: draw_off(batch=batch, by=make.bob(), syrup_ml=1),
        lambda: lose(batch=batch, by=make.bob(), volume_ml=1, cause="spilled"),
        lambda: close_batch(batch=batch, by=make.bob(), syrup_ml=1),
    ):
        with pytest.raises(PermissionDenied):
            act()
