"""What the seasons ask of the trees, told to them from above: the kinds there are, and to look again after a change."""

from __future__ import annotations

from sugarbush.seasons.changed import Kind
from sugarbush.seasons.models import Season
from sugarbush.trees import shown
from sugarbush.trees.models import Life, Species, Tree


def kinds() -> list[Kind]:
    """Every kind of tree on record; those marked for tapping are usual."""
    return [Kind(key=kind.botanical, label=kind.common, usual=kind.tappable) for kind in Species.objects.all()]


def look_again(season: Season) -> None:
    """Work out anew what the programme's trees show. The town's other trees show the same under any rule."""
    shown.refresh(Tree.objects.exclude(life=Life.LISTED).values_list("pk", flat=True))
