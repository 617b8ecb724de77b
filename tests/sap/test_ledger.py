"""The sap ledger: what came out of trees is in hands, tanks, pans, lots, or gone for a stated reason."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from sugarbush.parts.reasons import Refused
from sugarbush.sap.ledger import Move, balance_ml, below_zero, chain, hands_of, post, totals_by_cause, undo_of
from sugarbush.sap.models import ActKind, Cause, Movement
from sugarbush.sap.tanks import tank_state
from sugarbush.seasons.models import SeasonState
from tests import make

pytestmark = pytest.mark.django_db


def put(moves, **how):
    defaults = {"kind": ActKind.COLLECT, "season": make.season(), "author": make.bob(), "happened_at": timezone.now()}
    return post(moves=moves, **{**defaults, **how})


def from_tree(ml, hands, brix=None):
    return Move(volume_ml=ml, cause=Cause.OUT_OF_TREE, target=hands, sugar_brix=brix)


@pytest.fixture
def hands():
    return hands_of(make.bob(), make.season())


def test_a_pair_of_hands_is_one_vessel_a_season(hands):
    assert hands_of(make.bob(), make.season()) == hands


def test_what_comes_out_of_a_tree_is_in_hands(hands):
    put([from_tree(6_500, hands)])
    assert balance_ml(hands) == 6_500


def test_hands_never_give_more_than_they_hold(hands):
    put([from_tree(6_500, hands)])
    with pytest.raises(Refused) as refused:
        put([Move(volume_ml=6_501, cause=Cause.DISCARDED, source=hands)])
    assert refused.value.reasons[0].code == "short"
    assert "6.50" in refused.value.reasons[0].fact
    assert balance_ml(hands) == 6_500
    assert Movement.objects.count() == 1


def test_only_the_balance_after_the_whole_act_counts(hands):
    put([Move(volume_ml=500, cause=Cause.DISCARDED, source=hands), from_tree(2_000, hands)])
    assert balance_ml(hands) == 1_500


def test_a_tank_takes_its_fill_and_no_more_without_a_word(hands):
    tank = make.tank(capacity_ml=10_000)
    put([from_tree(12_000, hands)])
    put([Move(volume_ml=10_000, cause=Cause.MOVED, source=hands, target=tank)])
    with pytest.raises(Refused) as refused:
        put([Move(volume_ml=1, cause=Cause.MOVED, source=hands, target=tank)])
    assert refused.value.reasons[0].code == "full"
    put([Move(volume_ml=1, cause=Cause.MOVED, source=hands, target=tank)], overfill_reason="The dip stick reads high.")
    assert balance_ml(tank) == 10_001


def test_a_movement_taken_back_counts_against_its_cause(hands):
    act = put([from_tree(6_500, hands)])
    put([undo_of(act.movements.get()), from_tree(5_600, hands)], kind=ActKind.CORRECT, reason="misread")
    assert totals_by_cause(make.season())[Cause.OUT_OF_TREE] == 5_600
    assert balance_ml(hands) == 5_600


def test_a_movement_is_taken_back_only_once(hands):
    act = put([from_tree(6_500, hands), from_tree(6_500, hands)])
    first = act.movements.first()
    put([undo_of(first)], kind=ActKind.CORRECT, reason="twice")
    with pytest.raises(IntegrityError), transaction.atomic():
        put([undo_of(first)], kind=ActKind.CORRECT, reason="twice")


def test_a_movement_is_never_changed_or_deleted(hands):
    movement = put([from_tree(6_500, hands)]).movements.get()
    movement.volume_ml = 1
    with pytest.raises(TypeError):
        movement.save()
    with pytest.raises(TypeError):
        movement.delete()


@pytest.mark.parametrize(
    "wrong",
    [
        {"volume_ml": 0},
        {"from_vessel": None, "to_vessel": None},
        {"cause": Cause.DISCARDED},
        {"cause": Cause.MOVED},
        {"sugar_brix": Decimal("-1")},
    ],
)
def test_the_database_itself_refuses_a_movement_that_cannot_be(hands, wrong):
    act = put([from_tree(1_000, hands)])
    fields = {
        "act": act,
        "season": act.season,
        "happened_at": act.happened_at,
        "to_vessel": hands,
        "volume_ml": 1_000,
        "cause": Cause.OUT_OF_TREE,
    }
    with pytest.raises(IntegrityError), transaction.atomic():
        Movement.objects.create(**{**fields, **wrong})


def test_a_closed_season_takes_only_a_dated_correction_with_a_reason(hands):
    make.season(state=SeasonState.CLOSED)
    season = make.season()
    with pytest.raises(Refused):
        put([from_tree(1_000, hands)], season=season)
    with pytest.raises(Refused):
        put([from_tree(1_000, hands)], season=season, kind=ActKind.CORRECT)
    late = {"season": season, "kind": ActKind.CORRECT, "reason": "A sheet was found in the shed."}
    with pytest.raises(Refused):  # a correction as on any day of the season
        put([from_tree(1_000, hands)], **late)
    put([from_tree(1_000, hands)], **late, after_closing=True)
    assert balance_ml(hands) == 1_000


def test_the_chain_closes_in_one_kind_of_millilitre(hands):
    tank = make.tank()
    put([from_tree(40_000, hands), Move(volume_ml=300, cause=Cause.RAIN_KEPT, target=hands)])
    put([Move(volume_ml=1_500, cause=Cause.DISCARDED, source=hands, detail="cloudy")])
    put([Move(volume_ml=30_000, cause=Cause.MOVED, source=hands, target=tank)])
    found = chain(make.season())
    assert found.came_ml == 40_300
    assert found.sinks[Cause.DISCARDED] == 1_500
    assert found.held == {"hands": 8_800, "ahead": 0, "tank": 30_000, "pan": 0, "lot": 0}
    assert found.closes


def test_a_recount_names_the_movement_where_a_vessel_went_below_zero(hands):
    act = put([from_tree(1_000, hands)])
    assert below_zero(make.season()) == []
    # Past the door of post(), as only a hand in the database could.
    wrong = Movement.objects.create(
        act=act, season=act.season, happened_at=act.happened_at, from_vessel=hands, volume_ml=5_000, cause="lost"
    )
    other = put([from_tree(9_000, hands)])
    assert other.movements.count() == 1
    assert below_zero(make.season()) == [(hands, wrong.seq, -4_000)]


def test_a_tank_pools_by_mass(hands):
    # 12 L at 1.8, 8 L at 2.6 and 20 L at 2.1 Brix pool to 2.1103: computed from the ICUMSA density form, trade-facts
    # 2.3 [C]; the volume-weighted mean is 2.1100.
    tank = make.tank()
    for ml, brix in ((12_000, "1.8"), (8_000, "2.6"), (20_000, "2.1")):
        put([from_tree(ml, hands, Decimal(brix))])
        put([Move(volume_ml=ml, cause=Cause.MOVED, source=hands, target=tank, sugar_brix=Decimal(brix))])
    state = tank_state(tank)
    assert state.volume_ml == 40_000
    assert state.sugar_brix == pytest.approx(2.1103, abs=0.0005)
    assert state.sugar_kg == pytest.approx(0.84952, abs=0.00005)


def test_sap_nobody_measured_takes_the_seasons_own_mean(hands):
    tank = make.tank()
    put([from_tree(1_000, hands, Decimal("2.40"))])
    put([Move(volume_ml=1_000, cause=Cause.MOVED, source=hands, target=tank)])
    state = tank_state(tank)
    assert state.unmeasured_ml == 1_000
    assert state.sugar_brix == pytest.approx(2.40, abs=0.001)


def test_the_chain_costs_five_queries(hands, django_assert_num_queries):
    for _ in range(5):
        put([from_tree(1_000, hands)])
    season = make.season()
    with django_assert_num_queries(5):
        chain(season)
