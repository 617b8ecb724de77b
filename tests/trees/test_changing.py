"""Changing a tree, two people at once, and the turns of its life."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from sugarbush.audit.models import AuditEvent
from sugarbush.trees.actions_trees import change_tree, set_life
from sugarbush.trees.models import Life, Shown, Tree
from sugarbush.volunteers.models import Person
from tests import make

pytestmark = pytest.mark.django_db


def client_of(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def typed(tree: Tree, **fields: Any) -> dict[str, Any]:
    form = {
        "longitude": tree.longitude,
        "latitude": tree.latitude,
        "address": tree.address,
        "side": tree.side,
        "nth": tree.nth or "",
        "land": tree.land,
        "access_note": tree.access_note,
        "inventory_number": tree.inventory_number,
        "group": tree.group_id or "",
        "edition": tree.edition,
    }
    return {**form, **fields}


def test_a_lead_changes_the_trees_of_their_group() -> None:
    tree = make.tree()
    answer = client_of(make.lena()).post(reverse("tree-edit", args=[tree.code]), typed(tree, access_note="side gate"))
    assert answer.status_code == 302
    tree.refresh_from_db()
    assert (tree.access_note, tree.edition) == ("side gate", 2)
    assert AuditEvent.objects.get(act="change tree").old == {"access_note": ""}


def test_who_may_change_a_tree() -> None:
    tree = make.tree()
    page = reverse("tree-edit", args=[tree.code])
    other_lead = make.person("Otto", "lead", "Mill Race")
    for person, status in ((make.bob(), 403), (make.rhea(), 403), (other_lead, 404), (make.charlie(), 404)):
        client = client_of(person)
        assert client.get(page).status_code == status
        assert client.post(page, typed(tree, side="west")).status_code == status
    tree.refresh_from_db()
    assert tree.side == ""


def test_the_second_of_two_is_told_and_loses_nothing() -> None:
    tree = make.tree()
    form = typed(tree, side="west", access_note="ring twice")
    change_tree(by=make.lena(), tree=tree, edition=tree.edition, changes={"side": "east"})
    page = reverse("tree-edit", args=[tree.code])
    alice = client_of(make.alice())
    answer = alice.post(page, form)
    shown = answer.content.decode()
    assert answer.status_code == 409
    assert "ring twice" in shown
    assert "east" in shown
    assert "west" in shown
    tree.refresh_from_db()
    assert tree.side == "east"
    # Saving once more, now that they have seen it, puts theirs in its place.
    again = alice.post(page, form | {"edition": answer.context["form"]["edition"].value()})
    assert again.status_code == 302
    tree.refresh_from_db()
    assert (tree.side, tree.access_note) == ("west", "ring twice")


def test_changing_the_land_names_who_said_so() -> None:
    tree = make.tree(land="unknown")
    page, client = reverse("tree-edit", args=[tree.code]), client_of(make.alice())
    assert client.post(page, typed(tree, land="public")).status_code == 422
    assert client.post(page, typed(tree, land="public", land_said_by="town map")).status_code == 302
    tree.refresh_from_db()
    assert tree.land == "public"
    assert AuditEvent.objects.get(act="change tree").reason == "town map"


def test_a_number_that_another_tree_has_leads_to_merging() -> None:
    make.tree(inventory_number="A-1")
    tree = make.tree()
    answer = client_of(make.alice()).post(reverse("tree-edit", args=[tree.code]), typed(tree, inventory_number="A-1"))
    assert answer.status_code == 422
    assert "merge the two" in answer.content.decode()


def test_a_lead_gives_no_tree_to_a_group_that_is_not_theirs() -> None:
    tree = make.tree()
    mill = make.group("Mill Race")
    page = reverse("tree-edit", args=[tree.code])
    assert client_of(make.lena()).post(page, typed(tree, group=mill.pk)).status_code == 422
    assert client_of(make.alice()).post(page, typed(tree, group=mill.pk)).status_code == 302
    tree.refresh_from_db()
    assert tree.group == mill


def live(client: Client, tree: Tree, life: str, reason: str = "") -> int:
    tree.refresh_from_db()
    form = {"life": life, "reason": reason, "edition": tree.edition}
    return client.post(reverse("tree-life", args=[tree.code]), form).status_code


def test_rest_exclusion_and_felling_need_a_reason_and_coming_back_too() -> None:
    tree = make.tree()
    lena = client_of(make.lena())
    for life, shown in ((Life.RESTING, Shown.RESTING), (Life.EXCLUDED, Shown.NOT), (Life.FELLED, Shown.FELLED)):
        assert live(lena, tree, life) == 422
        assert live(lena, tree, life, "thin crown in July") == 302
        tree.refresh_from_db()
        assert (tree.life, tree.life_reason, tree.shown) == (life, "thin crown in July", shown)
        assert live(lena, tree, Life.CANDIDATE) == 422
        assert live(lena, tree, Life.CANDIDATE, "looked again, it is well") == 302
    assert AuditEvent.objects.filter(act="tree’s life").count() == 6
    assert tree.history.filter(history_change_reason="thin crown in July").count() == 3


def test_a_listed_tree_is_considered_without_a_reason() -> None:
    tree = make.tree(life=Life.LISTED)
    assert live(client_of(make.lena()), tree, Life.CANDIDATE) == 302
    tree.refresh_from_db()
    assert tree.shown == Shown.CONSIDERED


def test_a_felled_tree_with_a_spout_in_is_to_pull() -> None:
    tree = make.tapped_tree()
    set_life(by=make.alice(), tree=tree, life=Life.FELLED, reason="the town felled it")
    tree.refresh_from_db()
    assert tree.shown == Shown.PULL


def test_volunteers_do_not_decide_a_tree_s_life() -> None:
    tree = make.tree()
    assert live(client_of(make.bob()), tree, Life.EXCLUDED, "no") == 403
    assert live(client_of(make.mira()), tree, Life.EXCLUDED, "no") == 404
