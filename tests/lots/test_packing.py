"""A lot is packed to the millilitre, held when it is out of range, and released by a second person.

Limits of density and colour: US standards of 2015 as in 1 NYCRR 270.1(b); filling temperature: the season's rule.
"""

from __future__ import annotations

import uuid
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction

from sugarbush.lots import closing, jars, judging, opened, packing, second_look
from sugarbush.lots.models import JarCount, Lot, LotState
from sugarbush.lots.packing import Jars
from sugarbush.parts.reasons import Refused
from sugarbush.sap.ledger import balance_ml, chain
from sugarbush.sap.models import Movement, Vessel, VesselKind
from tests import make
from tests.lots.syrup import counted, packed, syrup

pytestmark = pytest.mark.django_db


def codes(refused: pytest.ExceptionInfo[Refused]) -> set[str]:
    return {reason.code for reason in refused.value.reasons}


def gone(vessel: Vessel) -> dict[tuple[str, str], int]:
    return {(m.cause, m.detail): m.volume_ml for m in Movement.objects.filter(from_vessel=vessel)}


def test_a_packing_worked_by_hand():
    # 5,000 mL drawn. 18 jars of 250 mL, one of them broken, is 4,500; heel 320, tasted; filter 100.
    # 4,500 + 320 + 100 = 4,920, so 80 mL are missing: within 5 % of 5,000 = 250 mL.
    vessel = syrup(5_000)
    packing_ = counted(heel_ml=320, heel_to="tasted", filter_ml=100, jars=[Jars(size_ml=250, filled=18, broken=1)])
    lot = packing.pack(vessels=[vessel], by=make.kai(), packing=packing_)
    assert gone(vessel) == {
        ("filter", "filter"): 100,
        ("lost", "broken"): 250,
        ("lost", "tasted"): 320,
        ("measured_under", "packing"): 80,
    }
    assert balance_ml(vessel) == 4_250 == 17 * 250
    assert (lot.state, lot.held_because, lot.drawn_ml) == (LotState.PACKED, [], 5_000)
    assert jars.whole([lot]) == {lot.pk: {250: 17}}
    vessel.refresh_from_db()
    assert vessel.shut_at is not None
    assert chain(lot.season).closes


def test_too_much_in_jars_is_measured_over():
    vessel = syrup(4_900)
    packed(vessel, (250, 20))
    over = Movement.objects.get(to_vessel=vessel, cause="measured_over")
    assert (over.volume_ml, balance_ml(vessel)) == (100, 5_000)


def test_a_large_difference_is_explained_or_refused():
    vessel = syrup(5_000)
    with pytest.raises(Refused) as refused:
        packed(vessel, (250, 18))  # 500 mL missing, 250 allowed
    assert codes(refused) == {"differs"}
    assert "0.500" in str(refused.value)
    assert not Lot.objects.exists()
    assert balance_ml(vessel) == 5_000
    assert packed(vessel, (250, 18), explanation="A pot was spilled on the floor.").state == LotState.PACKED


def test_the_heel_goes_on_to_the_next_lot():
    vessel = syrup(5_000)
    packed(vessel, (250, 18), heel_ml=500, heel_to="next")
    heel = Vessel.objects.exclude(pk=vessel.pk).get(kind=VesselKind.LOT)
    assert heel.code == f"{vessel.season.year % 100}-001"  # a code of its own, as the next lot has
    assert balance_ml(heel) == 500
    second = syrup(2_000)
    lot = packing.pack(vessels=[second, heel], by=make.kai(), packing=counted((250, 10)))
    assert (lot.drawn_ml, balance_ml(second), balance_ml(heel)) == (2_500, 2_500, 0)
    assert packing.to_pack(lot.season) == []


def test_several_vessels_are_poured_together_and_none_of_them_takes_more():
    one, two = syrup(1_000), syrup(1_500)
    lot = packing.pack(vessels=[one, two], by=make.kai(), packing=counted((250, 10)))
    assert lot.vessel == one
    assert balance_ml(one) == 2_500
    assert balance_ml(two) == 0
    with pytest.raises(Refused) as refused:
        packing.pack(vessels=[two], by=make.kai(), packing=counted((250, 4)))
    assert codes(refused) == {"packed"}


@pytest.mark.parametrize(
    ("fields", "held"),
    [
        ({"syrup_brix": Decimal("65.2")}, [judging.THIN]),
        ({"syrup_brix": Decimal("65.9")}, [judging.THIN]),
        ({"syrup_brix": Decimal("66.0")}, []),
        ({"syrup_brix": Decimal("68.9")}, []),
        ({"syrup_brix": Decimal("69.0")}, [judging.THICK]),
        ({"syrup_brix": None}, [judging.NO_DENSITY]),
        ({"fill_temperature_c": Decimal("76.0")}, [judging.COLD]),
        ({"fill_temperature_c": Decimal("82.1")}, [judging.COLD]),
        ({"fill_temperature_c": Decimal("82.2")}, []),
        ({"fill_temperature_c": None}, [judging.NO_FILL]),
        ({"off_taste": "scorched"}, [judging.TASTE]),
    ],
)
def test_out_of_range_is_held(fields, held):
    lot = packed(**fields)
    assert lot.held_because == held
    assert lot.state == (LotState.HELD if held else LotState.PACKED)


