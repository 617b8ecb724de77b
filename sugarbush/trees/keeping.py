"""Taking one tree to change it, and keeping it afterwards: the lock, the edition, the history, what it shows."""

from __future__ import annotations

from sugarbush.trees import shown
from sugarbush.trees.models import Life, Tree
from sugarbush.volunteers.models import Person


class ChangedMeanwhile(Exception):  # noqa: N818  (named after what happened)
    """Somebody else saved the tree while this form was open. `now` is how it stands."""

    def __init__(self, now: Tree) -> None:
        self.now = now
        super().__init__(now.code)


def take(tree: Tree, *, edition: int | None = None) -> Tree:
    """The tree as it stands, held until the transaction ends. With an edition: only if nobody changed it since."""
    held = Tree.objects.select_for_update().get(pk=tree.pk)
    if edition is not None and held.edition != edition:
        raise ChangedMeanwhile(held)
    return held


def keep(tree: Tree, *, by: Person | None, why: str = "") -> None:
    """Save a held tree as its next edition, with author and reason in its history, and show its state anew."""
    tree._history_user = by  # type: ignore[attr-defined]  # simple-history reads these two
    tree._change_reason = why[:100] or None  # type: ignore[attr-defined]
    tree.edition += 1
    tree.save()
    shown.refresh([tree.pk])


def consider(tree: Tree) -> None:
    """A tree somebody looks at is in the programme's sights from then on."""
    if tree.life == Life.LISTED:
        tree.life = Life.CANDIDATE
