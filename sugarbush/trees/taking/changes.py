"""What the town's file says otherwise than last time.

A tree that only the town has described follows the file. Once people have looked at a tree, what they found stays and
the file's word stands beside it: the difference is reported, and a species nobody is sure of yet counts as in dispute.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from sugarbush.trees.keeping import keep
from sugarbush.trees.models import Land, Life, Shown, SpeciesSure, Tree
from sugarbush.trees.reading.verdicts import TreeRow
from sugarbush.trees.records import TreeObservation
from sugarbush.trees.taking.rows import IN_ONE_QUESTION, change_trees, day_text, digest_of, note_of, pieces
from sugarbush.trees.tiles import metres_between
from sugarbush.volunteers.models import Person

# Less than this is how a position is written, not where the tree stands.
_SAME_PLACE_DEG = 5e-7
# A field position this near the file's is the same place measured twice.
_NEAR_M = 5.0

Change = list[Any]
"""What changed, the old value, the new one, and whether the old one stays."""


class Changed(NamedTuple):
    """One row the file has changed."""

    row: TreeRow
    code: str
    changes: list[Change]


def take_changes(
    pairs: Sequence[tuple[int, TreeRow]], *, species_ids: dict[str, int], names: dict[int, str], by: Person | None
) -> list[Changed]:
    """Take the rows whose words differ from last time; the rows a person would call changed.

    pairs: (tree, its row).  names: the common name of each species.
    """
    found: list[Changed] = []
    for part in pieces(pairs, IN_ONE_QUESTION):
        found += _take_part(part, species_ids=species_ids, names=names, by=by)
    return found


def _take_part(
    pairs: Sequence[tuple[int, TreeRow]], *, species_ids: dict[str, int], names: dict[int, str], by: Person | None
) -> list[Changed]:
    ids = [tree_id for tree_id, _row in pairs]
    trees = Tree.objects.select_for_update().in_bulk(ids)
    looked_at = set(TreeObservation.objects.filter(tree_id__in=ids).values_list("tree_id", flat=True))
    # Trees come into the list without a history; one that has it was changed by somebody.
    looked_at.update(Tree.history.filter(id__in=ids).values_list("id", flat=True))
    found: list[Changed] = []
    follow: list[tuple[int, TreeRow]] = []
    for tree_id, row in pairs:
        tree = trees[tree_id]
        species_id = species_ids[row.species_key]
        if _is_only_listed(tree) and tree_id not in looked_at:
            changes = _differences(tree, row, species_id, names)
            follow.append((tree_id, row))
        else:
            changes = _stand_beside(tree, row, species_id, names, by=by)
        if changes:
            found.append(Changed(row, tree.code, changes))
    change_trees(follow, species_ids)
    return found


def _is_only_listed(tree: Tree) -> bool:
    return tree.life == Life.LISTED and tree.shown_state == Shown.LISTED and tree.group_id is None


def _differences(tree: Tree, row: TreeRow, species_id: int, names: dict[int, str]) -> list[Change]:
    """For a tree that follows the file."""
    changes = _towns_own(tree, row, species_id, names)
    if (
        abs(tree.longitude - row.longitude_deg) > _SAME_PLACE_DEG
        or abs(tree.latitude - row.latitude_deg) > _SAME_PLACE_DEG
    ):
        old = [tree.longitude, tree.latitude]
        changes.append(["place", old, [row.longitude_deg, row.latitude_deg], False])
    plain = (("address", row.address), ("side", row.side), ("stems", row.stems or 1), ("land", row.land))
    for what, new in plain:
        if getattr(tree, what) != new:
            changes.append([what, getattr(tree, what), new, False])
    return changes


def _towns_own(tree: Tree, row: TreeRow, species_id: int, names: dict[int, str]) -> list[Change]:
    """Differences in the columns that hold the town's word and nobody else's."""
    changes: list[Change] = []
    if tree.inventory_species_id != species_id:
        old = names.get(tree.inventory_species_id or 0, "")
        changes.append(["species", old, names[species_id], False])
    if tree.inventory_diameter_um != row.diameter_um:
        changes.append(["size", tree.inventory_diameter_um, row.diameter_um, False])
    if tree.inventory_note != note_of(row):
        changes.append(["note", tree.inventory_note[:120], note_of(row)[:120], False])
    if tree.inventory_surveyed != row.surveyed:
        changes.append(["surveyed", day_text(tree.inventory_surveyed), day_text(row.surveyed), False])
    return changes


def _stand_beside(
    tree: Tree, row: TreeRow, species_id: int, names: dict[int, str], *, by: Person | None
) -> list[Change]:
    """For a tree people have looked at: the town's columns follow, what was found stays."""
    changes = _towns_own(tree, row, species_id, names)
    moved = bool(changes)
    for change in changes:
        if change[0] == "species" and tree.species_id not in (None, species_id):
            change[1], change[3] = names[tree.species_id or 0], True
            if tree.species_sure == SpeciesSure.UNCONFIRMED and tree.merged_into_id is None:
                # Nobody is sure yet, and now two names stand side by side: somebody has to look.
                tree.species_sure = SpeciesSure.DISPUTED
        if change[0] == "size" and tree.diameter_um not in (None, row.diameter_um):
            change[1], change[3] = tree.diameter_um, True
    here = (tree.longitude, tree.latitude)
    if metres_between(lon1=here[0], lat1=here[1], lon2=row.longitude_deg, lat2=row.latitude_deg) > _NEAR_M:
        changes.append(["place", list(here), [row.longitude_deg, row.latitude_deg], True])
    if row.address and tree.address != row.address:
        changes.append(["address", tree.address, row.address, True])
    if row.land != Land.UNKNOWN.value and tree.land != row.land:
        changes.append(["land", tree.land, row.land, True])
    tree.inventory_species_id, tree.inventory_diameter_um = species_id, row.diameter_um
    tree.inventory_note, tree.inventory_surveyed = note_of(row), row.surveyed
    tree.inventory_digest = digest_of(row)
    if moved:
        keep(tree, by=by, why="the town’s list")
    else:
        Tree.objects.filter(pk=tree.pk).update(inventory_digest=tree.inventory_digest)
    return changes