def test_thin_and_cold_say_what_mends_them():
    lot = packed(syrup_brix=Decimal("65.2"), fill_temperature_c=Decimal("76.0"))
    thin, cold = judging.why_held(lot, "metric")
    assert "65.2" in thin.fact
    assert "boil it on" in thin.next_text
    assert "76" in cold.fact
    assert "reheat" in cold.next_text
    with pytest.raises(Refused) as refused:
        second_look.release(lot=lot, by=make.alice())
    assert codes(refused) == {"thin", "cold"}


def test_released_by_the_recorder_is_refused_by_action_and_database():
    lot = packed()
    with pytest.raises(Refused) as refused:
        second_look.release(lot=lot, by=make.kai())
    assert codes(refused) == {"own"}
    with pytest.raises(IntegrityError), transaction.atomic():
        Lot.objects.filter(pk=lot.pk).update(state="released", released_by=lot.packed_by, released_at=lot.packed_at)
    assert second_look.release(lot=lot, by=make.alice()).state == LotState.RELEASED


def test_a_lot_nobody_measured_is_not_released_by_the_database_either():
    lot = packed(syrup_brix=None)
    with pytest.raises(IntegrityError), transaction.atomic():
        Lot.objects.filter(pk=lot.pk).update(state="released", released_by=make.alice(), released_at=lot.packed_at)


def test_who_measured_again_does_not_release():
    lot = packed(syrup_brix=Decimal("65.2"))
    alice, third = make.alice(), make.person("Juno", "boil_lead", None, ["food"])
    second_look.measure_again(lot=lot, by=alice, syrup_brix=Decimal("66.3"), reason="hot test was misread; cold test")
    lot.refresh_from_db()
    assert (lot.state, lot.held_because) == (LotState.PACKED, [])
    with pytest.raises(Refused):
        second_look.release(lot=lot, by=alice)
    second_look.release(lot=lot, by=third)
    assert [str(old.syrup_brix) for old in lot.history.order_by("history_id")][:2] == ["65.2", "66.3"]


def test_food_handling_is_asked_for():
    vessel, helper = syrup(), make.person("Odo", "boil_lead", None)
    with pytest.raises(PermissionDenied):
        packing.pack(vessels=[vessel], by=helper, packing=counted((250, 20)))


def test_cold_jars_are_opened_reheated_and_packed_again():
    vessel = syrup(5_000)
    lot = packed(vessel, (250, 20), fill_temperature_c=Decimal("76.0"))
    opened.open_again(lot=lot, by=make.kai(), reason="filled too cold")
    assert packing.to_pack(lot.season) == [(vessel, 5_000)]
    assert jars.whole([lot])[lot.pk] == {250: 0}
    again = packed(vessel, (250, 19), filter_ml=200)
    assert again.pk == lot.pk
    assert again.state == LotState.PACKED
    row = JarCount.objects.get(lot=lot)
    assert (row.filled, row.broken) == (39, 20)
    assert balance_ml(vessel) == 19 * 250
    assert closing.jars_that_do_not_add_up(lot.season) == []


def test_thin_syrup_goes_back_into_a_pan():
    vessel = syrup(5_000)
    pan = Vessel.objects.create(kind=VesselKind.PAN, season=vessel.season, code="pan again")
    lot = packed(vessel, (250, 20), syrup_brix=Decimal("64.0"))
    with pytest.raises(Refused):
        opened.pour_back(lot=lot, pan=pan, by=make.kai())
    opened.open_again(lot=lot, by=make.kai(), reason="thin")
    lot = opened.pour_back(lot=lot, pan=pan, by=make.kai())
    assert balance_ml(pan) == 5_000
    assert balance_ml(vessel) == 0
    assert lot.held_because == [judging.POURED_BACK]
    assert chain(lot.season).closes


def test_the_same_form_twice_is_one_lot():
    vessel, lot_id = syrup(), uuid.uuid4()
    first = packing.pack(vessels=[vessel], by=make.kai(), packing=counted((250, 20)), lot_id=lot_id)
    again = packing.pack(vessels=[vessel], by=make.kai(), packing=counted((250, 20)), lot_id=lot_id)
    assert first == again
    assert Lot.objects.count() == 1
    assert balance_ml(vessel) == 5_000


def test_colour_by_light_and_by_eye():
    assert packed(light_pct=Decimal("74.9")).colour == "amber"
    assert packed(light_pct=Decimal("24.9")).colour == "very dark"
    by_eye = packed(colour="dark")
    assert (by_eye.colour, by_eye.by_eye) == ("dark", True)


@pytest.mark.parametrize(
    "fields",
    [
        {"jars": []},
        {"jars": [Jars(size_ml=250, filled=4, broken=5)]},
        {"jars": [Jars(size_ml=250, filled=4), Jars(size_ml=250, filled=16)]},
        {"jars": [Jars(size_ml=250, filled=20)], "heel_ml": -5},
        {"jars": [Jars(size_ml=250, filled=19)], "heel_ml": 250, "heel_to": ""},
    ],
)
def test_what_cannot_be_is_refused(fields):
    with pytest.raises(Refused):
        packed(None, **fields)
    assert not Lot.objects.exists()


def test_a_vessel_called_otherwise_gets_a_code_that_can_be_read_aloud():
    one, two = syrup(1_000, "grandmother’s kettle"), syrup(1_000, "the other kettle")
    codes = [packed(vessel, (250, 4)).code for vessel in (one, two)]
    assert codes == [f"{one.season.year % 100}-001", f"{one.season.year % 100}-002"]
