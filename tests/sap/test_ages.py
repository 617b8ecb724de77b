"""How old sap is follows it from the tree through every vessel it is poured into."""

from __future__ import annotations

import pytest
from django.utils import timezone

from sugarbush.sap.ages import oldest_in
from sugarbush.sap.ledger import Move, hands_of, post, undo_of
from sugarbush.sap.models import ActKind, Cause, Movement, Vessel, VesselKind
from sugarbush.sap.tanks import tank_state, tank_states
from tests import make

pytestmark = pytest.mark.django_db


def ago(days: float):
    return timezone.now().replace(microsecond=0) - make.days(1) * days


def gather(ml, days, who=None):
    return flow(ml, days, target=hands(who), cause=Cause.OUT_OF_TREE, kind=ActKind.COLLECT)


def pour(ml, source, target, days, kind=ActKind.DELIVER):
    return flow(ml, days, source=source, target=target, cause=Cause.MOVED, kind=kind)


def flow(ml, days, *, kind, cause, source=None, target=None):
    act = post(
        kind=kind,
        season=make.season(),
        author=make.alice(),
        happened_at=days if hasattr(days, "year") else ago(days),
        moves=[Move(volume_ml=ml, cause=cause, source=source, target=target)],
    )
    return act.movements.get()


def hands(who=None) -> Vessel:
    return hands_of(who or make.bob(), make.season())


def oldest(vessel):
    found = oldest_in([vessel]).get(vessel.pk)
    return found and found.at


def test_the_oldest_sap_is_as_old_as_its_collection_not_its_delivery():
    at = ago(5)
    gather(10_000, at)
    pour(10_000, hands(), make.tank(), 1)
    assert oldest(make.tank()) == at
    assert tank_state(make.tank()).oldest_at == at


def test_a_tank_forgets_only_when_it_was_empty():
    at = ago(5)
    gather(10_000, at)
    pour(10_000, hands(), make.tank(), 5)
    gather(10_000, 1)
    pour(10_000, hands(), make.tank(), 1)
    flow(19_999, 0.5, kind=ActKind.TIP_OUT, cause=Cause.DISCARDED, source=make.tank())
    assert oldest(make.tank()) == at, "a millilitre of the old sap may still be in it"
    flow(1, 0.5, kind=ActKind.TIP_OUT, cause=Cause.DISCARDED, source=make.tank())
    assert oldest(make.tank()) is None
    fresh = ago(0.25)
    gather(1_000, fresh)
    pour(1_000, hands(), make.tank(), 0)
    assert oldest(make.tank()) == fresh


def test_what_stays_in_the_hands_makes_the_next_delivery_old():
    at = ago(3)
    gather(10_000, at)
    pour(8_000, hands(), make.tank("A"), 3)
    gather(10_000, 1)
    pour(12_000, hands(), make.tank("B"), 1)
    assert oldest(make.tank("B")) == at


def test_emptied_hands_carry_only_what_they_gathered_since():
    gather(10_000, 3)
    pour(10_000, hands(), make.tank("A"), 3)
    fresh = ago(1)
    gather(10_000, fresh)
    pour(10_000, hands(), make.tank("B"), 1)
    assert oldest(make.tank("B")) == fresh


def test_the_age_goes_along_a_chain_of_tanks_into_the_pan():
    at = ago(6)
    gather(10_000, at)
    pour(10_000, hands(), make.tank("A"), 5)
    for source, target in (("A", "B"), ("B", "C"), ("C", "D")):
        pour(5_000, make.tank(source), make.tank(target), 4, ActKind.TRANSFER)
    flow(5_000, 3, kind=ActKind.TIP_OUT, cause=Cause.DISCARDED, source=make.tank("A"))
    pan = Vessel.objects.create(kind=VesselKind.PAN, season=make.season(), code="pan 1")
    pour(5_000, make.tank("D"), pan, 0, ActKind.BOIL)
    assert oldest(pan) == at
    assert oldest(make.tank("A")) is None


def test_what_a_tank_held_before_it_was_empty_does_not_follow_what_it_passes_on_later():
    gather(10_000, 6)
    pour(10_000, hands(), make.tank("A"), 6)
    flow(10_000, 5, kind=ActKind.TIP_OUT, cause=Cause.DISCARDED, source=make.tank("A"))
    fresh = ago(1)
    gather(10_000, fresh)
    pour(10_000, hands(), make.tank("A"), 1)
    pour(4_000, make.tank("A"), make.tank("B"), 1, ActKind.TRANSFER)
    assert oldest(make.tank("B")) == fresh


