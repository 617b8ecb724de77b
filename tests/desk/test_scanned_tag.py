"""The square on a tree's tag: the round for its group, and for everybody else neither place nor owner."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from sugarbush.trees import shown
from sugarbush.volunteers.models import Person
from tests import make

pytestmark = pytest.mark.django_db


def scan(code: str, person: Person | None = None) -> tuple[int, str]:
    """The status, and where it leads or what it says."""
    client = Client()
    if person:
        client.force_login(person)
    answer = client.get(reverse("tag", args=[code]))
    return answer.status_code, answer["Location"] if answer.status_code == 302 else answer.content.decode()


def test_a_scanned_tag_opens_to_the_right_level_for_the_viewer() -> None:
    make.programme(phone="555-0140")
    tree = make.given_tree(address="12 Larkspur Street", access_note="Mind the dog", land="private")
    fern = make.owner("Fern Abernathy-Sole", "person")
    make.owns(tree, fern)
    make.permission(tree, owner=fern, capacity="owner", signed_by="Fern Abernathy-Sole")
    bare = make.ready_tree(address="9 Larkspur Street")
    make.tap(tree)
    assert scan(tree.code, make.bob()) == (302, reverse("log-tree", args=[tree.code]))
    assert scan(tree.code.lower(), make.rhea()) == (302, reverse("tree", args=[tree.code]))
    for stranger in (None, make.charlie(), make.mira()):
        status, page = scan(tree.code, stranger)
        assert status == 200
        for told in ("tapped with permission", "Not drinking water", "555-0140"):
            assert told in page
        for secret in ("Larkspur", "Abernathy", "dog", "North Bank", str(tree.latitude)):
            assert secret not in page, (secret, stranger)
    # A tree without a spout, and a tag that never was, look alike.
    untapped, never = (scan(code)[1].replace(code, "") for code in (bare.code, "QH-99999"))
    assert untapped == never
    assert "tapped with permission" not in never


def test_a_tree_whose_owner_said_stop_is_not_said_to_be_tapped_with_permission() -> None:
    tree = make.tapped_tree()
    tree.life = "excluded"
    tree.save()
    shown.refresh([tree.pk])
    assert "tapped with permission" not in scan(tree.code)[1]
