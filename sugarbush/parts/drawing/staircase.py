"""A stream that runs down a sheet and narrows at every branch. Every width stands for its volume, to one scale.

What joins comes in at the stream's right edge, each from a step of its own; what leaves ends on a step of its own, the
outermost first. So no two bands cross, and each has a line of words to itself however narrow it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

ROW_PX = 40.0
NODE_PX = 8.0
BEFORE_NODE_PX, AFTER_NODE_PX = 14.0, 14.0
EDGE_PX = 4.0
TOP_PX = 16.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch:
    """What joins or leaves at a stage. kind: how it is drawn."""

    name: str
    volume_ml: int
    kind: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """One place on the way. What came down from the stage before and what joins is what leaves and what goes on."""

    name: str
    joins: tuple[Branch, ...] = ()
    leaves: tuple[Branch, ...] = ()
    goes_on_ml: int = 0

    @property
    def joins_ml(self) -> int:
        return sum(branch.volume_ml for branch in self.joins)

    @property
    def leaves_ml(self) -> int:
        return sum(branch.volume_ml for branch in self.leaves)


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A piece of the stream or a branch of it. step_y_px: the line that leads to its words; 0 for
    the stream between stages."""

    kind: str
    name: str
    volume_ml: int
    x_px: float
    y_px: float
    width_px: float
    height_px: float
    step_y_px: float = 0.0

    @property
    def right_px(self) -> float:
        return round(self.x_px + self.width_px, 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """A stage's own line across the stream."""

    name: str
    volume_ml: int
    x_px: float
    y_px: float
    width_px: float

    @property
    def middle_px(self) -> float:
        return self.y_px + NODE_PX / 2

    @property
    def right_px(self) -> float:
        return round(self.x_px + self.width_px, 2)


@dataclass(slots=True, kw_only=True)
class Staircase:
    """The picture. words_px: where the column of words begins."""

    bands: list[Band] = field(default_factory=list)
    nodes: list[Node] = field(default_factory=list)
    width_px: int = 0
    height_px: int = 0
    words_px: float = 0.0
    px_per_ml: float = 0.0


def balanced(stages: Sequence[Stage]) -> bool:
    """Whether at every stage what came is what left, to the millilitre, and nothing runs backwards."""
    came_ml = 0
    for stage in stages:
        parts = [*(branch.volume_ml for branch in (*stage.joins, *stage.leaves)), stage.goes_on_ml]
        if min(parts) < 0 or came_ml + stage.joins_ml != stage.leaves_ml + stage.goes_on_ml:
            return False
        came_ml = stage.goes_on_ml
    return came_ml == 0


def draw(stages: Sequence[Stage], *, width_px: int, stream_px: float) -> Staircase | None:
    """Place the stream. stream_px: how wide the fullest stage is.  None where it is not balanced or all dry."""
    through_ml, came_ml = [], 0
    for stage in stages:
        through_ml.append(came_ml + stage.joins_ml)
        came_ml = stage.goes_on_ml
    if not balanced(stages) or max(through_ml, default=0) <= 0:
        return None
    px = stream_px / max(through_ml)
    found = Staircase(width_px=width_px, words_px=EDGE_PX + stream_px + 16, px_per_ml=px)
    y, flows_from, came_ml = TOP_PX, TOP_PX, 0
    for stage, through in zip(stages, through_ml, strict=True):
        if through == 0:
            continue
        top, x = y, EDGE_PX + came_ml * px
        y += len(stage.joins) * ROW_PX + BEFORE_NODE_PX
        if came_ml:
            _band(found, Branch(name="", volume_ml=came_ml, kind="on"), EDGE_PX, flows_from, y)
        for n, branch in enumerate(stage.joins):
            starts = top + n * ROW_PX
            _band(found, branch, x, starts, y, step=starts)
            x += branch.volume_ml * px
        found.nodes.append(
            Node(name=stage.name, volume_ml=through, x_px=EDGE_PX, y_px=y, width_px=round(through * px, 2))
        )
        y += NODE_PX
        steps, flows_from, came_ml = y + AFTER_NODE_PX, y, stage.goes_on_ml
        x = EDGE_PX + through * px
        for n, branch in enumerate(stage.leaves, start=1):
            x -= branch.volume_ml * px
            _band(found, branch, x, y, steps + n * ROW_PX, step=steps + n * ROW_PX)
        y = steps + len(stage.leaves) * ROW_PX + (ROW_PX / 4 if stage.leaves else 0)
    found.height_px = round(y + 4)
    return found


def _band(found: Staircase, branch: Branch, x: float, top: float, bottom: float, step: float = 0.0) -> None:
    found.bands.append(
        Band(
            kind=branch.kind,
            name=branch.name,
            volume_ml=branch.volume_ml,
            x_px=round(x, 2),
            y_px=round(top, 2),
            width_px=round(branch.volume_ml * found.px_per_ml, 2),
            height_px=round(bottom - top, 2),
            step_y_px=round(step, 2),
        )
    )
