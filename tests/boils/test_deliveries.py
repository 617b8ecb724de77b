"""At the depot the keeper's measure rules, and no difference passes without a word."""

from __future__ import annotations

import uuid
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied

from sugarbush.boils.actions import (
    Differs,
    Line,
    accept_delivery,
    ahead_vessel,
    move_between_tanks,
    settle_ahead,
    tip_out_tank,
)
from sugarbush.boils.models import Delivery, DeliveryState
from sugarbush.gathering.actions import Visit, change_visit
from sugarbush.parts.reasons import Refused
from sugarbush.sap.ledger import balance_ml, chain, hands_of, totals_by_cause
from sugarbush.sap.models import Cause
from sugarbush.sap.tanks import tank_state
from tests import make

pytestmark = pytest.mark.django_db


def carry(litres, brix=None, by=None):
    """Log litres of sap, a pail at a time."""
    left = Decimal(str(litres))
    tree = make.tapped_tree()
    while left > 0:
        part = min(left, Decimal(8))
        make.collection(tree, by=by or make.bob(), litres=part, brix=brix)
        left -= part


def bring(*lines, **how):
    defaults = {"depot": make.depot(), "person": make.bob(), "keeper": make.dora()}
    return accept_delivery(lines=lines, **{**defaults, **how})


def line(litres, tank=None, **more):
    more.setdefault("container", make.container())
    return Line(volume_ml=int(Decimal(str(litres)) * 1000), tank=tank or make.tank(), **more)


def hands():
    return hands_of(make.bob(), make.season())


def test_what_is_accepted_goes_from_hands_to_the_tank():
    carry(40)
    bring(line(20), line(20))
    assert (balance_ml(hands()), balance_ml(make.tank())) == (0, 40_000)


def test_one_of_three_turned_away_two_are_in_the_tank():
    carry(40)
    away = Line(volume_ml=10_000, reject_reason="sour", look="milky")
    delivery = bring(line(15), line(15), away)
    assert balance_ml(make.tank()) == 30_000
    assert totals_by_cause(make.season())[Cause.REJECTED] == 10_000
    assert delivery.lines.count() == 3


def test_less_than_held_stays_in_hands():
    carry(40)
    bring(line(30))
    assert balance_ml(hands()) == 10_000
    assert totals_by_cause(make.season())[Cause.MEASURED_UNDER] == 0


@pytest.mark.parametrize(
    ("held", "measured", "over", "under"),
    [
        (40, "42.0", 2_000, 0),  # 5 % of 40 L, at the limit
        (40, "38.0", 0, 2_000),
        (4, "4.5", 500, 0),  # half a litre, the larger of the two
        (4, "3.5", 0, 500),
    ],
)
def test_a_difference_within_the_tolerance_is_posted_by_itself(held, measured, over, under):
    carry(held)
    delivery = bring(line(measured), all_of_it=True)
    totals = totals_by_cause(make.season())
    assert (totals[Cause.MEASURED_OVER], totals[Cause.MEASURED_UNDER]) == (over, under)
    assert delivery.difference_ml == over - under
    assert balance_ml(hands()) == 0
    assert chain(make.season()).closes


@pytest.mark.parametrize(("held", "measured"), [(40, "42.001"), (40, "37.999"), (4, "4.501"), (4, "3.499")])
def test_just_past_the_tolerance_it_is_refused_until_explained(held, measured):
    carry(held)
    with pytest.raises(Differs) as differs:
        bring(line(measured), all_of_it=True)
    assert differs.value.held_ml == held * 1000
    assert not Delivery.objects.exists()
    delivery = bring(line(measured), all_of_it=True, explanation="Missed pickup at tree 12.")
    assert delivery.explanation == "Missed pickup at tree 12."
    assert balance_ml(hands()) == 0


def test_forty_five_delivered_of_forty_held_is_refused_in_words():
    carry(40)
    with pytest.raises(Differs) as differs:
        bring(line(45))
    assert differs.value.reasons[0].fact == "Bob holds 40.00\u00a0L; you measured 45.00\u00a0L, 5.00\u00a0L more."


def test_a_large_correction_needs_a_second_person():
    carry(8)
    make.tank(capacity_ml=None)
    with pytest.raises(Differs) as differs:
        bring(line("28.001"), explanation="Five trees never logged.")
    assert differs.value.reasons[0].code == "approve"
    with pytest.raises(Differs):
        bring(line("28.001"), explanation="Five trees never logged.", keeper=make.alice(), approved_by=make.alice())
    bring(line("28.001"), explanation="Five trees never logged.", approved_by=make.alice())
    assert balance_ml(make.tank()) == 28_001


def test_ahead_of_its_entries_the_surplus_waits_apart_until_they_come():
    carry(8)
    delivery = bring(line(20), ahead=True)
    assert delivery.state == DeliveryState.AHEAD
    assert balance_ml(make.tank()) == 8_000
    apart = ahead_vessel(delivery)
    assert apart is not None
    assert balance_ml(apart) == 12_000
    assert chain(make.season()).closes
    with pytest.raises(Differs):
        settle_ahead(delivery=delivery, by=make.dora(), tank=make.tank())
    carry(12)
    settle_ahead(delivery=delivery, by=make.dora(), tank=make.tank())
    delivery.refresh_from_db()
    assert delivery.state == DeliveryState.SETTLED
    assert balance_ml(make.tank()) == 20_000
    found = chain(make.season())
    assert (found.came_ml, found.sources[Cause.MEASURED_OVER], found.held["ahead"]) == (20_000, 0, 0)


