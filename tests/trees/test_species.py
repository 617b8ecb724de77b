"""Which species a tree is: evidence, second looks, the town's list beside what the scouts found."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from sugarbush.audit.models import AuditEvent
from sugarbush.parts.reasons import Refused
from sugarbush.trees.actions_looks import Seen, Size, record_look
from sugarbush.trees.actions_species import settle_species
from sugarbush.trees.models import Species, SpeciesSure, Tree, TreeObservation
from sugarbush.trees.queries import filtered, trees_for
from sugarbush.volunteers.models import CredentialKind, Person
from tests import make

pytestmark = pytest.mark.django_db


def red() -> Species:
    return make.species("Acer rubrum", "red maple")


def norway() -> Species:
    return make.species("Acer platanoides", "Norway maple")


def unsure(**fields: Any) -> Tree:
    return make.tree(species=fields.pop("species", None), species_sure=SpeciesSure.UNCONFIRMED, **fields)


def look(
    tree: Tree, by: Person, species: Species | None = None, evidence: str = "leaf", **fields: Any
) -> TreeObservation:
    made = record_look(
        by=by, tree=tree, seen=Seen(date=fields.pop("date", make.today()), species=species, evidence=evidence, **fields)
    )
    tree.refresh_from_db()
    return made


def knows(name: str = "Ivo") -> Person:
    return make.person(name, credentials=[CredentialKind.SPECIES])


def test_one_look_leaves_the_species_unsure() -> None:
    tree = unsure()
    look(tree, make.bob(), red())
    assert (tree.species, tree.species_sure) == (red(), SpeciesSure.UNCONFIRMED)


def test_a_second_look_by_another_who_knows_makes_it_sure() -> None:
    # job.md C08: leaf photo and confirm by checker.
    tree = unsure()
    look(tree, make.bob(), red(), "leaf")
    second = look(tree, knows(), red(), "twig")
    assert tree.species_sure == SpeciesSure.CONFIRMED
    assert second.second_look
    assert AuditEvent.objects.filter(act="species made sure", subject_id=str(tree.pk)).exists()


@pytest.mark.parametrize("evidence", ["bark", "list"])
def test_bark_and_a_list_prove_nothing(evidence: str) -> None:
    tree = unsure()
    look(tree, make.bob(), red(), evidence)
    look(tree, knows(), red(), "leaf")
    assert tree.species_sure == SpeciesSure.UNCONFIRMED
    tree = unsure()
    look(tree, make.bob(), red(), "leaf")
    look(tree, knows(), red(), evidence)
    assert tree.species_sure == SpeciesSure.UNCONFIRMED


def test_the_second_look_needs_the_credential_and_another_person() -> None:
    tree = unsure()
    ivo = knows()
    look(tree, ivo, red())
    look(tree, ivo, red())
    assert tree.species_sure == SpeciesSure.UNCONFIRMED
    look(tree, make.bob(), red())
    assert tree.species_sure == SpeciesSure.UNCONFIRMED


def test_the_only_person_there_gives_their_own_second_look_on_another_day() -> None:
    alice = make.alice()
    assert Person.objects.count() == 1
    tree = unsure(group=None)
    first = look(tree, alice, red())
    look(tree, alice, red())
    assert tree.species_sure == SpeciesSure.UNCONFIRMED
    TreeObservation.objects.filter(pk=first.pk).update(recorded_at=timezone.now() - dt.timedelta(days=1))
    look(tree, alice, red())
    assert tree.species_sure == SpeciesSure.CONFIRMED
    assert AuditEvent.objects.get(act="species made sure").new["alone"] is True


def test_a_day_typed_in_the_past_is_not_another_day() -> None:
    alice = make.alice()
    tree = unsure(group=None)
    look(tree, alice, red(), date=make.today() - dt.timedelta(days=9))
    look(tree, alice, red())
    assert tree.species_sure == SpeciesSure.UNCONFIRMED


def test_with_a_second_person_there_nobody_confirms_themselves() -> None:
    alice, tree = make.alice(), unsure(group=None)
    first = look(tree, alice, red())
    TreeObservation.objects.filter(pk=first.pk).update(recorded_at=timezone.now() - dt.timedelta(days=1))
    make.bob()
    look(tree, alice, red())
    assert tree.species_sure == SpeciesSure.UNCONFIRMED


def test_another_name_for_a_sure_tree_puts_it_in_dispute() -> None:
    tree = make.tree(species=red())
    look(tree, make.bob(), norway(), "bark")
    assert (tree.species, tree.species_sure) == (red(), SpeciesSure.DISPUTED)


def test_two_scouts_who_differ_are_in_dispute() -> None:
    tree = unsure()
    look(tree, make.bob(), red())
    look(tree, make.person("Carol"), norway())
    assert tree.species_sure == SpeciesSure.DISPUTED


def test_a_scout_may_correct_their_own_name_for_it() -> None:
    tree = unsure()
    look(tree, make.bob(), red())
    look(tree, make.bob(), norway())
    assert (tree.species, tree.species_sure) == (norway(), SpeciesSure.UNCONFIRMED)


def test_the_town_says_red_the_scout_norway_and_both_stay_until_settled() -> None:
    # job.md C09.
    tree = unsure(species=red(), inventory_species=red())
    look(tree, make.bob(), norway(), "fruit")
    assert (tree.species, tree.inventory_species) == (norway(), red())
    mine = trees_for(make.bob())
    # The list of open species shows it, as soon as the tree's state is that of a tree in the programme's sights.
    assert list(filtered(mine, flag="species")) == [tree]
    ivo = knows()
    settle_species(by=ivo, tree=tree, species=norway(), evidence="leaf", reason="milky stalk, wide leaf")
    tree.refresh_from_db()
    assert (tree.species, tree.species_sure, tree.inventory_species) == (norway(), SpeciesSure.CONFIRMED, red())
    assert list(filtered(mine, flag="species")) == []
    claims = list(tree.observations.order_by("pk").values_list("by__display_name", "species__common"))
    assert claims == [("Bob", "Norway maple"), ("Ivo", "Norway maple")]
    event = AuditEvent.objects.get(act="settle species")
    assert (event.by, event.reason, event.old["town_list"]) == (ivo, "milky stalk, wide leaf", "Acer rubrum")


def test_settling_alone_waits_for_a_second_look() -> None:
    tree = make.tree(species=red())
    look(tree, make.bob(), norway())
    settle_species(by=knows(), tree=tree, species=red(), evidence="leaf", reason="silvery below")
    tree.refresh_from_db()
    assert tree.species_sure == SpeciesSure.UNCONFIRMED


def test_settling_needs_the_credential_a_reason_and_proof() -> None:
    tree = make.tree(species=red())
    with pytest.raises(PermissionDenied):
        settle_species(by=make.bob(), tree=tree, species=red(), evidence="leaf", reason="so")
    for evidence, reason in (("bark", "so"), ("leaf", "  ")):
        with pytest.raises(Refused):
            settle_species(by=knows(), tree=tree, species=red(), evidence=evidence, reason=reason)


def test_an_older_measurement_typed_in_late_undoes_no_newer_one() -> None:
    tree = make.tree()
    bob = make.bob()
    look(tree, bob, size=Size(stems_um=(400_000,), as_given="40 cm across"))
    late = make.today() - dt.timedelta(days=30)
    look(tree, bob, size=Size(stems_um=(380_000,), as_given="38 cm across"), date=late)
    assert tree.diameter_um == 400_000
    assert tree.observations.count() == 2


def test_a_look_sent_twice_is_kept_once() -> None:
    client, tree = Client(), make.tree()
    client.force_login(make.bob())
    form = {"uuid": "6f2d7a58-5a0e-4c0c-8f4e-2f1b5b1c2a01", "measured": "round", "stem_1": "141", "date": make.today()}
    for _time in range(2):
        assert client.post(reverse("tree-look", args=[tree.code]), form).status_code == 302
    assert tree.observations.count() == 1


def test_an_empty_look_is_asked_what_was_found() -> None:
    client, tree = Client(), make.tree()
    client.force_login(make.bob())
    form = {"uuid": "6f2d7a58-5a0e-4c0c-8f4e-2f1b5b1c2a02", "measured": "round", "date": make.today()}
    answer = client.post(reverse("tree-look", args=[tree.code]), form)
    assert answer.status_code == 422
    assert "Nothing is filled in yet" in answer.content.decode()


def test_who_may_look_at_and_who_may_settle_a_species() -> None:
    tree = make.tree(species=red())
    page, look_page = reverse("tree-species", args=[tree.code]), reverse("tree-look", args=[tree.code])
    form = {"edition": tree.edition, "species": norway().pk, "evidence": "leaf", "reason": "so"}
    for person, see, settle, scout in (
        (knows(), 200, 302, 200),
        (make.bob(), 200, 403, 200),
        (make.rhea(), 200, 403, 403),
        (make.mira(), 404, 404, 404),
        (make.charlie(), 404, 404, 404),
    ):
        client = Client()
        client.force_login(person)
        assert client.get(page).status_code == see, person
        assert client.get(look_page).status_code == scout, person
        assert client.post(page, form).status_code == settle, person


def test_settling_what_somebody_else_has_settled_meanwhile_is_told() -> None:
    tree = make.tree(species=red())
    client = Client()
    client.force_login(knows())
    form = {"edition": tree.edition, "species": norway().pk, "evidence": "leaf", "reason": "wide leaf"}
    settle_species(by=knows("Uma"), tree=tree, species=red(), evidence="leaf", reason="red bud")
    answer = client.post(reverse("tree-species", args=[tree.code]), form)
    assert answer.status_code == 409
    assert "wide leaf" in answer.content.decode()
    tree.refresh_from_db()
    assert tree.species == red()
    again = client.post(reverse("tree-species", args=[tree.code]), form | {"edition": tree.edition})
    assert again.status_code == 302


def test_the_species_table_is_filled_with_the_built_in_kinds() -> None:
    sugar = Species.objects.get(botanical="Acer saccharum")
    assert sugar.tappable
    ash = Species.objects.get(botanical="Fraxinus pennsylvanica")
    assert not ash.tappable
    assert ash.look_alike
    # The species sapped here are maples alone.
    assert all(kind.botanical.startswith("Acer ") for kind in Species.objects.filter(tappable=True))
