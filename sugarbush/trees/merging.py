"""Two entries of one tree become one. Everything recorded at either is then found at the tree that is kept.

Rows of every app that point at a tree are moved by themselves. An app whose rows need more care registers a mover for
its model; an app that knows why a merge must wait registers a check. Both in `AppConfig.ready()`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.db import IntegrityError, models, transaction
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.trees import shown
from sugarbush.trees.keeping import keep, take
from sugarbush.trees.models import Land, Life, SaidApart, SpeciesSure, Tree
from sugarbush.volunteers.access import require
from sugarbush.volunteers.models import Person

Mover = Callable[[Tree, Tree], list[Any]]
Check = Callable[[Tree, Tree], list[Reason]]
_MOVERS: dict[str, Mover] = {}
_CHECKS: dict[str, Check] = {}
# Filled from the entry that goes, where the entry that stays knows nothing.
_FILLED = ("address", "side", "nth", "access_note", "diameter_um", "inventory_species_id", "inventory_diameter_um")


def register(label: str, mover: Mover) -> None:
    """Move the rows of one model ("taps.tap") by `mover(loser, kept)`; it returns the keys of the rows it moved."""
    _MOVERS[label.lower()] = mover


def register_check(name: str, check: Check) -> None:
    """`check(loser, kept)` gives the reasons why these two cannot become one now."""
    _CHECKS[name] = check


def reasons_against(loser: Tree, kept: Tree) -> list[Reason]:
    """Everything that keeps two entries from becoming one; empty means they may."""
    reasons = [reason for check in _CHECKS.values() for reason in check(loser, kept)]
    if loser.pk == kept.pk:
        reasons.append(Reason(code="same", fact=_("This is one entry, not two."), next_text=_("Choose another tree")))
    return reasons


def _relations() -> list[models.ForeignObjectRel]:
    """Every foreign key that points at a tree, but the trees' own ones. Histories are hidden and stay as they are."""
    return [
        relation
        for relation in Tree._meta.related_objects
        if (relation.one_to_many or relation.one_to_one) and relation.related_model is not Tree
    ]


def _move(relation: models.ForeignObjectRel, loser: Tree, kept: Tree) -> list[Any]:
    """Point the loser's rows at the kept tree. A row whose like is there already stays where it is."""
    model, name = relation.related_model, relation.field.name
    moved = []
    for pk in model._default_manager.filter(**{name: loser}).values_list("pk", flat=True):
        try:
            with transaction.atomic():
                model._default_manager.filter(pk=pk).update(**{name: kept})
            moved.append(pk)
        except IntegrityError:
            continue
    return moved


def _fill(kept: Tree, loser: Tree) -> None:
    for name in _FILLED:
        if getattr(kept, name) in (None, ""):
            setattr(kept, name, getattr(loser, name))
    if kept.diameter_um == loser.diameter_um and not kept.size_as_given:
        kept.size_as_given, kept.stems = loser.size_as_given, loser.stems
    if kept.land == Land.UNKNOWN:
        kept.land = loser.land
    if kept.group_id is None:
        kept.group_id = loser.group_id
    if kept.life == Life.LISTED:
        kept.life, kept.life_reason = loser.life, loser.life_reason
    if kept.species_id is None:
        kept.species_id, kept.species_sure = loser.species_id, loser.species_sure
    elif loser.species_id is not None:
        if kept.species_id != loser.species_id:
            # Two names for one trunk: somebody has to look.
            kept.species_sure = SpeciesSure.DISPUTED
        elif loser.species_sure == SpeciesSure.CONFIRMED and kept.species_sure == SpeciesSure.UNCONFIRMED:
            kept.species_sure = SpeciesSure.CONFIRMED


@transaction.atomic
def merge(*, by: Person, kept: Tree, loser: Tree, reason: str = "") -> Tree:
    """Make two entries one. The loser's code goes on finding the tree; its rows move to the kept one.

    Raises Refused with every reason at once; nothing is half-done.
    """
    # In one order, so that two people merging the same pair the other way round cannot wait for each other.
    held = {tree.pk: take(tree) for tree in sorted((kept, loser), key=lambda tree: tree.pk)}
    kept, loser = held[kept.pk], held[loser.pk]
    require(by, "tree.merge", group_id=kept.group_id)
    require(by, "tree.merge", group_id=loser.group_id)
    reasons = reasons_against(loser, kept)
    if loser.merged_into_id or kept.merged_into_id:
        gone = loser if loser.merged_into_id else kept
        reasons.append(
            Reason(
                code="merged_before",
                fact=_("%(code)s was merged already.") % {"code": gone.code},
                next_text=_("Look at the tree it was merged into"),
                next_url=gone.get_absolute_url(),
            )
        )
    if reasons:
        raise Refused(reasons)
    old = {"kept": _told(kept), "gone": _told(loser)}
    _fill(kept, loser)
    number = (loser.inventory_source, loser.inventory_number)
    if not kept.inventory_number and loser.inventory_number:
        # The town's number has to find the tree that stays when the file is taken in again.
        loser.inventory_source = loser.inventory_number = ""
    loser.merged_into = kept
    # Felled trees are not drawn, and a second entry should not be either.
    loser.life, loser.life_reason = Life.FELLED, _("the same tree as %(code)s") % {"code": kept.code}
    keep(loser, by=by, why=reason)
    if not kept.inventory_number:
        kept.inventory_source, kept.inventory_number = number
    moved = {}
    for relation in _relations():
        label = relation.related_model._meta.label_lower
        mover = _MOVERS.get(label)
        keys = mover(loser, kept) if mover else _move(relation, loser, kept)
        if keys:
            moved[label] = [str(key) for key in keys]
    Tree.objects.filter(merged_into=loser).update(merged_into=kept)
    SaidApart.objects.filter(first=min(kept.pk, loser.pk), second=max(kept.pk, loser.pk)).delete()
    keep(kept, by=by, why=reason)
    record(by=by, act="merge trees", subject=kept, reason=reason, old=old, new={"gone": loser.code, "moved": moved})
    shown.refresh([kept.pk, loser.pk])
    return kept


def _told(tree: Tree) -> dict[str, Any]:
    """How an entry stood before it was merged, for the history."""
    return {
        "code": tree.code,
        "place": tree.place,
        "species": tree.species and tree.species.botanical,
        "sure": tree.species_sure,
        "diameter_um": tree.diameter_um,
        "group": tree.group and tree.group.name,
        "number": tree.inventory_number,
    }
