"""Logging what was found at a tree: kept always, counted when the rules agree, doubled never."""

from __future__ import annotations

import uuid
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from sugarbush.gathering.actions import AskAgain, Visit, change_visit, log_visit, settle
from sugarbush.gathering.doubts import meant_ml
from sugarbush.gathering.models import Collection, CollectionState, Outcome
from sugarbush.parts.reasons import Refused
from sugarbush.sap.ledger import balance_ml, chain, hands_of, totals_by_cause
from sugarbush.sap.models import Act, Cause, Movement, Standing
from sugarbush.seasons.models import SeasonState
from tests import make

pytestmark = pytest.mark.django_db


def hands(person=None):
    return hands_of(person or make.bob(), make.season())


def sap(litres, **more):
    return Visit(outcome="sap", volume_ml=int(Decimal(str(litres)) * 1000), look="clear", **more)


def test_sap_from_a_tapped_tree_counts():
    entry = make.collection(litres="6.5", brix="2.1")
    assert entry.state == CollectionState.COUNTED
    assert balance_ml(hands()) == 6_500


@pytest.mark.parametrize("outcome", ["empty", "frozen", "no_access", "gone", "unsafe"])
def test_a_visit_without_sap_is_a_record_too(outcome):
    entry = make.collection(outcome=outcome, litres=0)
    assert entry.state == CollectionState.COUNTED
    assert not Movement.objects.exists()


def test_eight_litres_with_one_and_a_half_tipped_leave_six_and_a_half_in_hand():
    make.collection(litres=8, discarded_ml=1_500, discard_reason="cloudy")
    assert balance_ml(hands()) == 6_500
    totals = totals_by_cause(make.season())
    assert (totals[Cause.OUT_OF_TREE], totals[Cause.DISCARDED]) == (8_000, 1_500)
    assert Movement.objects.get(cause=Cause.DISCARDED).detail == "cloudy"


def test_rain_that_is_kept_is_a_source_of_its_own_and_holds_no_sugar():
    make.collection(litres=4, rain_ml=1_000)
    totals = totals_by_cause(make.season())
    assert (totals[Cause.OUT_OF_TREE], totals[Cause.RAIN_KEPT]) == (4_000, 1_000)
    assert Movement.objects.get(cause=Cause.RAIN_KEPT).sugar_brix == 0


