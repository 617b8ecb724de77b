"""Acts on trees chosen on the map: each stands or falls alone, each refusal names its reason."""

from __future__ import annotations

from urllib.parse import parse_qs, urlsplit

import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client
from django.urls import reverse

from sugarbush.audit.models import AuditEvent
from sugarbush.desk.map.acts import IN_AN_ADDRESS
from sugarbush.trees.group_actions import consider, put_into_group
from sugarbush.trees.models import Life, Shown, Tree
from sugarbush.trees.tiles import t17
from sugarbush.volunteers.models import Person
from tests import make

pytestmark = pytest.mark.django_db


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def listed_tree(**fields: object) -> Tree:
    return make.tree(**{"life": Life.LISTED, "group": None, **fields})


def test_a_coordinator_puts_chosen_trees_into_a_group() -> None:
    make.season()
    trees, where = [listed_tree(), listed_tree()], make.group("Mill Race")
    back = "/map/?west=-87.36&south=47.04&east=-87.3&north=47.06"
    answer = signed_in(make.alice()).post(
        "/trees/group/", {"codes": [tree.code for tree in trees], "group": where.pk, "back": back}
    )
    assert (answer.status_code, answer["Location"]) == (302, back)
    for tree in trees:
        tree.refresh_from_db()
        assert (tree.group, tree.life, tree.shown_state) == (where, Life.CANDIDATE, Shown.CONSIDERED)
        event = AuditEvent.objects.get(subject_kind="trees.tree", subject_id=str(tree.pk))
        assert (event.old["group"], event.new["group"]) == (None, where.pk)


def test_a_tree_worked_by_another_group_stays_and_says_why_while_the_others_move() -> None:
    given, free = make.given_tree(), listed_tree()
    answer = signed_in(make.alice()).post(
        "/trees/group/", {"codes": [given.code, free.code], "group": make.group("Mill Race").pk}
    )
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "1 tree is now in Mill Race." in page
    assert "It is given to North Bank" in page
    given.refresh_from_db()
    free.refresh_from_db()
    assert (given.group, free.group) == (make.group("North Bank"), make.group("Mill Race"))


def test_a_lead_moves_only_what_is_theirs() -> None:
    make.season()
    own, free, other = make.tree(), listed_tree(), make.tree(group=make.group("Mill Race"))
    north_bank = make.group("North Bank")
    outcome = put_into_group(trees=[own, free, other], group=north_bank, by=make.lena())
    assert [tree.pk for tree in outcome.done] == [free.pk]
    assert [tree.pk for tree in outcome.unchanged] == [own.pk]
    assert [(tree.pk, reasons[0].code) for tree, reasons in outcome.refused] == [(other.pk, "other-group")]
    with pytest.raises(PermissionDenied):
        put_into_group(trees=[own], group=make.group("Mill Race"), by=make.lena())
    # By the page: the other group's tree is not there for her at all, nor its group to choose.
    answer = signed_in(make.lena()).post("/trees/group/", {"codes": [other.code], "group": north_bank.pk})
    assert answer.status_code == 422
    other.refresh_from_db()
    assert other.group == make.group("Mill Race")


def test_a_volunteer_puts_no_tree_into_a_group() -> None:
    tree = listed_tree()
    with pytest.raises(PermissionDenied):
        put_into_group(trees=[tree], group=make.group("North Bank"), by=make.bob())
    answer = signed_in(make.bob()).post("/trees/group/", {"codes": [tree.code], "group": make.group().pk})
    assert answer.status_code == 403
    tree.refresh_from_db()
    assert tree.group is None


def test_taking_a_tree_out_of_any_group_keeps_it_in_sight() -> None:
    make.season()
    tree = make.tree()
    outcome = put_into_group(trees=[tree], group=None, by=make.alice())
    tree.refresh_from_db()
    assert (len(outcome.done), tree.group, tree.life) == (1, None, Life.CANDIDATE)


