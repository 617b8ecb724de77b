"""A season shared out: every figure by hand, sums exact, the same inputs give the same shares."""

from __future__ import annotations

import json
from decimal import Decimal
from random import Random

import pytest
from django.core.exceptions import PermissionDenied
from django.db import connection, transaction
from django.db.utils import DatabaseError

from sugarbush.gathering.actions import change_visit
from sugarbush.lots.jars import break_jars
from sugarbush.owners.models import ShareWish
from sugarbush.parts.reasons import Refused
from sugarbush.shares import carried, figures, runs, working
from sugarbush.shares.models import RunState, Share, ShareRun, Taken
from sugarbush.shares.terms import AsideTerm, OwnerTerm, PartTerm, Terms
from tests import make
from tests.shares import season as small

pytestmark = pytest.mark.django_db


def by_name(run):
    return {share.name: share for share in run.shares.all()}


def test_a_season_worked_out_by_hand_comes_out_to_the_millilitre_and_the_jar():
    run = runs.make_run(season=small.ready(), by=small.sol())
    got = by_name(run)
    assert run.pool_ml == 21_000
    assert {name: (got[name].entitled_ml, got[name].jars) for name in ("Bob", "Mira", "Lena", "Millbrook School")} == {
        "Bob": (9_510, {"250": 38}),
        "Mira": (8_300, {"250": 33}),
        "Lena": (2_190, {"250": 9}),
        "Millbrook School": (1_000, {"250": 4}),
    }
    assert sum(share.entitled_ml for share in got.values()) == 21_000
    assert sum(share.count for share in got.values()) == 84
    assert (got["Bob"].working["sap_ml"], got["Mira"].working["sap_ml"], got["Lena"].working["sap_ml"]) == (
        7_500,
        8_000,
        2_000,
    )
    # The order of the remainders: Mira's .71 takes the millilitre left, Lena's 190 mL the jar left.
    (part,) = got["Mira"].working["parts"]
    assert (part["place"], part["by_remainder"], part["quota"], part["weight"]) == (1, True, "8299.712", "14.4")
    assert (got["Lena"].working["jar_place"], got["Lena"].working["jar_by_remainder"]) == (1, True)


def test_where_each_weight_of_sugar_came_from_is_kept_entry_by_entry():
    entries = small.gather()
    found, programme = carried.weighed(make.season())
    kept = {
        row.entry: (row.ml, row.brix_hundredths, carried.SOURCES[row.source]) for rows in found.values() for row in rows
    }
    assert kept == {
        entries["own"].pk.hex: (4_500, 200, "entry"),
        entries["delivered"].pk.hex: (3_000, 250, "delivery"),
        entries["read"].pk.hex: (3_000, 180, "entry"),
        entries["tree"].pk.hex: (5_000, 180, "tree"),
        entries["programme"].pk.hex: (2_000, 190, "programme"),
    }
    assert programme == Decimal("1.90")


def test_a_frozen_list_of_entries_adds_up_to_the_litres_and_the_sugar_of_its_share():
    run = runs.make_run(season=small.ready(), by=small.sol())
    for share in run.shares.filter(party="person"):
        rows = share.working["entries"]
        assert sum(ml for _pk, ml, _brix, _source in rows) == share.working["sap_ml"]
        sugar = sum(Decimal(ml) * brix / 100_000 for _pk, ml, brix, _source in rows)
        assert sugar == Decimal(share.working["sugar"])


def test_the_same_inputs_give_the_same_shares_in_whatever_order_they_stand():
    run = runs.make_run(season=small.ready(), by=small.sol())
    first = working.work_out(run.inputs)
    chance = Random(5)
    mixed = json.loads(json.dumps(run.inputs))
    chance.shuffle(mixed["people"])
    mixed["lots"] = dict(reversed(mixed["lots"].items()))
    assert working.work_out(mixed) == first
    assert figures.digest(run.inputs) == run.inputs_hash
    assert runs.differs(run) == []


