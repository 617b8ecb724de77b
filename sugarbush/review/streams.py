"""The season as one stream: what came in, each place it was in, and where it left. The same rows as the accounts."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from django.utils.translation import gettext as _

from sugarbush.parts.drawing import staircase
from sugarbush.parts.drawing.staircase import Branch, Stage, Staircase
from sugarbush.parts.shown import in_words
from sugarbush.review.chain import held_ml
from sugarbush.review.counting import Flow
from sugarbush.review.totals import Totals
from sugarbush.sap.models import SOURCES, Cause, VesselKind

PLACES = ((VesselKind.HANDS,), (VesselKind.AHEAD, VesselKind.TANK), (VesselKind.PAN,), (VesselKind.LOT,))
_STAGE = {str(kind): n for n, kinds in enumerate(PLACES) for kind in kinds}
WIDE_PX, WIDE_STREAM_PX = 560, 300.0
NARROW_PX, NARROW_STREAM_PX = 328, 132.0
_SOURCES = {str(cause) for cause in SOURCES}


@dataclass(frozen=True, slots=True, kw_only=True)
class Stream:
    """Both forms of the picture, its table, and its words. wide, narrow: None where some way runs backwards."""

    stages: list[Stage]
    wide: Staircase | None
    narrow: Staircase | None
    words: str

    @property
    def came_ml(self) -> int:
        return sum(stage.joins_ml for stage in self.stages)

    @property
    def left_ml(self) -> int:
        return sum(stage.leaves_ml for stage in self.stages)

    @property
    def forms(self) -> list[tuple[str, Staircase]]:
        return [(name, form) for name, form in (("wide", self.wide), ("narrow", self.narrow)) if form is not None]


def stream(totals: Totals, units: str) -> Stream | None:
    """The stream of these totals; None before anything flowed."""
    found = stages(totals)
    if not any(stage.joins for stage in found):
        return None
    return Stream(
        stages=found,
        wide=staircase.draw(found, width_px=WIDE_PX, stream_px=WIDE_STREAM_PX),
        narrow=staircase.draw(found, width_px=NARROW_PX, stream_px=NARROW_STREAM_PX),
        words=_words(totals, found, units),
    )


def stages(totals: Totals) -> list[Stage]:
    """Hands, depot, pans, lots: what joins, what leaves or stays, what goes on; in mL, whatever an entry stands as."""
    joins: list[dict[str, int]] = [defaultdict(int) for _place in PLACES]
    leaves: list[dict[str, int]] = [defaultdict(int) for _place in PLACES]
    on = [0] * len(PLACES)
    for flow in totals.flows:
        if flow.cause == Cause.MOVED:
            _cross(on, _STAGE[flow.came_from], _STAGE[flow.went_to], flow.ml)
        elif flow.cause in _SOURCES:
            joins[_STAGE[flow.went_to]][flow.cause] += flow.ml
        else:
            leaves[_STAGE[flow.came_from]][_gone(flow)] += flow.ml
    return [
        Stage(
            name=name,
            joins=tuple(Branch(name=_label(key), volume_ml=ml, kind="came") for key, ml in _sorted(joins[n])),
            leaves=(*_leaving(leaves[n]), *_held(totals, n)),
            goes_on_ml=on[n],
        )
        for n, name in enumerate(_stage_names())
    ]


def _cross(on: list[int], start: int, end: int, ml: int) -> None:
    """Count a movement at every border it passes; one that runs backwards counts against it."""
    for border in range(min(start, end), max(start, end)):
        on[border] += ml if start < end else -ml


def _gone(flow: Flow) -> str:
    return "at the tree" if flow.cause == Cause.DISCARDED and flow.at_tree else flow.cause


def _sorted(found: dict[str, int]) -> list[tuple[str, int]]:
    return sorted(
        ((key, ml) for key, ml in found.items() if ml), key=lambda row: (row[0] != Cause.OUT_OF_TREE, -row[1])
    )


def _leaving(found: dict[str, int]) -> list[Branch]:
    """The smallest first, on the outer steps."""
    rows = sorted(((key, ml) for key, ml in found.items() if ml), key=lambda row: row[1])
    kinds = {str(Cause.EVAPORATED): "steam", str(Cause.ISSUED): "given", str(Cause.MEASURED_UNDER): "measured"}
    return [Branch(name=_label(key), volume_ml=ml, kind=kinds.get(key, "lost")) for key, ml in rows]


def _held(totals: Totals, stage: int) -> list[Branch]:
    names = {
        VesselKind.HANDS: _("Still in hands"),
        VesselKind.AHEAD: _("Ahead of its entries"),
        VesselKind.TANK: _("Still in tanks"),
        VesselKind.PAN: _("Still in the pans"),
        VesselKind.LOT: _("Still in lots"),
    }
    held = [(names[kind], held_ml(totals, kind)) for kind in PLACES[stage]]
    return [Branch(name=name, volume_ml=ml, kind="held") for name, ml in held if ml]


def _stage_names() -> tuple[str, ...]:
    return _("In people’s hands"), _("At the depot"), _("In the pans"), _("Syrup in lots")


def _label(key: str) -> str:
    return {
        "at the tree": _("Tipped out at the tree"),
        str(Cause.OUT_OF_TREE): _("Out of the trees"),
        str(Cause.RAIN_KEPT): _("Rain kept with it"),
        str(Cause.MEASURED_OVER): _("Measured over"),
        str(Cause.DISCARDED): _("Tipped out"),
        str(Cause.REJECTED): _("Turned away"),
        str(Cause.EVAPORATED): _("Driven off as steam"),
        str(Cause.ISSUED): _("Handed out in jars"),
    }.get(key) or str(Cause(key).label).capitalize()


def _words(totals: Totals, found: list[Stage], units: str) -> str:
    """The picture in a few sentences, for those who do not see it."""

    def amount(ml: int) -> str:
        return in_words("volume", ml, units, exact=True)

    said = [
        _("%(came)s came in. %(pans)s of it went into pans, and %(syrup)s of syrup was drawn off.")
        % {
            "came": amount(sum(stage.joins_ml for stage in found)),
            "pans": amount(found[1].goes_on_ml),
            "syrup": amount(found[2].goes_on_ml),
        }
    ]
    losses = [branch for stage in found for branch in stage.leaves if branch.kind == "lost"]
    if losses:
        most = max(losses, key=lambda branch: branch.volume_ml)
        said.append(
            _("The largest loss: %(name)s, %(ml)s.") % {"name": most.name.lower(), "ml": amount(most.volume_ml)}
        )
    return " ".join(said)