def test_felled_and_merged_trees_are_refused() -> None:
    kept, felled, merged = make.tree(), make.tree(life=Life.FELLED), make.tree()
    Tree.objects.filter(pk=merged.pk).update(merged_into=kept)
    outcome = put_into_group(trees=[felled, merged], group=make.group("Mill Race"), by=make.alice())
    assert sorted(reasons[0].code for _tree, reasons in outcome.refused) == ["felled", "merged"]
    assert not outcome.done


def test_any_member_takes_a_listed_tree_into_sight() -> None:
    make.season()
    tree, seen, ruled_out = listed_tree(), make.tree(), make.tree(life=Life.EXCLUDED, life_reason="wires")
    outcome = consider(trees=[tree, seen, ruled_out], by=make.bob())
    assert [found.pk for found in outcome.done] == [tree.pk]
    assert [found.pk for found in outcome.unchanged] == [seen.pk]
    assert [(found.pk, reasons[0].detail) for found, reasons in outcome.refused] == [(ruled_out.pk, "wires")]
    tree.refresh_from_db()
    assert (tree.life, tree.shown_state) == (Life.CANDIDATE, Shown.CONSIDERED)


def test_a_reviewer_and_a_stranger_take_nothing_into_sight() -> None:
    tree = listed_tree()
    for person in (make.rhea(), make.charlie()):
        with pytest.raises(PermissionDenied):
            consider(trees=[tree], by=person)
    assert signed_in(make.rhea()).post("/trees/consider/", {"codes": [tree.code]}).status_code == 403
    assert signed_in(make.charlie()).post("/trees/consider/", {"codes": [tree.code]}).status_code == 403
    tree.refresh_from_db()
    assert tree.life == Life.LISTED


def test_asking_for_permission_takes_the_chosen_trees_along() -> None:
    ours, theirs = [make.tree(), make.tree()], make.tree(group=make.group("Mill Race"))
    answer = signed_in(make.lena()).post("/map/ask/", {"codes": [tree.code for tree in [*ours, theirs]]})
    assert answer.status_code == 302
    parts = urlsplit(answer["Location"])
    assert parts.path == "/permissions/new/"
    assert parse_qs(parts.query)["tree"] == sorted(tree.code for tree in ours)


@pytest.mark.parametrize("where", ["/trees/group/", "/trees/consider/", "/map/ask/"])
def test_acting_on_nothing_says_what_to_do_first(where: str) -> None:
    answer = signed_in(make.alice()).post(where, {"group": make.group().pk})
    assert answer.status_code == 422
    assert "No tree was chosen." in answer.content.decode()


def test_the_way_back_leads_to_the_map_only() -> None:
    tree, group = listed_tree(), make.group()
    make.season()
    client = signed_in(make.alice())
    for back in ("https://elsewhere.example/map/", "//elsewhere.example/map/", "/people/"):
        answer = client.post("/trees/group/", {"codes": [tree.code], "group": group.pk, "back": back})
        assert answer["Location"] == "/map/"


def test_more_trees_than_an_address_holds_go_on_to_the_slip_as_a_form() -> None:
    make.programme()
    place = t17(longitude_deg=-122.8, latitude_deg=47.05)
    rows = [
        Tree(code=f"QH-{n:05}", longitude=-122.8, latitude=47.05, t17=place, group=make.group())
        for n in range(20_000, 20_000 + IN_AN_ADDRESS + 1)
    ]
    Tree.objects.bulk_create(rows)
    client = signed_in(make.lena())
    sent = {"codes": [row.code for row in rows]}
    answer = client.post("/map/ask/", sent)
    # 307: the browser sends the form on as it was, RFC 9110, section 15.4.8.
    assert (answer.status_code, answer["Location"]) == (307, reverse("permission-new"))
    followed = client.post("/map/ask/", sent, follow=True)
    assert len(followed.context["trees"]) == len(rows)
