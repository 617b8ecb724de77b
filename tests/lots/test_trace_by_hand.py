"""A small season from tree to jar, every figure worked out by hand.

Monday: Bob collects 6,000 mL from tree 1 and 4,000 mL from tree 2, and delivers all 10,000 into tank A.
Tuesday: Mira collects 5,000 mL from tree 3 and delivers all of it into tank A, which then holds 15,000:
         tree 1 has 6/15, tree 2 has 4/15, tree 3 has 5/15 of it.
Batch 1 takes 12,000 of tank A: 4,800 of tree 1, 3,200 of tree 2, 4,000 of tree 3. Left in A: 1,200, 800, 1,000.
         300 mL of syrup are drawn off into lot 1; the rest is driven off. Shares of lot 1: 40, 26 2/3, 33 1/3 per cent.
Wednesday: Bob collects 1,000 mL from tree 1, into tank A: 4,000 there, of them 2,200 of tree 1.
Batch 2 takes all 4,000; 100 mL of syrup into lot 2. Shares: tree 1 55, tree 2 20, tree 3 25 per cent.
Jars: lot 1 fills one of 250 mL (50 mL tasted), for Bob. Lot 2 fills nothing yet.
"""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from django.utils import timezone

from sugarbush.boils.models import Batch, BoilDay, Delivery
from sugarbush.gathering.models import Collection
from sugarbush.lots import jars, packing, second_look, tracing
from sugarbush.lots.models import JarIssue, Lot
from sugarbush.sap.ledger import Move, hands_of, post
from sugarbush.sap.models import ActKind, Cause, Vessel, VesselKind
from sugarbush.trees.models import Tree
from tests import make
from tests.lots.syrup import counted

pytestmark = pytest.mark.django_db


@dataclass
class Small:
    trees: list[Tree]
    entries: list[Collection]
    deliveries: list[Delivery]
    tank: Vessel
    batches: list[Batch]
    lot: Lot
    second: Vessel
    issue: JarIssue


def deliver(carrier, tank: Vessel, ml: int, number: int) -> Delivery:
    season = make.season()
    found = Delivery.objects.create(
        number=number,
        season=season,
        depot=make.depot(),
        person=carrier,
        keeper=make.dora(),
        happened_at=timezone.now(),
    )
    post(
        kind=ActKind.DELIVER,
        season=season,
        author=make.dora(),
        happened_at=timezone.now(),
        moves=[Move(volume_ml=ml, cause=Cause.MOVED, source=hands_of(carrier, season), target=tank)],
        origin_kind="delivery",
        origin_uuid=found.pk,
    )
    return found


def boil(day: BoilDay, number: int, tank: Vessel, ml: int, syrup_ml: int) -> tuple[Batch, Vessel]:
    season, kai = make.season(), make.kai()
    pan = Vessel.objects.create(kind=VesselKind.PAN, season=season, code=f"pan {number}")
    lot = Vessel.objects.create(kind=VesselKind.LOT, season=season, code=f"{season.year % 100}-{number:03d}")
    batch = Batch.objects.create(boil_day=day, number=number, pan=pan, lot=lot, opened_by=kai)
    now = timezone.now()
    put_in = [Move(volume_ml=ml, cause=Cause.MOVED, source=tank, target=pan)]
    drawn = [
        Move(volume_ml=syrup_ml, cause=Cause.MOVED, source=pan, target=lot),
        Move(volume_ml=ml - syrup_ml, cause=Cause.EVAPORATED, source=pan),
    ]
    post(kind=ActKind.BOIL, season=season, author=kai, happened_at=now, moves=put_in)
    post(kind=ActKind.DRAW_OFF, season=season, author=kai, happened_at=now, moves=drawn)
    return batch, lot


@pytest.fixture
def small() -> Small:
    bob, mira, tank = make.bob(), make.mira(), make.tank("A")
    trees = [make.tapped_tree(), make.tapped_tree(), make.tapped_tree(group=make.group("Mill Race"))]
    entries = [make.collection(trees[0], litres="6"), make.collection(trees[1], litres="4")]
    deliveries = [deliver(bob, tank, 10_000, 1)]
    entries.append(make.collection(trees[2], by=mira, litres="5"))
    deliveries.append(deliver(mira, tank, 5_000, 2))
    day = BoilDay.objects.create(season=make.season(), day=make.today(), site="Mill Race yard", lead=make.kai())
    one, lot = boil(day, 1, tank, 12_000, 300)
    entries.append(make.collection(trees[0], litres="1", confirmed=True, note="a second look"))
    deliveries.append(deliver(bob, tank, 1_000, 3))
    two, second = boil(day, 2, tank, 4_000, 100)
    packed = packing.pack(
        vessels=[lot], by=make.kai(), packing=counted((250, 1), heel_ml=50, heel_to=packing.HEEL_TASTED)
    )
    second_look.release(lot=packed, by=make.alice())
    issue = jars.issue_jars(lot=packed, size_ml=250, count=1, by=make.alice(), person=bob)
    return Small(trees, entries, deliveries, tank, [one, two], packed, second, issue)