def test_a_figure_changed_behind_the_books_back_is_seen():
    run = runs.make_run(season=small.ready(), by=small.sol())
    Share.objects.filter(run=run, name="Bob").update(entitled_ml=9_511)
    assert runs.differs(run) == ["Bob comes out otherwise."]


def test_rain_that_was_kept_weighs_nothing():
    make.season()
    make.collection(small.tapped(), litres="6.0", rain_ml=2_000, brix="2.00")
    make.collection(small.tapped(), litres="3.0", rain_ml=1_000, discarded_ml=2_000, discard_reason="rain")
    found, _programme = carried.weighed(make.season())
    (rows,) = found.values()
    assert sorted(row.ml for row in rows) == [1_500, 6_000]


def test_sap_handed_over_stays_with_whoever_collected_it():
    # Bob hands his 6 L to Lena, who holds 2 L; half of her 8 L is turned away: a half of each one's counts.
    from sugarbush.sap.ledger import Move, hands_of, post
    from sugarbush.sap.models import ActKind, Cause

    season = make.season()
    make.collection(small.tapped(), by=make.bob(), litres="6.0", happened_at=small.ago(9))
    make.collection(small.tapped(), by=make.lena(), litres="2.0", happened_at=small.ago(8))
    post(
        kind=ActKind.HAND_OVER,
        season=season,
        author=make.dora(),
        happened_at=small.ago(7),
        moves=[
            Move(
                volume_ml=6_000,
                cause=Cause.MOVED,
                source=hands_of(make.bob(), season),
                target=hands_of(make.lena(), season),
            )
        ],
    )
    small.accept_delivery(
        depot=make.depot(),
        person=make.lena(),
        keeper=make.dora(),
        lines=[
            small.Line(volume_ml=4_000, tank=make.tank(), container=make.container()),
            small.Line(volume_ml=4_000, reject_reason="cloudy", container=make.container("P-09")),
        ],
        happened_at=small.ago(6),
    )
    found, _programme = carried.weighed(season)
    assert {pk: [row.ml for row in rows] for pk, rows in found.items()} == {
        make.bob().pk: [3_000],
        make.lena().pk: [1_000],
    }


def test_an_entry_to_review_or_taken_back_weighs_nothing():
    season = make.season()
    entry = make.collection(small.tapped(), litres="6.0")
    make.collection(make.given_tree(), litres="5.0")  # no tap was in: to review
    change_visit(entry=entry, by=make.bob(), visit=None)
    assert carried.weighed(season)[0] == {}


def test_hours_at_the_pan_count_once_where_two_shifts_overlap():
    from sugarbush.boils.models import BoilDay, BoilState, Shift

    season = make.season()
    kai = make.kai()
    for state, hours in ((BoilState.OUT, 5), (BoilState.CALLED_OFF, 30)):
        day = BoilDay.objects.create(season=season, day=make.today(), site="Yard", lead=kai, state=state)
        for begins, ends in ((hours, hours - 2), (hours - 1, hours - 3)):
            shift = Shift.objects.create(boil_day=day, begins=small.ago(begins), ends=small.ago(ends))
            shift.people.add(make.bob())
    later = Shift.objects.create(boil_day=day, begins=small.ago(1), ends=small.ago(-1))
    later.people.add(make.bob())
    assert figures.minutes_worked(season) == {make.bob().pk: 180}


def test_owners_get_by_their_taps_what_they_wished_for_and_who_wished_nothing_gets_nothing():
    for name, wish, trees in (("Fern", ShareWish.JAR, 2), ("Gale", ShareWish.DONATE, 1), ("Hale", ShareWish.NONE, 3)):
        for _ in range(trees):
            tree = make.given_tree(land="private")
            tree.permission_lines.all().delete()
            make.permission(tree, owner=make.owner(name, "person"), capacity="owner", share_wish=wish)
            make.tap(tree)
    rows = [(row["name"], row["taps"], row["trees"], row["wish"]) for row in figures.owners_of(make.season())]
    assert rows == [("Fern", 2, 2, "jar"), ("Gale", 1, 1, "donate")]
    small.publish(
        Terms(
            parts=(PartTerm(measure="sap", per_cent=Decimal(90)), PartTerm(measure="taps", per_cent=Decimal(10))),
            owners=OwnerTerm(per="tree", jars=1, size_ml=250),
        )
    )
    make.collection(small.tapped())
    small.jars((250, 63))
    got = by_name(runs.make_run(season=make.season(), by=small.sol()))
    # 63 jars, 3 fixed; of 60 six go to owners by taps: 4 and 2.
    assert {name: share.count for name, share in got.items() if share.count} == {"Bob": 54, "Fern": 6, "Gale": 3}


