"""What the phone takes along: all that the round needs, nothing of others, few questions to the database."""

from __future__ import annotations

import gzip
import json

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from sugarbush.boils.models import BoilDay
from sugarbush.owners.models import OwnerContact
from sugarbush.phone import pack
from sugarbush.trees import shown
from sugarbush.trees.models import HealthCheck, StreetLine
from tests import make

pytestmark = pytest.mark.django_db


def taken(person=None, group=""):
    client = Client()
    client.force_login(person or make.bob())
    answer = client.get(reverse("round-pack"), {"group": group})
    assert answer.status_code == 200
    return answer.json()


def test_the_pack_holds_what_a_volunteer_needs_at_the_tree():
    tree = make.tapped_tree(address="27 Larkspur Street", side="East", nth=2, access_note="Ring. The dog is kind.")
    make.collection(tree, litres="5.5", happened_at=timezone.now() - make.days(1))
    found = taken()
    (row,) = found["trees"]
    assert (row["code"], row["address"], row["side"], row["nth"]) == (tree.code, "27 Larkspur Street", "East", 2)
    assert row["hint"] == "Ring. The dog is kind."
    assert row["last"]["ml"] == 5_500
    assert [tap["ml"] for tap in row["taps"]] == [8_000]
    assert row["gate"]["left"] == 0
    assert found["person"]["units"] == "metric"
    assert found["group"]["name"] == "North Bank"
    assert found["rules"]["fullest"] == 1.1


def test_a_tree_given_but_not_tapped_comes_along_with_the_gates_word():
    tree = make.given_tree()
    (row,) = taken()["trees"]
    assert row["code"] == tree.code
    assert (row["taps"], row["gate"]) == ([], {"left": 1, "why": []})
    HealthCheck.objects.filter(tree=tree).delete()
    (row,) = taken()["trees"]
    assert row["gate"]["why"] == ["It has no health check."]


def test_somebody_not_trained_is_told_so_in_the_gates_word():
    make.given_tree()
    anna = make.person("Anna")
    (row,) = taken(anna)["trees"]
    assert any("trained to tap" in why for why in row["gate"]["why"])


def test_no_owner_is_named_and_no_number_taken_along():
    tree = make.given_tree(land="private")
    tree.permission_lines.all().delete()
    fern = make.owner("Fern Abernathy-Sole", "person")
    OwnerContact.objects.create(owner=fern, phone="555-0142", email="fern@quillhaven.example")
    make.owns(tree, fern)
    make.permission(tree, owner=fern, capacity="owner", signed_by="Fern Abernathy-Sole", end_reason="Fern is angry")
    make.tap(tree)
    tree.permissions.update(state="revoked", ended_at=timezone.now())
    shown.refresh([tree.pk])
    found = taken()
    assert found["trees"][0]["pull"] is True
    assert found["trees"][0]["why"]
    for secret in ("Abernathy", "Fern", "555-0142", "quillhaven.example"):
        assert secret not in json.dumps(found)


def test_another_groups_trees_stay_behind_their_wall():
    make.tapped_tree()
    theirs = make.tapped_tree(group=make.group("Mill Race"))
    assert theirs.code not in json.dumps(taken())
    client = Client()
    client.force_login(make.bob())
    assert client.get(reverse("round-pack"), {"group": make.group("Mill Race").pk}).status_code == 404
    assert client.get(reverse("round-pack"), {"group": "no-number"}).status_code == 404
    assert client.get(reverse("round"), {"group": make.group("Mill Race").pk}).status_code == 404


def test_a_tree_given_to_one_person_comes_with_nobody_else():
    tree = make.ready_tree()
    make.assignment(tree, person=make.lena())
    make.tap(tree)
    assert taken()["trees"] == []
    assert [row["code"] for row in taken(make.lena())["trees"]] == [tree.code]


def test_a_pack_that_has_not_changed_is_not_sent_again():
    tree = make.tapped_tree()
    client = Client()
    client.force_login(make.bob())
    first = client.get(reverse("round-pack"))
    same = client.get(reverse("round-pack"), headers={"if-none-match": first["ETag"]})
    assert (same.status_code, same.content) == (304, b"")
    assert same["Sugarbush-Now"].isdecimal()
    tree.access_note = "Back gate."
    tree.save()
    assert client.get(reverse("round-pack"), headers={"if-none-match": first["ETag"]}).status_code == 200


def test_the_order_is_for_walking():
    # Along one street the shortest way from an end is the street itself.
    for place, nth in ((0.003, 4), (0.000, 1), (0.002, 3), (0.001, 2)):
        make.tapped_tree(longitude=make.CENTRE[0] + place, address=f"{nth} Larkspur Street")
    assert [row["address"] for row in taken()["trees"]] == [f"{n} Larkspur Street" for n in (1, 2, 3, 4)]


def test_boiling_days_to_come_are_told_and_those_gone_by_are_not():
    season = make.season()
    make.tapped_tree()
    for n in (-1, 2, 30):
        BoilDay.objects.create(season=season, day=make.today() + make.days(n), site="Mill Race yard", lead=make.kai())
    assert [one["day"] for one in taken()["boil_days"]] == [(make.today() + make.days(2)).isoformat()]


def test_somebody_whose_part_has_ended_takes_nothing_along():
    make.tapped_tree()
    make.collection()
    bob = make.bob()
    bob.memberships.update(date_to=make.today() - make.days(1))
    found = taken(bob)
    assert (found["ended"], found["trees"], found["groups"], found["boil_days"]) == (True, [], [], [])


@pytest.mark.parametrize("many", [2, 20])
def test_a_long_round_asks_no_more_than_a_short_one(many, django_assert_max_num_queries):
    for _ in range(many):
        make.collection(make.tapped_tree())
    with django_assert_max_num_queries(26):
        pack.make(make.bob())


def test_a_round_of_forty_trees_is_small():
    # The whole first load may have 100 kB; the files of the page take some 40 of them.
    for n in range(40):
        make.tapped_tree(access_note=f"Ring at number {n}. The gate is behind the garage, mind the step.")
    client = Client()
    client.force_login(make.bob())
    answer = client.get(reverse("round-pack"), headers={"accept-encoding": "gzip"})
    assert len(answer.content) < 10_000
    assert len(json.loads(gzip.decompress(answer.content))["trees"]) == 40


def test_nobody_signed_out_and_no_stranger_is_given_a_pack():
    for client, word in ((Client(), "signed-out"), (Client(), "no-member")):
        if word == "no-member":
            client.force_login(make.charlie())
        answer = client.get(reverse("round-pack"))
        assert (answer.status_code, answer.json()["code"]) == (403, word)


def test_the_streets_around_come_along_as_steps_of_a_metre_and_those_far_off_do_not():
    tree = make.tapped_tree()
    x, y = round(tree.longitude, 5), round(tree.latitude, 5)
    for n, points in enumerate(
        ([[x, y], [x + 0.0005, y], [x + 0.001, y], [x + 0.001, y + 0.0002]], [[x + 1, y], [x + 1, y + 0.01]])
    ):
        west, south = (min(p[axis] for p in points) for axis in (0, 1))
        east, north = (max(p[axis] for p in points) for axis in (0, 1))
        StreetLine.objects.create(points=points, west=west, south=south, east=east, north=north, digest=str(n))
    (line,) = taken(make.bob())["streets"]
    # The point on the straight is left out.
    assert line == [round(x * 100_000), round(y * 100_000), 100, 0, 0, 20]
