"""Which species a tree is: claims, second looks, disputes.

A claim names a species and what it was told by. It is sure when a second person, who knows the species, has said the
same; leaf, fruit, twig or an arborist prove it, bark and the town's list do not. What the list says stays beside it.
"""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.trees.keeping import consider, keep, take
from sugarbush.trees.models import Species, SpeciesSure, Tree, TreeObservation
from sugarbush.trees.records import Evidence
from sugarbush.volunteers.access import require, why_not
from sugarbush.volunteers.models import Person


def is_alone(person: Person) -> bool:
    """Whether nobody else is in the programme yet, so that there is no second person to ask."""
    return not Person.objects.filter(is_active=True).exclude(pk=person.pk).exists()


def first_looks(tree: Tree, species_id: int, *, by: Person, today: dt.date) -> list[TreeObservation]:
    """Proven claims of this species that this person's look would be the second to."""
    proven = tree.observations.filter(species_id=species_id, evidence__in=Evidence.proof()).select_related("by")
    others = [look for look in proven if look.by_id != by.pk]
    if others or not is_alone(by):
        return others
    # Alone, on another day: a fresh look. The day it was written down counts, not the day that was typed.
    return [look for look in proven if timezone.localdate(look.recorded_at) < today]


def may_be_second(tree: Tree, species_id: int, *, by: Person) -> bool:
    """Whether this person's proof would make the species sure."""
    if why_not(by, "species.confirm", group_id=tree.group_id):
        return False
    return bool(first_looks(tree, species_id, by=by, today=timezone.localdate()))


def weigh_claim(tree: Tree, look: TreeObservation, *, by: Person) -> None:
    """Set species and how sure it is from one more look. The caller saves both."""
    if look.species_id is None:
        return
    if tree.species_id is None:
        tree.species_id = look.species_id
    elif tree.species_id != look.species_id:
        others = tree.observations.filter(species_id=tree.species_id).exclude(by=by)
        if tree.species_sure != SpeciesSure.UNCONFIRMED or others.exists():
            tree.species_sure = SpeciesSure.DISPUTED
            return
        tree.species_id = look.species_id  # the list's word, or their own earlier one: the newer look counts
    if tree.species_sure != SpeciesSure.UNCONFIRMED or look.evidence not in Evidence.proof():
        return
    if may_be_second(tree, look.species_id, by=by):
        tree.species_sure = SpeciesSure.CONFIRMED
        look.second_look = True


@transaction.atomic
def settle_species(
    *, by: Person, tree: Tree, species: Species, evidence: str, reason: str, edition: int | None = None
) -> Tree:
    """Say which species it is, with the reason. Both values and who said them are kept.

    It is sure at once if another person had proved the same species; else it waits for a second look.
    """
    tree = take(tree, edition=edition)
    require(by, "species.confirm", group_id=tree.group_id)
    if not reason.strip():
        raise Refused([Reason(code="reason", fact=_("Settling needs its reason."), next_text=_("Write what you saw"))])
    if evidence not in Evidence.proof():
        raise Refused(
            [
                Reason(
                    code="evidence",
                    fact=_("Bark and a list are not enough to be sure."),
                    next_text=_("Look at a leaf, fruit or twig, or ask an arborist"),
                )
            ]
        )
    old = {
        "species": tree.species and tree.species.botanical,
        "sure": tree.species_sure,
        "town_list": tree.inventory_species and tree.inventory_species.botanical,
    }
    sure = may_be_second(tree, species.pk, by=by)
    TreeObservation.objects.create(
        tree=tree,
        date=timezone.localdate(),
        by=by,
        species=species,
        evidence=evidence,
        second_look=sure,
        note=reason.strip()[:400],
    )
    tree.species = species
    tree.species_sure = SpeciesSure.CONFIRMED if sure else SpeciesSure.UNCONFIRMED
    consider(tree)
    keep(tree, by=by, why=reason)
    new = {"species": species.botanical, "sure": tree.species_sure, "evidence": evidence, "alone": is_alone(by)}
    record(by=by, act="settle species", subject=tree, reason=reason, old=old, new=new)
    return tree