def test_what_was_turned_away_ahead_of_its_entries_goes_in_no_tank_later():
    delivery = bring(line(5), Line(volume_ml=7_000, reject_reason="sour", look="milky"), ahead=True)
    carry(12)
    settle_ahead(delivery=delivery, by=make.dora(), tank=make.tank())
    assert balance_ml(make.tank()) == 5_000
    assert totals_by_cause(make.season())[Cause.REJECTED] == 7_000


def test_entries_that_never_come_are_explained():
    delivery = bring(line(12), ahead=True)
    settle_ahead(delivery=delivery, by=make.dora(), tank=make.tank(), explanation="The phone is lost for good.")
    assert totals_by_cause(make.season())[Cause.MEASURED_OVER] == 12_000
    assert balance_ml(make.tank()) == 12_000


def test_sap_from_a_container_not_known_to_be_food_safe_goes_in_no_tank():
    carry(8)
    pail = make.container("OLD", food_safe="untested")
    with pytest.raises(Refused) as refused:
        bring(line(8, container=pail))
    assert refused.value.reasons[0].code == "food"


@pytest.mark.parametrize("look", ["milky", "ropy"])
def test_milky_or_ropy_sap_goes_in_no_tank(look):
    carry(8)
    with pytest.raises(Refused) as refused:
        bring(line(8, look=look))
    assert refused.value.reasons[0].code == "spoiled"


def test_a_full_tank_takes_no_more_without_a_word():
    carry(40)
    small = make.tank("S", capacity_ml=30_000)
    with pytest.raises(Refused) as refused:
        bring(line(40, small))
    assert refused.value.reasons[0].code == "full"
    assert balance_ml(hands()) == 40_000


def test_the_same_delivery_sent_twice_counts_once():
    carry(8)
    key = uuid.uuid4()
    assert bring(line(8), delivery_id=key) == bring(line(8), delivery_id=key)
    assert balance_ml(make.tank()) == 8_000


def test_only_the_depots_people_accept():
    carry(8)
    with pytest.raises(PermissionDenied):
        bring(line(8), keeper=make.bob())


def test_a_line_without_its_own_reading_takes_what_the_hands_measured():
    carry(8, brix="2.2")
    bring(line(8))
    state = tank_state(make.tank())
    assert state.sugar_brix == pytest.approx(2.2, abs=0.001)
    assert state.unmeasured_ml == 0


def test_the_keepers_own_reading_wins():
    carry(8, brix="2.2")
    bring(line(8, sugar_brix=Decimal("1.9")))
    assert tank_state(make.tank()).sugar_brix == pytest.approx(1.9, abs=0.001)


def test_a_collection_made_smaller_after_delivery_replaces_the_deliverys_difference():
    carry(8)
    delivery = bring(line("8.2"), all_of_it=True)
    entry = make.bob().collections.get()
    change_visit(
        entry=entry, by=make.bob(), visit=Visit(outcome="sap", volume_ml=7_000, look="clear"), reason="Misread."
    )
    delivery.refresh_from_db()
    assert delivery.difference_ml == 1_200
    assert "Misread." in delivery.explanation
    totals = totals_by_cause(make.season())
    assert (totals[Cause.OUT_OF_TREE], totals[Cause.MEASURED_OVER]) == (7_000, 1_200)
    assert balance_ml(hands()) == 0
    assert chain(make.season()).closes


def test_a_collection_taken_back_after_delivery_leaves_the_tank_as_measured():
    carry(8)
    bring(line(8), all_of_it=True)
    change_visit(entry=make.bob().collections.get(), by=make.bob(), visit=None)
    assert balance_ml(make.tank()) == 8_000
    totals = totals_by_cause(make.season())
    assert (totals[Cause.OUT_OF_TREE], totals[Cause.MEASURED_OVER]) == (0, 8_000)


def test_sap_moves_between_tanks_with_its_sugar():
    carry(8, brix="2.2")
    bring(line(8))
    other = make.tank("B")
    move_between_tanks(source=make.tank(), target=other, volume_ml=3_000, by=make.dora())
    assert tank_state(other).sugar_brix == pytest.approx(2.2, abs=0.01)
    with pytest.raises(Refused):
        move_between_tanks(source=make.tank(), target=other, volume_ml=5_001, by=make.dora())


def test_a_tank_is_tipped_out_only_with_a_reason():
    carry(8)
    bring(line(8))
    with pytest.raises(Refused):
        tip_out_tank(tank=make.tank(), volume_ml=8_000, by=make.dora(), reason=" ")
    tip_out_tank(tank=make.tank(), volume_ml=8_000, by=make.dora(), reason="Stood warm for a week.")
    assert totals_by_cause(make.season())[Cause.DISCARDED] == 8_000
