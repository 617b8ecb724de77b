"""Where every millilitre went: one account from the trunk to the jar, and three of its stretches.

Each comes out at nothing, or names what is missing.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from urllib.parse import urlencode

from django.utils.translation import gettext as _

from sugarbush.gathering.models import DiscardReason
from sugarbush.review.counting import Flow
from sugarbush.review.totals import Totals
from sugarbush.sap.models import SOURCES, Cause, Standing, VesselKind

SAP, PAN, LOT = "sap", "pan", "lot"
_PLACE = {
    VesselKind.HANDS: SAP,
    VesselKind.AHEAD: SAP,
    VesselKind.TANK: SAP,
    VesselKind.PAN: PAN,
    VesselKind.LOT: LOT,
    "": "",
}


@dataclass(slots=True, kw_only=True)
class Line:
    """One line of an account. parts: the same millilitres by reason. query: finds its movements in the ledger."""

    label: str
    ml: int
    head: bool = False
    parts: list[tuple[str, int]] = field(default_factory=list)
    query: str = ""


@dataclass(slots=True, kw_only=True)
class Account:
    """Lines that came in (head) and lines that say where it is or went; nothing may be left over."""

    lines: list[Line]

    @property
    def came_ml(self) -> int:
        return sum(line.ml for line in self.lines if line.head)

    @property
    def left_ml(self) -> int:
        return self.came_ml - sum(line.ml for line in self.lines if not line.head)

    @property
    def closes(self) -> bool:
        return self.left_ml == 0


def reason_words(detail: str) -> str:
    """Why sap was tipped out or turned away, as people read it."""
    known = {str(reason.value): str(reason.label) for reason in DiscardReason}
    known |= {"not_ours": _("not ours to use"), "depot": _("tipped from a tank"), "": _("no reason written")}
    known |= {
        "boil-over": _("boiled over"),
        "scorched": _("scorched"),
        "spilled": _("spilled"),
        "sample": _("taken as a sample"),
        "broken": _("jars broken"),
        "tasted": _("tasted"),
        "heel": _("heel thrown away"),
        "destroyed": _("jars destroyed"),
        "filter": _("when packing"),
        "share": _("shares"),
        "given on": _("given on"),
    }
    return known.get(detail, detail)


def place(flow: Flow) -> str:
    """The part of the chain a flow leaves, or enters where it comes from outside."""
    return _PLACE[flow.came_from or flow.went_to]


def _sinks(totals: Totals, where: str) -> list[Flow]:
    sources = {str(cause) for cause in SOURCES}
    return [
        flow
        for flow in totals.flows
        if flow.cause not in sources and flow.cause != Cause.MOVED and place(flow) == where
    ]


def held_ml(totals: Totals, *kinds: str) -> int:
    """What vessels of these kinds hold."""
    came = sum(flow.ml for flow in totals.flows if flow.went_to in kinds)
    return came - sum(flow.ml for flow in totals.flows if flow.came_from in kinds)


def _crossed_ml(totals: Totals, out_of: str, into: str) -> int:
    """Net millilitres that went from one part of the chain into the next."""
    moved = [flow for flow in totals.flows if flow.cause == Cause.MOVED]
    there = sum(f.ml for f in moved if _PLACE[f.came_from] == out_of and _PLACE[f.went_to] == into)
    back = sum(f.ml for f in moved if _PLACE[f.came_from] == into and _PLACE[f.went_to] == out_of)
    return there - back


def by_reason(flows: list[Flow]) -> list[tuple[str, int]]:
    """The same flows by their reason, the largest first."""
    found: dict[str, int] = defaultdict(int)
    for flow in flows:
        found[reason_words(flow.detail)] += flow.ml
    return sorted(((name, ml) for name, ml in found.items() if ml), key=lambda row: (-row[1], row[0]))


def _line(label: str, flows: list[Flow], *, head: bool = False, reasons: bool = False) -> Line:
    parts = by_reason(flows) if reasons else []
    return Line(label=label, ml=sum(flow.ml for flow in flows), head=head, parts=parts)


def tipped_at_tree(totals: Totals) -> list[Flow]:
    """Discards within counted entries."""
    return [f for f in totals.flows if f.cause == Cause.DISCARDED and f.at_tree and f.standing == Standing.COUNTED]


def sap(totals: Totals) -> Account:
    """From the trees to the pans. What does not count stands in it too, apart, or the account could not close."""

    def came(cause: Cause, standing: str = Standing.COUNTED) -> list[Flow]:
        return [f for f in totals.flows if f.cause == cause and f.standing == standing]

    def apart(standing: str) -> list[Flow]:
        return came(Cause.OUT_OF_TREE, standing) + came(Cause.RAIN_KEPT, standing)

    gone = _sinks(totals, SAP)
    tipped = tipped_at_tree(totals)
    not_counted = [f for f in gone if f.standing != Standing.COUNTED]
    elsewhere = [f for f in gone if f.cause == Cause.DISCARDED and not f.at_tree]
    lines = [
        _line(_("Came out of trees"), came(Cause.OUT_OF_TREE), head=True),
        _line(_("Rain kept with it"), came(Cause.RAIN_KEPT), head=True),
        _line(_("Measured over at the depot"), came(Cause.MEASURED_OVER), head=True),
        _line(_("To review, not counted yet"), apart(Standing.REVIEW), head=True),
        _line(_("Real, but not ours to use"), apart(Standing.NOT_OURS), head=True),
        _line(_("Tipped out at the tree"), tipped, reasons=True),
        _line(_("Turned away at the depot"), [f for f in gone if f.cause == Cause.REJECTED], reasons=True),
        _line(_("Measured under at the depot"), [f for f in gone if f.cause == Cause.MEASURED_UNDER]),
        _line(_("Tipped from tanks"), elsewhere),
        _line(_("Tipped out, of what does not count"), not_counted, reasons=True),
    ]
    named = {Cause.DISCARDED, Cause.REJECTED, Cause.MEASURED_UNDER}
    lines += _others(gone, {str(cause) for cause in named})
    lines += [
        Line(label=_("In people’s hands"), ml=held_ml(totals, VesselKind.HANDS)),
        Line(label=_("At the depot, ahead of its entries"), ml=held_ml(totals, VesselKind.AHEAD)),
        Line(label=_("In tanks"), ml=held_ml(totals, VesselKind.TANK)),
        Line(label=_("Put in the pans"), ml=_crossed_ml(totals, SAP, PAN)),
    ]
    first, pans = lines[0], lines[-1]
    return Account(lines=[line for line in lines if line.ml or line is first or line is pans])


def _others(gone: list[Flow], named: set[str]) -> list[Line]:
    """Causes that have no line of their own, each under its own name."""
    causes = sorted({f.cause for f in gone} - named)
    return [_line(str(Cause(c).label).capitalize(), [f for f in gone if f.cause == c], reasons=True) for c in causes]


def pans(totals: Totals) -> Account:
    """From the pans to the syrup."""
    gone = _sinks(totals, PAN)
    lines = [
        Line(label=_("Put in the pans"), ml=_crossed_ml(totals, SAP, PAN), head=True),
        _line(_("Driven off as steam"), [f for f in gone if f.cause == Cause.EVAPORATED]),
        *_others(gone, {str(Cause.EVAPORATED)}),
        Line(label=_("Still in the pans"), ml=held_ml(totals, VesselKind.PAN)),
        Line(label=_("Syrup drawn off"), ml=_crossed_ml(totals, PAN, LOT)),
    ]
    return Account(lines=[line for line in lines if line.ml or line.head or line is lines[-1]])


def syrup(totals: Totals) -> Account:
    """The syrup itself."""
    gone = _sinks(totals, LOT)
    lines = [
        Line(label=_("Syrup drawn off"), ml=_crossed_ml(totals, PAN, LOT), head=True),
        *_others(gone, set()),
        Line(label=_("In lots"), ml=held_ml(totals, VesselKind.LOT)),
    ]
    return Account(lines=[line for line in lines if line.ml or line.head])


def whole(totals: Totals) -> Account:
    """From the trunk to the jar in one kind of millilitre, whatever an entry stands as."""

    def gone(cause: Cause, label: str, *, head: bool = False, empty: str = "") -> Line:
        flows = [flow for flow in totals.flows if flow.cause == cause]
        reasons = [] if cause in _PLAIN else by_reason(flows)
        if empty:
            reasons = [(empty if words == reason_words("") else words, ml) for words, ml in reasons]
        elif len(reasons) == 1 and reasons[0][0] == reason_words(""):
            reasons = []
        apart = [(words, sum(f.ml for f in flows if f.standing == standing)) for standing, words in _standings()]
        if head:
            reasons = [(words, ml) for words, ml in apart if ml]
        return Line(
            label=label, ml=sum(flow.ml for flow in flows), head=head, parts=reasons, query=urlencode({"cause": cause})
        )

    def held(kind: VesselKind, label: str) -> Line:
        return Line(label=label, ml=held_ml(totals, kind), query=urlencode({"place": kind}))

    lines = [
        gone(Cause.OUT_OF_TREE, _("Came out of trees"), head=True),
        gone(Cause.RAIN_KEPT, _("Rain kept with it"), head=True),
        gone(Cause.MEASURED_OVER, _("Measured over"), head=True),
        gone(Cause.DISCARDED, _("Tipped out")),
        gone(Cause.REJECTED, _("Turned away at the depot")),
        gone(Cause.SPILLED, _("Spilled")),
        gone(Cause.MEASURED_UNDER, _("Measured under")),
        held(VesselKind.HANDS, _("In people’s hands")),
        held(VesselKind.AHEAD, _("At the depot, ahead of its entries")),
        held(VesselKind.TANK, _("In tanks")),
        held(VesselKind.PAN, _("In the pans")),
        gone(Cause.EVAPORATED, _("Driven off as steam")),
        gone(Cause.LOST, _("Lost"), empty=_("from a pan")),
        gone(Cause.FILTER, _("Held by the filter"), empty=_("when drawing off")),
        held(VesselKind.LOT, _("Syrup in lots")),
        gone(Cause.ISSUED, _("Handed out in jars")),
        gone(Cause.DESTROYED, _("Destroyed")),
    ]
    return Account(lines=[line for line in lines if line.ml or line is lines[0]])


# A difference in measuring or steam has no reason to split it by.
_PLAIN = (Cause.OUT_OF_TREE, Cause.RAIN_KEPT, Cause.MEASURED_OVER, Cause.MEASURED_UNDER, Cause.EVAPORATED)


def _standings() -> list[tuple[str, str]]:
    return [
        (Standing.REVIEW, _("of it to review, not counted yet:")),
        (Standing.NOT_OURS, _("of it real, but not ours to use:")),
    ]


def lost_ml(totals: Totals) -> int:
    """Counted sap that reached no pan and is nowhere any more; a difference in measuring is no loss."""
    kept = {Cause.MEASURED_UNDER, Cause.MEASURED_OVER}
    return sum(f.ml for f in _sinks(totals, SAP) if f.standing == Standing.COUNTED and f.cause not in kept)


def losses(totals: Totals) -> list[tuple[str, int]]:
    """Every loss of sap by its reason, rejected and spilled included, the largest first."""
    found: dict[str, int] = defaultdict(int)
    for flow in _sinks(totals, SAP):
        if flow.standing != Standing.COUNTED or flow.cause == Cause.MEASURED_UNDER:
            continue
        name = reason_words(flow.detail) if flow.detail else str(Cause(flow.cause).label)
        if flow.cause == Cause.REJECTED:
            name = _("turned away: %(why)s") % {"why": flow.detail or _("no reason written")}
        found[name] += flow.ml
    return sorted(((name, ml) for name, ml in found.items() if ml), key=lambda row: (-row[1], row[0]))
