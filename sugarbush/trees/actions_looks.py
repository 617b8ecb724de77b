"""Recording a look at a tree: its size, its species, a photo, a note."""

from __future__ import annotations

import datetime as dt
import uuid
from dataclasses import dataclass
from typing import Any

from django.core.files.base import ContentFile
from django.db import transaction

from sugarbush.audit.models import record
from sugarbush.core.trunk import judged_diameter_um
from sugarbush.trees.actions_species import is_alone, weigh_claim
from sugarbush.trees.keeping import consider, keep, take
from sugarbush.trees.models import Species, SpeciesSure, Tree, TreeObservation
from sugarbush.volunteers.access import require
from sugarbush.volunteers.models import Person


@dataclass(frozen=True, kw_only=True)
class Size:
    """Every stem across, each measured alone, and the size of the largest as somebody gave it."""

    stems_um: tuple[int, ...]
    as_given: str

    @property
    def judged_um(self) -> int:
        return judged_diameter_um(self.stems_um)


@dataclass(frozen=True, kw_only=True)
class Seen:
    """What one look found. All of it may be missing but the day."""

    date: dt.date
    size: Size | None = None
    species: Species | None = None
    evidence: str = ""
    note: str = ""
    photo: ContentFile[Any] | None = None
    uuid: uuid.UUID | None = None


def note_look(*, by: Person, tree: Tree, seen: Seen) -> TreeObservation:
    """Write the look down and judge the held tree by it; the caller keeps the tree."""
    look = TreeObservation(
        tree=tree,
        uuid=seen.uuid,
        date=seen.date,
        by=by,
        species=seen.species,
        evidence=seen.evidence if seen.species else "",
        note=seen.note,
    )
    if seen.size:
        look.stems_um = list(seen.size.stems_um)
        look.stems = len(seen.size.stems_um)
        look.diameter_um, look.size_as_given = seen.size.judged_um, seen.size.as_given
        # An older measurement typed in late must not undo a newer one.
        if not tree.observations.filter(date__gt=seen.date, diameter_um__isnull=False).exists():
            tree.diameter_um, tree.stems, tree.size_as_given = look.diameter_um, look.stems, look.size_as_given
    weigh_claim(tree, look, by=by)
    if seen.photo:
        look.photo.save(seen.photo.name or "look.jpg", seen.photo, save=False)
    look.save()
    return look


@transaction.atomic
def record_look(*, by: Person, tree: Tree, seen: Seen) -> TreeObservation:
    """Record a look at a tree that is there. The same uuid sent again gives the look that was saved before."""
    tree = take(tree)
    require(by, "tree.scout", group_id=tree.group_id)
    if seen.uuid and (before := TreeObservation.objects.filter(uuid=seen.uuid, tree=tree).first()):
        return before
    was = tree.species_sure
    look = note_look(by=by, tree=tree, seen=seen)
    consider(tree)
    keep(tree, by=by, why=seen.note)
    if tree.species_sure != was:
        record(
            by=by,
            act="species in dispute" if tree.species_sure == SpeciesSure.DISPUTED else "species made sure",
            subject=tree,
            reason=seen.note,
            old={"sure": was},
            new={
                "sure": tree.species_sure,
                "species": seen.species.botanical if seen.species else "",
                "evidence": seen.evidence,
                "alone": is_alone(by),
            },
        )
    return look
