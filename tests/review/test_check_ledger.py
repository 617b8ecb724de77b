"""The recount trusts nothing: a row changed behind the programme's back is named."""

from __future__ import annotations

import uuid
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from sugarbush.boils.models import Batch, Delivery, DeliveryLine, DrawOff
from sugarbush.gathering.actions import change_visit
from sugarbush.gathering.models import Collection
from sugarbush.review.recount import findings
from sugarbush.sap.models import Act, Cause, Movement, Standing, Vessel
from tests import make
from tests.chain.planting import change, remove
from tests.review.small_season import SmallSeason


def check(**options) -> tuple[str, str]:
    """What the command says, and the sentence it ends with where something does not add up."""
    out = StringIO()
    try:
        call_command("check_ledger", stdout=out, **options)
    except CommandError as error:
        assert error.returncode == 1
        return out.getvalue(), str(error)
    return out.getvalue(), ""


def codes(small: SmallSeason) -> set[str]:
    return {found.code for found in findings(small.season)}


def test_a_sound_season_adds_up(small):
    out, end = check()
    assert "Season 2025 adds up to the millilitre:" in out
    assert end == ""


def test_a_season_that_is_not_there_is_said_so(small):
    assert check(season=1999) == ("", "There is no season 1999.")


def test_an_entry_that_was_changed_behind_the_ledger_is_named(small):
    entry = small.seen["0007", 8]
    Collection.objects.filter(pk=entry.pk).update(volume_ml=1_350)
    out, end = check(season=2025)
    assert (
        f"The entry at QH-0007, 2025-03-08 23:45, by Lena ({entry.pk}) says out of the tree 1,350 mL; "
        "the ledger has 1,250 mL." in out
    )
    assert end == "1 thing does not add up."


@pytest.mark.parametrize(("column", "words"), [("rain_ml", "rain kept"), ("discarded_ml", "tipped out")])
def test_rain_and_what_was_tipped_out_are_compared_too(small, column, words):
    entry = small.seen["0012", 15]
    Collection.objects.filter(pk=entry.pk).update(**{column: 299})
    assert f"QH-0012, 2025-03-15 15:00, by Bob ({entry.pk}) says {words} 299 mL" in check()[0]


def test_a_movement_changed_by_hand_is_found_from_both_sides(small):
    movement = Movement.objects.get(act__origin_uuid=small.seen["0009", 9].pk)
    change(Movement.objects.filter(pk=movement.pk), volume_ml=7_000)
    out, _end = check()
    assert "QH-0009" in out
    assert "the ledger has 7,000 mL" in out


def test_hands_that_gave_more_than_they_held_are_named(small):
    movement = Movement.objects.get(act__origin_uuid=small.seen["0005", 8].pk)
    change(Movement.objects.filter(pk=movement.pk), volume_ml=1)
    delivered = Movement.objects.filter(act__origin_uuid=small.bobs.pk).order_by("-seq")[0]
    assert f"hands of Bob stood at −10,999 mL after movement {delivered.seq}." in check()[0]


def test_an_entry_to_review_that_counts_in_the_ledger_is_named(small):
    entry = small.seen["0018", 9]
    change(Act.objects.filter(origin_uuid=entry.pk), standing=Standing.COUNTED)
    out, _end = check()
    assert f"({entry.pk}) is “to review”, but the ledger has it as “counts”." in out


def test_an_entry_under_another_name_is_named(small):
    change(Act.objects.filter(origin_uuid=small.seen["0001", 7].pk), person=small.mira)
    assert codes(small) == {"whose"}


def test_an_entry_whose_movements_are_gone_is_named(small):
    remove(Movement.objects.filter(act__origin_uuid=small.seen["0014", 15].pk))
    assert codes(small) == {"entry", "empty-act"}


def test_movements_of_an_entry_that_is_not_there_are_named(small):
    change(Act.objects.filter(origin_uuid=small.seen["0014", 15].pk), origin_uuid=uuid.uuid4())
    assert codes(small) == {"entry", "stray"}


def test_a_delivery_that_holds_other_than_its_containers_is_named(small):
    DeliveryLine.objects.filter(delivery=small.miras).update(volume_ml=18_300)
    assert check()[0].splitlines() == ["Delivery D2025-0002: its containers hold 18,300 mL; the ledger has 18,200 mL."]


def test_a_difference_that_is_not_the_ledgers_is_named(small):
    Delivery.objects.filter(pk=small.bobs.pk).update(difference_ml=-1_400)
    assert check()[0].splitlines() == ["Delivery D2025-0001: its difference is −1,400 mL; the ledger has −1,500 mL."]


def test_a_delivery_said_to_be_ahead_with_nothing_ahead_is_named(small):
    Delivery.objects.filter(pk=small.bobs.pk).update(state="ahead")
    assert codes(small) == {"ahead"}


def test_a_pan_that_is_done_and_not_empty_is_named(small):
    steam = Movement.objects.get(cause=Cause.EVAPORATED)
    change(Movement.objects.filter(pk=steam.pk), volume_ml=48_900)
    assert check()[0].splitlines() == ["2025-03-12, Mill Race yard, batch 1 is done, but its pan shows 50 mL."]


def test_a_batch_without_its_lot_is_named(small):
    Batch.objects.filter(pk=small.batch.pk).update(lot=None)
    DrawOff.objects.filter(batch=small.batch).delete()
    assert codes(small) == {"lot", "draw-off"}


def test_a_tank_fuller_than_it_can_be_is_named_unless_the_act_says_why(small):
    Vessel.objects.filter(pk=small.tank.pk).update(capacity_ml=35_000)
    out, _end = check()
    assert "A holds 35,000 mL and stood at 35,500 mL after movement" in out
    change(Act.objects.filter(origin_kind="delivery"), overfill_reason="The dip stick reads high.")
    assert check()[1] == ""


def test_a_taking_back_that_is_no_mirror_is_named(small):
    back = Movement.objects.get(reverses__isnull=False, act__tree=small.trees["0010"])
    change(Movement.objects.filter(pk=back.pk), volume_ml=5_100)
    out, _end = check()
    assert f"Movement {back.seq} (5,100 mL) should take back movement {back.reverses_id} (5,200 mL)" in out


def test_a_movement_on_another_day_than_its_act_is_named(small):
    movement = Movement.objects.filter(act__origin_uuid=small.seen["0019", 10].pk)
    change(movement, happened_at=small.seen["0019", 10].happened_at + make.days(1))
    assert codes(small) == {"other-act"}


def test_only_the_season_asked_for_is_counted(small):
    make.season(year=2024, state="closed")
    Collection.objects.filter(pk=small.seen["0007", 8].pk).update(volume_ml=1_350)
    out, end = check(season=2024)
    assert "Season 2024 adds up" in out
    assert end == ""


def test_an_entry_to_review_taken_back_the_same_day_leaves_nothing_anywhere(small):
    entry = small.visit("0018", small.otto, small.seen["0018", 10].happened_at, 600)
    assert entry.state == "review"
    change_visit(entry=entry, by=small.otto, visit=None)
    assert codes(small) == set()