@pytest.mark.parametrize(
    ("visit", "code"),
    [
        (sap(0), "volume"),
        (Visit(outcome="empty", volume_ml=1_000), "volume"),
        (sap(1, discarded_ml=1_001, discard_reason="ice"), "discard"),
        (sap(1, discarded_ml=500), "discard-reason"),
        (sap(1, sugar_brix=Decimal("12.01")), "brix"),
        (sap(1, sugar_brix=Decimal("-0.01")), "brix"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_kept(visit, code):
    tree = make.tapped_tree()
    with pytest.raises(Refused) as refused:
        log_visit(tree=tree, by=make.bob(), visit=visit)
    assert [r.code for r in refused.value.reasons] == [code]
    assert not Collection.objects.exists()


def test_eighty_litres_from_one_eight_litre_pail_is_asked_about_and_stands_with_a_note():
    tree = make.tapped_tree()
    with pytest.raises(AskAgain) as asked:
        log_visit(tree=tree, by=make.bob(), visit=sap(80))
    (question,) = asked.value.questions
    assert "10 pails" in question.sentence
    assert question.meant_ml == 8_000
    with pytest.raises(AskAgain):
        log_visit(tree=tree, by=make.bob(), visit=sap(80), confirmed=True)
    entry = log_visit(tree=tree, by=make.bob(), visit=sap(80, note="Drum under it since Sunday."), confirmed=True)
    assert entry.volume_ml == 80_000


def test_just_over_the_pails_mark_is_not_asked_about():
    tree = make.tapped_tree()
    assert log_visit(tree=tree, by=make.bob(), visit=sap("8.8")).volume_ml == 8_800
    with pytest.raises(AskAgain):
        log_visit(tree=tree, by=make.bob(), visit=sap("8.801"))


def test_gallons_typed_where_litres_were_meant_are_recognised():
    tree = make.tapped_tree()
    anna = make.person("Anna", units="us")
    with pytest.raises(AskAgain) as asked:
        log_visit(tree=tree, by=anna, visit=sap("24.605"))  # 6.5 typed as gallons
    assert asked.value.questions[0].meant_ml == pytest.approx(6_500, abs=2)  # 24.605 L is 6.4999 US gal, NIST SP 811


@pytest.mark.parametrize(("brix", "asks"), [("0.79", True), ("0.80", False), ("5.00", False), ("5.01", True)])
def test_sugar_outside_what_maples_give_is_asked_about(brix, asks):
    # 0.8 to 5 Brix: this project's own choice, trade-facts 9.3.
    tree = make.tapped_tree()
    if asks:
        with pytest.raises(AskAgain):
            log_visit(tree=tree, by=make.bob(), visit=sap(4, sugar_brix=Decimal(brix)))
    else:
        assert log_visit(tree=tree, by=make.bob(), visit=sap(4, sugar_brix=Decimal(brix))).state == "counted"


def test_the_same_entry_sent_twice_counts_once():
    tree, key, now = make.tapped_tree(), uuid.uuid4(), timezone.now()
    first = log_visit(tree=tree, by=make.bob(), visit=sap(5), entry_id=key, happened_at=now)
    again = log_visit(tree=tree, by=make.bob(), visit=sap(5), entry_id=key, happened_at=now)
    assert first == again
    assert balance_ml(hands()) == 5_000


def test_another_entry_under_the_same_name_is_refused_never_merged():
    tree, key, now = make.tapped_tree(), uuid.uuid4(), timezone.now()
    log_visit(tree=tree, by=make.bob(), visit=sap(5), entry_id=key, happened_at=now)
    with pytest.raises(Refused) as refused:
        log_visit(tree=tree, by=make.bob(), visit=sap(6), entry_id=key, happened_at=now)
    assert refused.value.reasons[0].code == "other-body"
    assert balance_ml(hands()) == 5_000


def test_a_tree_without_a_tap_keeps_the_entry_to_review_and_counts_nothing():
    entry = make.collection(make.given_tree(), litres=5)
    assert entry.state == CollectionState.REVIEW
    assert "no tap" in entry.review_reasons[0]
    assert balance_ml(hands()) == 5_000
    assert totals_by_cause(make.season(), standing=Standing.COUNTED)[Cause.OUT_OF_TREE] == 0


def test_after_a_permission_is_taken_back_entries_go_to_review_and_a_removal_goes_through():
    tree = make.tapped_tree()
    tree.permissions.update(state="revoked", ended_at=timezone.now() - make.days(1), end_reason="asked to")
    late = make.collection(tree, litres=5, happened_at=timezone.now() - make.days(2))
    assert late.state == CollectionState.COUNTED
    after = make.collection(tree, litres=5)
    assert after.state == CollectionState.REVIEW
    removal = make.collection(tree, outcome=Outcome.REMOVAL, litres=0)
    assert removal.state == CollectionState.COUNTED
    assert tree.taps.get().state == "pulled"


def test_a_stranger_and_another_group_log_nothing():
    tree = make.tapped_tree()
    for person in (make.charlie(), make.mira(), make.rhea()):
        with pytest.raises(PermissionDenied):
            log_visit(tree=tree, by=person, visit=sap(1))


def test_before_tapping_nothing_is_logged():
    tree = make.tapped_tree()
    make.season(state=SeasonState.OPEN)
    with pytest.raises(Refused):
        log_visit(tree=tree, by=make.bob(), visit=sap(1))


def test_own_entry_of_today_is_changed_without_a_reason_and_the_old_number_stays():
    entry = make.collection(litres=5)
    change_visit(entry=entry, by=make.bob(), visit=sap(6))
    assert balance_ml(hands()) == 6_000
    entry.refresh_from_db()
    assert entry.volume_ml == 6_000
    assert sorted(entry.history.values_list("volume_ml", flat=True)) == [5_000, 6_000]


def test_yesterdays_entry_needs_a_reason():
    entry = make.collection(litres=5)
    Collection.objects.filter(pk=entry.pk).update(recorded_at=timezone.now() - make.days(1))
    with pytest.raises(Refused) as refused:
        change_visit(entry=entry, by=make.bob(), visit=sap(6))
    assert refused.value.reasons[0].code == "reason"
    change_visit(entry=entry, by=make.bob(), visit=sap(6), reason="Read the mark wrongly.")
    assert balance_ml(hands()) == 6_000


def test_somebody_elses_entry_needs_a_reason_and_the_right():
    entry = make.collection(litres=5)
    with pytest.raises(Refused):
        change_visit(entry=entry, by=make.mira(), visit=sap(6), reason="mine")
    with pytest.raises(Refused):
        change_visit(entry=entry, by=make.lena(), visit=sap(6))
    change_visit(entry=entry, by=make.lena(), visit=sap(6), reason="Bob rang: six.")
    assert balance_ml(hands()) == 6_000


def test_an_entry_taken_back_leaves_no_litre():
    entry = make.collection(litres=5, discarded_ml=500, discard_reason="ice")
    change_visit(entry=entry, by=make.bob(), visit=None)
    entry.refresh_from_db()
    assert entry.state == CollectionState.VOID
    found = chain(make.season())
    assert found.closes
    assert (found.came_ml, found.sinks[Cause.DISCARDED], found.held["hands"]) == (0, 0, 0)


def test_two_people_changing_one_entry_the_second_is_told():
    entry = make.collection(litres=5)
    change_visit(entry=entry, by=make.bob(), visit=sap(6), edition=1)
    with pytest.raises(Refused) as refused:
        change_visit(entry=entry, by=make.lena(), visit=sap(7), reason="looked", edition=1)
    assert refused.value.reasons[0].code == "moved-on"


def test_settled_as_counting_it_counts():
    entry = make.collection(make.given_tree(), litres=5)
    settle(entry=entry, by=make.lena(), verdict="counts", note="The tap was drilled at noon, keyed late.")
    assert totals_by_cause(make.season(), standing=Standing.COUNTED)[Cause.OUT_OF_TREE] == 5_000


def test_settled_as_never_having_happened_it_is_reversed():
    entry = make.collection(make.given_tree(), litres=5)
    settle(entry=entry, by=make.lena(), verdict="never", note="Wrong tree scanned.")
    assert balance_ml(hands()) == 0
    assert chain(make.season()).came_ml == 0


def test_settled_as_not_ours_it_is_tipped_out_from_the_hands():
    entry = make.collection(make.given_tree(), litres=5)
    settle(entry=entry, by=make.lena(), verdict="not_ours", note="The owner had taken the permission back.")
    assert balance_ml(hands()) == 0
    found = chain(make.season())
    assert (found.came_ml, found.sinks[Cause.DISCARDED]) == (5_000, 5_000)
    assert totals_by_cause(make.season(), standing=Standing.COUNTED)[Cause.OUT_OF_TREE] == 0
    assert set(Act.objects.values_list("standing", flat=True)) == {Standing.NOT_OURS}


def test_nobody_settles_their_own_entry():
    entry = make.collection(make.given_tree(), by=make.lena(), litres=5)
    with pytest.raises(Refused) as refused:
        settle(entry=entry, by=make.lena(), verdict="counts", note="fine")
    assert refused.value.reasons[0].code == "own"


def test_a_tree_with_an_entry_to_review_needs_a_look():
    tree = make.given_tree()
    entry = make.collection(tree, litres=5)
    tree.refresh_from_db()
    assert tree.needs_look
    settle(entry=entry, by=make.lena(), verdict="never", note="Wrong tree scanned.")
    tree.refresh_from_db()
    assert not tree.needs_look


def test_an_entry_made_smaller_after_delivery_can_still_be_taken_back():
    # Its correction replaced the delivery's difference in the same act; taking back must not reverse that one twice.
    from sugarbush.boils.actions import Line, accept_delivery
    from sugarbush.sap.ledger import balance_ml, chain, hands_of

    entry = make.collection(make.tapped_tree(), litres=5)
    tank = make.tank()
    line = Line(volume_ml=5_000, tank=tank, container=make.container())
    accept_delivery(depot=make.depot(), person=make.bob(), keeper=make.dora(), lines=[line])
    for visit in (Visit(outcome="sap", volume_ml=3_000), None):
        entry = change_visit(entry=entry, by=make.bob(), visit=visit)
    assert entry.state == CollectionState.VOID
    assert (balance_ml(tank), balance_ml(hands_of(make.bob(), entry.season))) == (5_000, 0)
    assert chain(entry.season).closes


@pytest.mark.parametrize(
    ("gallons", "pail_gal", "meant"),
    [
        ("15", 5, "1.5"),  # a whole number lacks its point, though 15 L would fit the pail too
        ("45", 5, "4.5"),
        ("6.5", 2, "1.717"),  # a number with a point has the other unit: 6.5 L
        ("80", 2, None),  # neither 8 gal nor 80 L go into 2 gal
    ],
)
def test_of_two_slips_the_likelier_is_offered(gallons, pail_gal, meant):
    # 1 US gal = 231 cubic inches = 3.785411784 L, exact.
    per_gal = Decimal("3785.411784")
    found = meant_ml(round(Decimal(gallons) * per_gal), round(pail_gal * per_gal), "us")
    assert found == (None if meant is None else pytest.approx(float(Decimal(meant) * per_gal), abs=3))
