"""Each thing the recount looks for is found when it is put into the books by hand, and named."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from decimal import Decimal

import pytest
from django.db import connection
from django.urls import reverse
from django.utils import timezone

from sugarbush.boils.models import DrawOff
from sugarbush.lots.models import JarCount, JarIssue, Lot, Recall, RecallLot
from sugarbush.review import culprits
from sugarbush.review.recount import findings
from sugarbush.sap import append_only
from sugarbush.sap.models import Act, Movement, Vessel
from sugarbush.seasons.models import Season
from tests import make
from tests.chain.jar_season import JarSeason
from tests.chain.planting import change, remove, run
from tests.chain.test_from_tree_to_jar import in_as, text_of

pytestmark = pytest.mark.django_db


def codes(season: Season) -> set[str]:
    return {found.code for found in findings(season)}


def sentences(season: Season) -> str:
    return "\n".join(found.sentence for found in findings(season))


def moved(**names: object) -> Movement:
    return Movement.objects.filter(**names).order_by("seq")[0]


# Movements ------------------------------------------------------------------------------


def test_a_vessel_below_zero_is_named_with_its_movement(jars):
    into = moved(to_vessel=jars.b, cause="moved")
    change(Movement.objects.filter(pk=into.pk), volume_ml=300)
    tipped = moved(from_vessel=jars.b, cause="discarded")
    found = next(one for one in findings(jars.season) if one.code == "below-zero")
    assert (found.seq, found.vessel) == (tipped.seq, jars.b.pk)
    assert found.sentence == f"B stood at −100 mL after movement {tipped.seq}."


def test_a_movement_from_another_seasons_vessel_is_named(jars):
    other = Vessel.objects.create(kind="tank", season=make.season(year=2001), code="old")
    row = moved(to_vessel=jars.b, cause="measured_over")
    change(Movement.objects.filter(pk=row.pk), to_vessel=other)
    assert f"Movement {row.seq} (100 mL) goes from or to a vessel of another season." in sentences(jars.season)


@pytest.mark.sqlite_only
def test_a_movement_whose_ends_do_not_fit_is_named_and_the_chain_does_not_close(jars):
    """The database's own check forbids it; here it is told to look away."""
    row = moved(cause="filter", detail="filter")
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA ignore_check_constraints = ON")
    try:
        run(f"UPDATE sap_movement SET cause = 'rain_kept' WHERE seq = {row.seq}")
    finally:
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA ignore_check_constraints = OFF")
    found = {one.code: one for one in findings(jars.season)}
    assert found["ends"].seq == found["chain"].seq == row.seq
    assert "60 mL came in and is not accounted for" in found["chain"].sentence


def test_a_trigger_that_is_gone_is_named(jars):
    with connection.cursor() as cursor:
        table = "" if connection.vendor == "sqlite" else " ON sap_movement"
        if connection.vendor == "postgresql":
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        cursor.execute(f"DROP TRIGGER movement_stays{table}")
    assert codes(jars.season) == {"not-held"}
    assert append_only.missing() == ["movement_stays"]


def test_what_came_after_closing_in_silence_is_named(jars):
    last = Movement.objects.order_by("-seq")[0]
    before = last.act.recorded_at - dt.timedelta(milliseconds=1)
    Season.objects.filter(pk=jars.season.pk).update(state="closed", closed_at=before)
    season = Season.objects.get(pk=jars.season.pk)
    assert f"Movement {last.seq} came after the season had closed" in sentences(season)


# Deliveries and pans ----------------------------------------------------------------------


def test_a_hand_over_that_is_none_is_named(jars):
    change(Act.objects.filter(pk=jars.over.pk), person=jars.dora)
    assert codes(jars.season) == {"hand-over"}


def test_a_draw_off_other_than_its_movement_is_named(jars):
    DrawOff.objects.filter(pk=jars.drawn.pk).update(volume_ml=950)
    assert "a draw-off says 950 mL" in sentences(jars.season)
    assert "the ledger has 900 mL." in sentences(jars.season)


def test_syrup_drawn_off_that_no_draw_off_tells_of_is_named(jars):
    DrawOff.objects.filter(pk=jars.drawn.pk).delete()
    assert codes(jars.season) == {"draw-off"}


def test_a_loss_without_a_reason_is_named(jars):
    act = moved(cause="lost", detail="boil-over").act
    change(Movement.objects.filter(act=act), detail="")
    change(Act.objects.filter(pk=act.pk), reason="")
    assert codes(jars.season) == {"lost"}


def test_sap_past_its_time_in_a_pan_with_nobodys_word_is_named(jars):
    filled = moved(act__kind="boil", from_vessel=jars.a)
    late = timezone.now() + dt.timedelta(days=9)
    change(Movement.objects.filter(act=filled.act), happened_at=late)
    change(Act.objects.filter(pk=filled.act_id), happened_at=late)
    assert f"Movement {filled.seq} put 60,000 mL of A in a pan past its time" in sentences(jars.season)
    change(Act.objects.filter(pk=filled.act_id), approver=jars.alice, reason="Clear and sweet.")
    assert codes(jars.season) == set()


# Lots and jars ------------------------------------------------------------------------------

