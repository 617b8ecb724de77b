"""Finding a place on the map by tag, address or street."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

from django.db.models import Max, Min, Q, QuerySet

from sugarbush.desk.map.boxes import Box, around
from sugarbush.trees.models import StreetLine, Tree

MOST = 12
SHORTEST = 2


@dataclass(frozen=True, kw_only=True)
class Hit:
    """A place: what it is called, its box, and the tree whose card to open, if it is one tree."""

    words: str
    box: Box
    code: str = ""

    @property
    def query(self) -> str:
        """The way to it on the map page."""
        sides = {side: f"{degrees:.6f}" for side, degrees in self.box.sides().items()}
        return urlencode(sides | ({"open": self.code} if self.code else {}))


def find(trees: QuerySet[Tree], asked: str) -> list[Hit]:
    """Places that fit the words, best first: the tag, then streets, then addresses. At most a dozen."""
    asked = " ".join(asked.split())[:120]
    if len(asked) < SHORTEST:
        return []
    tagged = trees.filter(Q(code__iexact=asked) | Q(inventory_number__iexact=asked)).order_by("pk")[:MOST]
    hits = [_of_tree(tree) for tree in tagged]
    if hits:
        return hits
    streets = StreetLine.objects.filter(name__icontains=asked).exclude(name="").order_by("name").values("name")
    boxes = streets.annotate(w=Min("west"), s=Min("south"), e=Max("east"), n=Max("north"))[:MOST]
    hits = [
        Hit(words=street["name"], box=Box(west=street["w"], south=street["s"], east=street["e"], north=street["n"]))
        for street in boxes
    ]
    near = trees.filter(address__icontains=asked).order_by("address", "nth", "pk")
    if len(hits) < MOST and not any(hit.words.casefold() == asked.casefold() for hit in hits):
        hits += [_of_tree(tree) for tree in near[: MOST - len(hits)]]
    return hits


def _of_tree(tree: Tree) -> Hit:
    box = around(longitude_deg=tree.longitude, latitude_deg=tree.latitude)
    return Hit(words=str(tree), box=box, code=tree.code)