def test_from_the_jar_back_to_trees_days_and_permissions(small):
    traced = tracing.back_from(small.lot, make.alice())
    rows = tracing.entries(traced, traced.parts)
    assert [row.act.tree for row in rows] == [small.trees[0], small.trees[2], small.trees[1]]
    assert [row.share for row in rows] == [pytest.approx(x) for x in (4_800 / 12_000, 4_000 / 12_000, 3_200 / 12_000)]
    assert [row.ml for row in rows] == [pytest.approx(x) for x in (120, 100, 80)]
    assert [row.act.origin_uuid for row in rows] == [small.entries[n].pk for n in (0, 2, 1)]
    first = rows[0]
    assert [step.label for step in first.way] == [
        str(small.deliveries[0]),
        "tank A",
        tracing.batch_label(small.batches[0]),
    ]
    assert first.permissions == [small.trees[0].permissions.get()]
    assert first.pct == "40.0\u00a0%"
    assert traced.unknown_share == 0


def test_by_tree_delivery_tank_and_batch(small):
    traced = tracing.back_from(small.lot, make.alice(), by_tree=True)
    trees = tracing.by_tree(traced)
    tracing.name_trees(trees)
    assert [(row.label, round(row.ml)) for row in trees] == [
        (small.trees[0].code, 120),
        (small.trees[2].code, 100),
        (small.trees[1].code, 80),
    ]
    deliveries = tracing.by_delivery(traced)
    assert [(row.key, round(row.ml)) for row in deliveries] == [
        (small.deliveries[0].pk, 200),
        (small.deliveries[1].pk, 100),
    ]
    assert [round(row.share, 9) for row in tracing.by_vessel(traced, VesselKind.TANK)] == [1]
    assert [row.key for row in tracing.by_vessel(traced, VesselKind.PAN)] == [small.batches[0].pk]


def test_from_one_collection_on_to_every_lot_jar_and_holder(small):
    found = tracing.forward(tracing.from_collection(small.entries[0]), make.alice())
    (lot,) = found.lots
    assert (lot.lot, round(lot.share, 9)) == (small.lot, 0.4)
    assert [issue.pk for issue in found.lots[0].holders] == [small.issue.pk]
    assert found.lots[0].out == {250: 1}
    # Its 1,200 mL left in tank A are 1,200 of the 4,000 of batch 2: 30 per cent of the second lot.
    assert found.forth.lots[small.second.pk].share == pytest.approx(0.30)
    assert [(vessel, round(share, 9)) for vessel, share in found.unpacked] == [(small.second, 0.3)]


def test_from_a_tree_a_delivery_a_tank_and_a_batch(small):
    alice, season = make.alice(), make.season()

    def shares(begin):
        lots = tracing.forward(begin, alice).forth.lots
        return [round(lots[pk].share, 9) if pk in lots else 0 for pk in (small.lot.vessel_id, small.second.pk)]

    assert shares(tracing.from_tree(small.trees[0], season)) == [0.4, 0.55]
    assert shares(tracing.from_delivery(small.deliveries[1])) == [round(1 / 3, 9), 0.25]
    assert shares(tracing.from_vessel(small.tank)) == [1, 1]
    assert shares(tracing.from_batch(small.batches[1])) == [0, 1]


def test_a_lead_sees_the_own_groups_entries_and_the_rest_as_one_sum(small):
    traced = tracing.back_from(small.lot, make.lena())
    assert [row.act.tree for row in tracing.entries(traced, traced.parts)] == [small.trees[0], small.trees[1]]
    assert traced.hidden_share == pytest.approx(1 / 3)


def test_search_words(small):
    season = make.season()
    assert tracing.find_by_words(small.lot.code, season) == {"lot": str(small.lot.pk)}
    assert tracing.find_by_words(small.trees[0].code.lower(), season) == {"tree": small.trees[0].code}
    for words in (str(small.deliveries[1]), "D2", "2"):
        assert tracing.find_by_words(words, season) == {"delivery": str(small.deliveries[1].pk)}
    for words in ("", "nothing", "D99999", "²", "9" * 50):
        assert tracing.find_by_words(words, season) == {}