def test_an_owner_who_is_a_member_too_has_a_share_as_each():
    tree = make.given_tree(land="private")
    tree.permission_lines.all().delete()
    make.permission(tree, owner=make.owner("Bob", "person"), capacity="owner", share_wish=ShareWish.JAR)
    make.tap(tree)
    small.publish(Terms(parts=(PartTerm(measure="sap"),), owners=OwnerTerm(per="owner", jars=2, size_ml=250)))
    make.collection(small.tapped())
    small.jars((250, 10))
    run = runs.make_run(season=make.season(), by=small.sol())
    assert {(share.party, share.count) for share in run.shares.filter(name="Bob")} == {("person", 8), ("owner", 2)}


def test_first_jars_that_do_not_fit_are_refused_with_the_most_that_does():
    season = small.ready(Terms(parts=(PartTerm(measure="sugar", first_jars=30, first_size_ml=250),)))
    with pytest.raises(
        Refused, match=r"First jars for 3 people take 90 jars of 250.mL; there are 84 jars.*At most 28 each fit"
    ):
        runs.make_run(season=season, by=small.sol())


def test_more_set_aside_than_there_is_is_refused():
    aside = AsideTerm(kind="food_bank", name="Food bank", volume_ml=22_000)
    season = small.ready(Terms(parts=(PartTerm(measure="sugar"),), asides=(aside,)))
    with pytest.raises(Refused, match=r"Set-asides and owners’ jars take 22.00.L; all jars together hold 21.00.L"):
        runs.make_run(season=season, by=small.sol())


def test_no_collection_at_all_is_said_plainly():
    small.publish()
    small.jars((250, 84))
    with pytest.raises(Refused, match=r"Nobody has brought anything that this rule weighs, so 20.00.L has no taker"):
        runs.make_run(season=make.season(), by=small.sol())


def test_no_jar_and_no_rule_are_said_plainly():
    with pytest.raises(Refused, match="No share rule is published"):
        runs.make_run(season=make.season(), by=small.sol())
    small.publish()
    with pytest.raises(Refused, match="No jar is free to share out"):
        runs.make_run(season=make.season(), by=small.sol())


def test_one_person_alone_gets_all_that_is_left():
    small.publish()
    make.collection(small.tapped())
    small.jars((500, 3), (250, 10))
    got = by_name(runs.make_run(season=make.season(), by=small.sol()))
    assert (got["Bob"].jars, got["Bob"].over_ml) == ({"500": 3, "250": 6}, 0)


def test_somebody_who_left_keeps_their_share():
    season = small.ready()
    bob = make.bob()
    bob.is_active = False
    bob.save()
    bob.memberships.all().delete()
    assert by_name(runs.make_run(season=season, by=small.sol()))["Bob"].count == 38


def test_ten_thousand_people_are_worked_out_exactly():
    people = [
        {
            "id": n, "name": f"Person {n}", "sap_ml": 1_000 + n * 37 % 90_000,
            "sugar": str(Decimal(n * 91 % 3_000) / 10),
            "min": 0, "took_part": True, "member": True, "n": 1, "entries": "", "read_ml": {},
        }
        for n in range(10_000)
    ]  # fmt: skip
    terms = Terms(parts=(PartTerm(measure="sugar", first_jars=1, first_size_ml=250),), asides=(small.SCHOOL,)).kept()
    inputs = {
        "rule": {"version": 1, "terms": terms},
        "lots": {"A": {"500": 9_000, "250": 30_000}},
        "people": people,
        "owners": [],
    }
    out = working.work_out(inputs)
    assert sum(one.entitled_ml for one in out.outcomes) == 12_000_000
    assert sum(one.jars.get(250, 0) for one in out.outcomes) == 30_000
    assert sum(one.jars.get(500, 0) for one in out.outcomes) == 9_000
    weighing = {row["id"] for row in people if row["sugar"] != "0"}
    assert all(one.jars.get(250) for one in out.outcomes if one.party == "person" and int(one.key[7:]) in weighing)


