"""Handing out: ticked once, from the oldest lot, each jar with its taker; declined, given on, taken back."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied

from sugarbush.lots.jars import pool
from sugarbush.lots.models import JarIssue
from sugarbush.owners.models import ShareWish
from sugarbush.parts.reasons import Refused
from sugarbush.sap.ledger import totals_by_cause
from sugarbush.shares import handouts, runs
from sugarbush.shares.models import Share, ShareRun, Taken
from sugarbush.shares.terms import OwnerTerm, PartTerm, Terms
from tests import make
from tests.shares import season as small

pytestmark = pytest.mark.django_db


def two_lots() -> ShareRun:
    """Bob alone is due 16 jars: ten stand in the older lot, six in the newer."""
    small.publish(Terms(parts=(PartTerm(measure="sap"),)))
    make.collection(small.tapped())
    older, newer = small.jars((250, 10)), small.jars((250, 6))
    older.packed_at, newer.packed_at = small.ago(50), small.ago(10)
    older.save()
    newer.save()
    return small.final(runs.make_run(season=make.season(), by=small.sol()))


def test_jars_come_from_the_oldest_lot_first_and_each_names_who_has_it():
    run = two_lots()
    share = small.share_of(run, "Bob")
    handouts.hand_out(share=share, by=small.sol())
    older, newer = run.season.lots.order_by("packed_at")
    issued = JarIssue.objects.order_by("-count").values_list("lot", "size_ml", "count", "person", "purpose")
    assert list(issued) == [(older.pk, 250, 10, make.bob().pk, "share"), (newer.pk, 250, 6, make.bob().pk, "share")]
    assert totals_by_cause(run.season)["issued"] == 4_000


def test_the_lot_written_on_paper_is_the_one_in_the_books():
    small.publish(Terms(parts=(PartTerm(measure="sap", per_cent=Decimal(100)),), asides=(small.SCHOOL,)))
    make.collection(small.tapped())
    small.jars((250, 10))
    newer = small.jars((250, 6))
    run = small.final(runs.make_run(season=make.season(), by=small.sol()))
    handouts.hand_out(share=small.share_of(run, "Millbrook School"), by=small.sol(), lot_code=newer.code)
    assert JarIssue.objects.get().lot == newer


def test_ticking_twice_hands_out_once():
    run = two_lots()
    share = small.share_of(run, "Bob")
    for _ in range(2):
        done = handouts.hand_out(share=share, by=small.sol())
    assert (done.taken, JarIssue.objects.count(), pool(run.season).count) == (Taken.COLLECTED, 2, 0)


def test_a_tick_is_taken_back_the_same_day_and_the_jars_stand_in_their_lots_again():
    run = two_lots()
    share = small.share_of(run, "Bob")
    handouts.hand_out(share=share, by=small.sol())
    handouts.undo(share=share, by=small.sol())
    share.refresh_from_db()
    assert (share.taken, pool(run.season).count, totals_by_cause(run.season)["issued"]) == (Taken.WAITING, 16, 0)
    handouts.hand_out(share=share, by=small.sol())
    assert totals_by_cause(run.season)["issued"] == 4_000


def test_on_a_later_day_it_needs_a_reason():
    share = small.share_of(two_lots(), "Bob")
    handouts.hand_out(share=share, by=small.sol())
    Share.objects.filter(pk=share.pk).update(taken_at=small.ago(50))
    with pytest.raises(Refused, match="ticked on an earlier day"):
        handouts.undo(share=share, by=small.sol())
    assert handouts.undo(share=share, by=small.sol(), reason="Wrong Bob").taken == Taken.WAITING


def test_declined_jars_are_given_on_and_the_lot_names_who_got_them():
    run = two_lots()
    share = small.share_of(run, "Bob")
    assert handouts.to_give_on(run) == []
    handouts.decline(share=share, by=small.sol(), note="diabetic")
    with pytest.raises(Refused, match="declined already"):
        handouts.hand_out(share=share, by=small.sol())
    (done,) = handouts.give_on(shares=handouts.to_give_on(run), by=small.sol(), to_text="Quillhaven food bank")
    assert (done.taken, done.taken_note) == (Taken.DONATED, "diabetic; given to Quillhaven food bank")
    given = JarIssue.objects.filter(person=None, to_text="Quillhaven food bank", purpose="given on")
    assert given.count() == JarIssue.objects.count() > 0
    assert handouts.give_on(shares=[share], by=small.sol(), to_text="Somebody else") == []


def test_unclaimed_jars_go_on_the_list_only_when_their_day_is_over():
    run = two_lots()
    share = small.share_of(run, "Bob")
    with pytest.raises(Refused, match="can still come for the jars"):
        handouts.give_on(shares=[share], by=small.sol(), to_text="Food bank")
    ShareRun.objects.filter(pk=run.pk).update(collect_by=make.today() - make.days(1))
    run.refresh_from_db()
    assert handouts.to_give_on(run) == [share]


def test_owner_jars_go_to_the_owner_or_on_where_the_owner_wished_it():
    small.publish(Terms(parts=(PartTerm(measure="sap"),), owners=OwnerTerm(per="owner", jars=1, size_ml=250)))
    for name, wish in (("Fern", ShareWish.JAR), ("Gale", ShareWish.DONATE)):
        tree = make.given_tree(land="private")
        tree.permission_lines.all().delete()
        make.permission(tree, owner=make.owner(name, "person"), capacity="owner", share_wish=wish)
        make.tap(tree)
    make.collection(small.tapped())
    small.jars((250, 8))
    run = small.final(runs.make_run(season=make.season(), by=small.sol()))
    assert [share.name for share in handouts.to_give_on(run)] == ["Gale"]
    handouts.hand_out(share=small.share_of(run, "Fern"), by=small.sol())
    assert JarIssue.objects.get().owner == make.owner("Fern", "person")


def test_what_is_set_aside_is_handed_to_it_by_name():
    run = small.final()
    handouts.hand_out(share=small.share_of(run, "Millbrook School"), by=make.alice())
    issue = JarIssue.objects.get()
    assert (issue.to_text, issue.count, issue.person, issue.owner) == ("Millbrook School", 4, None, None)


def test_handing_out_waits_while_the_shares_are_worked_out_again_and_needs_the_right():
    run = small.final()
    share = small.share_of(run, "Bob")
    for person in (make.bob(), make.rhea(), make.kai()):
        with pytest.raises(PermissionDenied):
            handouts.hand_out(share=share, by=person)
    new = runs.make_run(season=run.season, by=small.sol(), reason="A late pail")
    with pytest.raises(Refused, match="being worked out again"):
        handouts.hand_out(share=share, by=small.sol())
    with pytest.raises(Refused, match="not final"):
        handouts.hand_out(share=small.share_of(new, "Bob"), by=small.sol())
    runs.drop(run=new, by=small.sol(), reason="The pail was another group’s")
    assert handouts.hand_out(share=share, by=small.sol()).taken == Taken.COLLECTED


def test_too_few_jars_are_said_and_nothing_is_half_handed_out():
    run = two_lots()
    from sugarbush.lots.jars import break_jars

    newer = run.season.lots.latest("packed_at")
    break_jars(lot=newer, size_ml=250, count=1, by=make.kai(), reason="fell")
    with pytest.raises(Refused, match="1 jar of 250\u00a0mL"):
        handouts.hand_out(share=small.share_of(run, "Bob"), by=small.sol())
    assert JarIssue.objects.count() == 0