def test_sap_handed_over_keeps_its_age():
    at = ago(2)
    gather(6_000, at)
    pour(6_000, hands(), hands(make.mira()), 1, ActKind.HAND_OVER)
    gather(2_000, 1, make.mira())
    pour(8_000, hands(make.mira()), make.tank(), 0)
    assert oldest(make.tank()) == at


def test_an_entry_put_right_later_does_not_age_what_the_person_carries_now():
    entry = make.collection(litres=8, by=make.bob(), happened_at=ago(4))
    pour(8_000, hands(), make.tank(), 4)
    fresh = ago(1)
    gather(5_000, fresh)
    wrong = Movement.objects.get(act__origin_uuid=entry.pk)
    post(
        kind=ActKind.CORRECT,
        season=make.season(),
        author=make.alice(),
        happened_at=entry.happened_at,
        reason="7.5 L, misread",
        moves=[
            undo_of(wrong),
            Move(volume_ml=7_500, cause=Cause.OUT_OF_TREE, target=hands()),
            Move(volume_ml=500, cause=Cause.MEASURED_OVER, target=hands()),
        ],
    )
    assert oldest(hands()) == fresh
    assert oldest(make.tank()) == entry.happened_at


def test_an_entry_taken_back_has_no_say():
    wrong = gather(5_000, 9)
    fresh = ago(1)
    gather(5_000, fresh)
    post(
        kind=ActKind.CORRECT,
        season=make.season(),
        author=make.alice(),
        happened_at=wrong.happened_at,
        reason="never happened",
        moves=[undo_of(wrong)],
    )
    pour(5_000, hands(), make.tank(), 0)
    assert oldest(make.tank()) == fresh


def test_sap_nobody_entered_counts_from_its_delivery_and_says_so():
    at = ago(2)
    flow(3_000, at, kind=ActKind.DELIVER, cause=Cause.MEASURED_OVER, target=hands())
    pour(3_000, hands(), make.tank(), at)
    found = oldest_in([make.tank()])[make.tank().pk]
    assert (found.at, found.entered) == (at, False)


def test_a_measured_surplus_makes_nothing_younger():
    at = ago(4)
    gather(5_000, at)
    flow(200, 1, kind=ActKind.DELIVER, cause=Cause.MEASURED_OVER, target=hands())
    pour(5_200, hands(), make.tank(), 1)
    assert oldest_in([make.tank()])[make.tank().pk].entered
    assert oldest(make.tank()) == at


@pytest.mark.parametrize("look_back", [0, 1, 3, 20_000])
def test_how_far_back_is_read_changes_no_age(look_back, monkeypatch):
    monkeypatch.setattr("sugarbush.sap.ages.LOOK_BACK", look_back)
    at = ago(5)
    gather(10_000, at)
    pour(9_000, hands(), make.tank("A"), 5)
    gather(4_000, 4, make.mira())
    pour(4_000, hands(make.mira()), hands(), 4, ActKind.HAND_OVER)
    pour(5_000, hands(), make.tank("B"), 4)
    fresh = ago(1)
    gather(3_000, fresh, make.mira())
    pour(3_000, hands(make.mira()), make.tank("C"), 1)
    assert [oldest(make.tank(code)) for code in "ABC"] == [at, at, fresh]


def long_history(n):
    """n movements in and out of one tank that is never quite empty, copied in without the ledger's checks."""
    tank, bob, alice = make.tank(capacity_ml=None), hands(), make.alice()
    gather(10_000, 5)
    pour(10_000, bob, tank, 5)
    act = post(
        kind=ActKind.COLLECT,
        season=make.season(),
        author=alice,
        happened_at=ago(4),
        moves=[Move(volume_ml=n * 1_000, cause=Cause.OUT_OF_TREE, target=bob)],
    )
    Movement.objects.bulk_create(
        Movement(
            act=act,
            season=make.season(),
            happened_at=ago(3),
            from_vessel=bob,
            to_vessel=tank,
            volume_ml=1_000,
            cause=Cause.MOVED,
        )
        for _ in range(n)
    )
    return tank


@pytest.mark.parametrize("n", [20, 2_000])
def test_a_long_history_asks_no_more_than_a_short_one(n, django_assert_num_queries):
    tank = long_history(n)
    with django_assert_num_queries(6):
        assert oldest_in([tank])[tank.pk].at == pytest.approx(ago(5), abs=make.days(1) / 1000)


def test_many_tanks_ask_no_more_than_one(django_assert_max_num_queries):
    gather(100_000, 2)
    tanks = [make.tank(f"T{n}") for n in range(30)]
    for tank in tanks:
        pour(1_000, hands(), tank, 1)
    season = make.season()
    with django_assert_max_num_queries(8):
        states = tank_states(tanks, season)
    assert len({state.oldest_at for state in states.values()}) == 1