def test_a_volunteer_does_not_work_out_shares_and_a_reviewer_only_looks():
    season = small.ready()
    for person in (make.bob(), make.rhea(), make.charlie()):
        with pytest.raises(PermissionDenied):
            runs.make_run(season=season, by=person)


def test_two_are_not_worked_out_at_once_and_a_later_one_says_why():
    season = small.ready()
    run = runs.make_run(season=season, by=small.sol())
    with pytest.raises(Refused, match="Working-out 1 is not finished"):
        runs.make_run(season=season, by=small.sol(), reason="again")
    with pytest.raises(Refused, match="needs a reason"):
        runs.drop(run=run, by=small.sol(), reason=" ")
    runs.drop(run=run, by=small.sol(), reason="A late entry came in")
    with pytest.raises(Refused, match="Write why they are worked out again"):
        runs.make_run(season=season, by=small.sol())
    assert runs.make_run(season=season, by=small.sol(), reason="A late entry came in").number == 2


def test_a_final_working_out_is_never_changed():
    run = small.final()
    run.pool_ml += 1
    with pytest.raises(TypeError):
        run.save()
    run.refresh_from_db()
    run.state = RunState.DRAFT
    with pytest.raises(TypeError):
        run.save()
    with pytest.raises(TypeError):
        run.delete()
    share = small.share_of(run, "Bob")
    share.jars = {"250": 99}
    with pytest.raises(TypeError):
        share.save()
    rule = run.rule
    rule.terms = {}
    with pytest.raises(TypeError):
        rule.save()


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE shares_sharerun SET pool_ml = 1",
        "UPDATE shares_sharerun SET state = 'draft'",
        "UPDATE shares_share SET entitled_ml = 1 WHERE name = 'Bob'",
        "UPDATE shares_share SET name = 'Rob' WHERE name = 'Bob'",
        "UPDATE shares_sharerule SET words = 'all for Bob'",
    ],
)
def test_the_database_itself_keeps_a_final_working_out(change):
    small.final()
    with pytest.raises(DatabaseError, match="never changed"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(change)


def test_a_final_one_is_replaced_with_a_reason_and_what_was_handed_out_stays():
    from sugarbush.shares import handouts

    run = small.final()
    handouts.hand_out(share=small.share_of(run, "Lena"), by=small.sol())
    make.collection(small.tapped(), by=make.bob(), litres="7.5", brix="4.00", happened_at=small.ago(2))
    after = runs.make_run(season=run.season, by=small.sol(), reason="Bob’s last pail was found")
    assert after.pool_ml == 21_000
    after = small.final(after)
    run.refresh_from_db()
    assert (run.state, after.supersedes, ShareRun.objects.filter(state="final").count()) == ("superseded", run, 1)
    lena, bob = small.share_of(after, "Lena"), small.share_of(after, "Bob")
    # Lena has nine jars already; by the new figures fewer are due. They stay hers, the others share what is left.
    assert (lena.jars, lena.taken) == ({"250": 9}, Taken.COLLECTED)
    assert lena.entitled_ml < 2_190 < 2_250
    assert sum(share.count for share in after.shares.all()) == 84
    assert bob.count > 38
    assert runs.differs(after) == []


def test_jars_that_broke_since_keep_it_from_becoming_final():
    run = small.shown()
    lot = run.season.lots.get()
    break_jars(lot=lot, size_ml=250, count=2, by=make.kai(), reason="the shelf fell")
    with pytest.raises(Refused, match="2 jars of 250\u00a0mL of this working-out are no longer free"):
        runs.make_final(run=run, by=small.sol())