LOTS: dict[str, tuple[Callable[[JarSeason], object], set[str]]] = {
    "a jar too many filled": (lambda s: JarCount.objects.filter(lot=s.lot, size_ml=250).update(filled=6), {"jars"}),
    "more out than filled": (
        lambda s: JarCount.objects.filter(lot=s.lot, size_ml=250).update(filled=3, broken=3),
        {"jars"},
    ),
    "a packed vessel that is open": (
        lambda s: Vessel.objects.filter(pk=s.lot.vessel_id).update(shut_at=None),
        {"shut"},
    ),
    "all out, with jars here": (lambda s: Lot.objects.filter(pk=s.lot.pk).update(state="issued"), {"lot-state"}),
    "destroyed, with jars here": (lambda s: Lot.objects.filter(pk=s.lot.pk).update(state="destroyed"), {"lot-state"}),
    "a hand-out of more jars": (lambda s: JarIssue.objects.filter(pk=s.pantry.pk).update(count=2), {"issue", "jars"}),
    "a hand-out of another lot": (
        lambda s: JarIssue.objects.filter(pk=s.pantry.pk).update(lot=s.heel),
        {"issue", "jars", "lot-state"},
    ),
    "more back than went": (
        lambda s: JarIssue.objects.filter(returns=s.issue).update(count=4),
        {"issue", "jars"},
    ),
    "jars back of another size": (
        lambda s: JarIssue.objects.filter(returns=s.issue).update(size_ml=100),
        {"came-back", "jars"},
    ),
    "syrup issued without jars": (
        lambda s: change(Act.objects.filter(origin_kind="jars", origin_uuid=s.pantry.pk), origin_kind="tank"),
        {"issue"},
    ),
}


@pytest.mark.parametrize("fault", LOTS)
def test_faults_of_lots_are_named(jars, fault):
    plant, expected = LOTS[fault]
    plant(jars)
    assert codes(jars.season) == expected


def test_what_went_into_a_packed_lot_is_named(jars):
    row = moved(from_vessel=jars.lot.vessel, cause="destroyed")
    change(Movement.objects.filter(pk=row.pk), from_vessel=None, to_vessel=jars.lot.vessel, cause="measured_over")
    assert f"Movement {row.seq} went into" in sentences(jars.season)
    assert {"shut", "jars"} <= codes(jars.season)


def test_jars_of_an_open_recall_that_went_out_or_may_are_named(jars):
    recall = Recall.objects.create(
        number=1,
        season=jars.season,
        reason="sour",
        opened_by=jars.kai,
        opened_at=jars.pantry.recorded_at - make.days(1),
    )
    RecallLot.objects.create(recall=recall, lot=jars.lot, part=Decimal("0.4"))
    found = sentences(jars.season)
    assert "1 jars of lot" in found
    assert "but lot" in found
    Recall.objects.filter(pk=recall.pk).update(opened_at=timezone.now())
    Lot.objects.filter(pk=jars.lot.pk).update(state="recalled")
    assert codes(jars.season) == set()
    RecallLot.objects.filter(recall=recall).update(part=Decimal("1.2"))
    Recall.objects.filter(pk=recall.pk).update(closed_at=timezone.now(), closed_by=jars.kai)
    assert "cannot make up 1.2" in sentences(jars.season)
    assert "nobody said how it ended" in sentences(jars.season)


# Where to look --------------------------------------------------------------------------------


def test_the_season_page_names_the_movement_and_leads_to_it(jars):
    entry = jars.entries[0]
    row = moved(act__origin_uuid=entry.pk)
    type(entry).objects.filter(pk=entry.pk).update(volume_ml=30_001)
    client = in_as(jars.rhea)
    page = client.get(reverse("season-review")).content.decode()
    assert "The entries and the ledger differ." in page
    assert "says out of the tree 30,001 mL; the ledger has 30,000 mL." in text_of(page)
    assert row.volume_ml == 30_000


def test_a_finding_leads_to_its_movement_on_the_page_it_is_on(jars):
    for _ in range(60):
        make.collection(jars.first, by=jars.bob, litres="1")
    change(Movement.objects.filter(pk=moved(to_vessel=jars.b, cause="moved").pk), volume_ml=300)
    below = next(one for one in culprits.first(jars.season, 50) if one.code == "below-zero")
    answer = in_as(jars.rhea).get(below.link.partition("#")[0])
    assert [line.move.seq for line in answer.context["lines"] if line.marked] == [
        moved(from_vessel=jars.b, cause="discarded").seq
    ]
    last = Movement.objects.order_by("-seq")[0].seq
    answer = in_as(jars.rhea).get(reverse("season-ledger"), {"at": last})
    assert answer.context["page"].number == answer.context["page"].paginator.num_pages > 1
    assert answer.context["lines"][-1].marked


def test_closing_is_refused_with_the_movement_to_look_at(jars):
    change(Movement.objects.filter(pk=moved(to_vessel=jars.b, cause="moved").pk), volume_ml=300)
    jars.season.state = "ending"
    jars.season.save()
    page = in_as(jars.alice).post(reverse("season-close"), {"year": jars.season.year}).content.decode()
    assert "B stood at" in page
    assert f"at={moved(from_vessel=jars.b, cause='discarded').seq}" in page


def test_an_act_whose_movements_are_gone_is_named(jars):
    remove(Movement.objects.filter(act=jars.over))
    assert {"empty-act", "below-zero"} <= codes(jars.season)
