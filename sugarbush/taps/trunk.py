"""The trunk rolled out flat: where the holes are, what to keep clear of, where the bark is free. Data for a drawing.

Coordinates are given as text with a point, so that no reader's language changes them.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from math import pi

from django.utils.translation import gettext as _

from sugarbush.core.taphole import Arc, Hole, KeepOut, clashes, free_bark, suggest_holes
from sugarbush.core.units import System, from_mm
from sugarbush.parts.shown import in_words, system_of
from sugarbush.parts.worked import Working, working
from sugarbush.taps import holes
from sugarbush.taps.facts import TreeFacts
from sugarbush.taps.models import Tap

WIDTH, HEIGHT = 560, 330
LEFT, RIGHT, TOP, GROUND = 46.0, 546.0, 34.0, 284.0
LEAST_SHOWN_MM, MOST_SHOWN_MM = 450, 1_350
HEIGHTS_MM = (900, 1_100, 750)
STANDING_MM = 900
FOOT_MM = 305
LABEL_WIDTH = 42
YEAR_ROOM = 22.0  # from the right end of the bark: a year below a hole there is not cut off
HALF_TURN = 180.0
SIDES = 8


def side_words(degrees: float) -> str:
    """The side of the trunk as people say it.

    >>> side_words(214), side_words(359)
    ('south-west', 'north')
    """
    names = (
        _("north"),
        _("north-east"),
        _("east"),
        _("south-east"),
        _("south"),
        _("south-west"),
        _("west"),
        _("north-west"),
    )
    return names[round(degrees / (360 / SIDES)) % SIDES]


@dataclass(frozen=True, kw_only=True)
class DrawnHole:
    """A hole and the bark to keep clear round it; `copies` are the zone's left edges, two where it crosses north."""

    tap: Tap
    x: str
    y: str
    label_x: str
    label_y: str
    label: str
    this_season: bool
    copies: tuple[str, ...]
    zone_y: str
    zone_width: str
    zone_height: str
    side: str


@dataclass(frozen=True, kw_only=True)
class Spot:
    """A free place for the next hole."""

    name: str
    aspect_deg: int
    height_mm: int
    x: str
    y: str
    side: str


@dataclass(frozen=True, kw_only=True)
class Free:
    """A stretch of free bark at one height."""

    lines: tuple[tuple[str, str], ...]
    middle: str
    words: str
    width: str


@dataclass(frozen=True, kw_only=True)
class Trunk:
    """Everything the drawing and its text say."""

    holes: tuple[DrawnHole, ...]
    spots: tuple[Spot, ...]
    free: tuple[Free, ...]
    free_at: str
    ticks: tuple[tuple[str, str], ...]
    unit: str
    girth: str
    permit_y: str
    permit_words: str
    marks: tuple[str, ...]
    old_side: str
    old_up: str
    open_side: str
    working: Working

    @property
    def summary(self) -> str:
        """The drawing in one sentence, for those who do not see it."""
        parts = [_("Bark of the trunk rolled out flat, north at both ends.")]
        told = ", ".join(f"{hole.label}: {hole.side}" for hole in self.holes)
        parts.append(_("Holes: %(holes)s.") % {"holes": told} if told else _("No holes yet."))
        if self.spots:
            spots = ", ".join(f"{spot.side} {spot.aspect_deg}°" for spot in self.spots)
            parts.append(_("Free for the next hole: %(places)s.") % {"places": spots})
        return " ".join(parts)


class _Scale:
    """From degrees and millimetres to the sheet."""

    def __init__(self, low_mm: int, high_mm: int) -> None:
        self.low_mm, self.high_mm = low_mm, high_mm

    def x(self, degrees: float) -> float:
        return LEFT + degrees / 360 * (RIGHT - LEFT)

    def y(self, height_mm: float) -> float:
        share = (height_mm - self.low_mm) / (self.high_mm - self.low_mm)
        return GROUND - share * (GROUND - TOP)


def _text(number: float) -> str:
    return f"{number:.1f}"


def trunk_of(facts: TreeFacts, on: dt.date, units: str, *, wanted: int = 0) -> Trunk | None:
    """The drawing of one trunk; None where neither its size nor a hole is known.

    wanted: how many free places to point out, 0 to 2.
    """
    size_um = facts.tree.diameter_um
    if not size_um and not facts.taps:
        return None
    size_um = size_um or 300_000
    drilled = holes.holes_of(facts)
    old_zone, open_zone = holes.zones(facts)
    top_mm = _permit_top(facts, on)
    places = _suggestions(drilled, size_um, old_zone, open_zone, top_mm, wanted)
    scale = _scale(drilled, top_mm)
    at_mm = places[0].height_mm if places else min(STANDING_MM, top_mm or STANDING_MM)
    arcs = free_bark(drilled, height_mm=at_mm, diameter_um=size_um, old_zone=old_zone, open_zone=open_zone)
    system = system_of(units)
    return Trunk(
        holes=tuple(
            _drawn(tap, hole, scale, size_um, open_zone if hole.this_season else old_zone)
            for tap, hole in zip(facts.taps, drilled, strict=True)
        ),
        spots=tuple(_spot(n, hole, scale) for n, hole in enumerate(places)),
        free=tuple(_free(arc, scale, size_um, units) for arc in arcs),
        free_at=in_words("length", at_mm, units),
        ticks=_ticks(scale, system),
        unit="cm" if system == "metric" else "in",
        girth=in_words("girth", size_um, units),
        permit_y=_text(scale.y(top_mm)) if top_mm else "",
        permit_words=_("permit: top at %(height)s") % {"height": in_words("length", top_mm, units)} if top_mm else "",
        marks=_bark_marks(),
        old_side=in_words("length", old_zone.side_mm, units),
        old_up=in_words("length", old_zone.up_down_mm, units),
        open_side=in_words("length", open_zone.side_mm, units),
        working=_working(facts, size_um, old_zone, open_zone, top_mm, units),
    )


def _working(
    facts: TreeFacts, size_um: int, old_zone: KeepOut, open_zone: KeepOut, top_mm: int | None, units: str
) -> Working:
    """How the hatched zones and the places came about, with this season's own distances."""
    girth_mm = pi * size_um / 1000
    rows = [
        (_("Trunk, round"), in_words("girth", size_um, units)),
        (_("Old holes"), str(len(facts.taps) - len(facts.holes_this_season))),
        (_("Holes of this season"), str(len(facts.holes_this_season))),
        (_("From an old hole, sideways"), in_words("length", old_zone.side_mm, units)),
        (_("From an old hole, up or down"), in_words("length", old_zone.up_down_mm, units)),
        (_("From a hole of this season, sideways"), in_words("length", open_zone.side_mm, units)),
        (_("One degree round the trunk"), in_words("length", round(girth_mm / 360), units)),
        (_("Heights tried in turn"), ", ".join(in_words("length", height, units) for height in _heights(top_mm))),
    ]
    if top_mm:
        rows.append((_("Permission: no higher than"), in_words("length", top_mm, units)))
    return working(
        "taphole.clashes",
        "taphole.suggest_holes",
        of=_("where to drill"),
        units=units,
        sums=[_("way along the bark = degrees apart ÷ 360 × girth")],
        rows=rows,
        words=_(
            "The bark is rolled out flat. A place is free when it is farther than the season’s distances from every "
            "hole. The next place lies the same way round from the latest hole, first a height up, then a height down."
        ),
        notes=[_("The distances are the season’s own; the handbook has the published ones.")],
    )


def _permit_top(facts: TreeFacts, on: dt.date) -> int | None:
    tops = [slip.most_height_mm for slip in facts.live(on) if slip.most_height_mm]
    return min(tops, default=None)


def _scale(drilled: list[Hole], top_mm: int | None) -> _Scale:
    heights = [hole.height_mm for hole in drilled] + ([top_mm] if top_mm else [])
    low = min([LEAST_SHOWN_MM, *(height - 150 for height in heights)])
    high = max([MOST_SHOWN_MM, *(height + 150 for height in heights)])
    return _Scale(max(0, low), high)


def _heights(top_mm: int | None) -> list[int]:
    """The heights to try, none above what the permission allows."""
    return [height for height in HEIGHTS_MM if top_mm is None or height <= top_mm] or [top_mm or STANDING_MM]


def _suggestions(
    drilled: list[Hole], size_um: int, old_zone: KeepOut, open_zone: KeepOut, top_mm: int | None, wanted: int
) -> list[Hole]:
    """Free places in whole degrees; one that its rounding would move into a zone is turned a degree on."""
    if not wanted:
        return []
    found = suggest_holes(
        drilled,
        diameter_um=size_um,
        count=min(2, wanted),
        heights_mm=_heights(top_mm),
        old_zone=old_zone,
        open_zone=open_zone,
    )
    taken, whole = list(drilled), list[Hole]()
    for place in found:
        for turn in (0, 1, -1):
            near = Hole(
                aspect_deg=(round(place.aspect_deg) + turn) % 360,
                height_mm=place.height_mm,
                diameter_um=size_um,
                this_season=True,
            )
            if not clashes(near, taken, old_zone=old_zone, open_zone=open_zone):
                whole.append(near)
                taken.append(near)
                break
    return whole


def _drawn(tap: Tap, hole: Hole, scale: _Scale, size_um: int, zone: KeepOut) -> DrawnHole:
    half_deg = min(HALF_TURN, zone.side_mm / (pi * min(size_um, hole.diameter_um) / 1000) * 360)
    half = half_deg / 360 * (RIGHT - LEFT)
    x, y = scale.x(hole.aspect_deg), scale.y(hole.height_mm)
    starts = [x - half]
    if x - half < LEFT:
        starts.append(x - half + RIGHT - LEFT)
    if x + half > RIGHT:
        starts.append(x - half - (RIGHT - LEFT))
    if zone.up_down_mm is None:
        zone_top, zone_height = TOP, GROUND - TOP
    else:
        zone_top = scale.y(hole.height_mm + zone.up_down_mm)
        zone_height = scale.y(hole.height_mm - zone.up_down_mm) - zone_top
    return DrawnHole(
        tap=tap,
        x=_text(x),
        y=_text(y),
        label_x=_text(min(x, RIGHT - YEAR_ROOM)),
        label_y=_text(y + 23),
        label=str(tap.season.year),
        this_season=hole.this_season,
        copies=tuple(_text(start) for start in starts),
        zone_y=_text(zone_top),
        zone_width=_text(2 * half),
        zone_height=_text(zone_height),
        side=side_words(hole.aspect_deg),
    )


def _spot(number: int, hole: Hole, scale: _Scale) -> Spot:
    return Spot(
        name="AB"[number],
        aspect_deg=int(hole.aspect_deg),
        height_mm=hole.height_mm,
        x=_text(scale.x(hole.aspect_deg)),
        y=_text(scale.y(hole.height_mm)),
        side=side_words(hole.aspect_deg),
    )


def _free(arc: Arc, scale: _Scale, size_um: int, units: str) -> Free:
    width_mm = round(arc.width_deg / 360 * pi * size_um / 1000)
    pieces = [(arc.from_deg, min(arc.to_deg, 360.0))]
    if arc.to_deg > 360:
        pieces.append((0.0, arc.to_deg - 360))
    longest = max(pieces, key=lambda piece: piece[1] - piece[0])
    width = in_words("length", width_mm, units)
    middle = (arc.from_deg + arc.to_deg) / 2 % 360
    words = _("%(side)s, %(start)d° to %(end)d°, %(width)s wide") % {
        "side": side_words(middle),
        "start": round(arc.from_deg) % 360,
        "end": round(arc.to_deg) % 360,
        "width": width,
    }
    if arc.width_deg >= 360:
        words = _("all round, %(width)s") % {"width": width}
    return Free(
        lines=tuple((_text(scale.x(start)), _text(scale.x(end))) for start, end in pieces),
        middle=_text(scale.x(sum(longest) / 2)),
        words=words,
        # A label wider than its stretch would run into the next one; the words below the drawing hold them all.
        width=_label(width_mm, units) if (longest[1] - longest[0]) / 360 * (RIGHT - LEFT) > LABEL_WIDTH else "",
    )


def _label(width_mm: int, units: str) -> str:
    """The width in whole units, cut off rather than rounded up: the bark is at least so wide."""
    unit = "cm" if system_of(units) == "metric" else "in"
    return f"{int(from_mm(width_mm, unit))}\u00a0{unit}"


def _ticks(scale: _Scale, system: System) -> tuple[tuple[str, str], ...]:
    unit = "cm" if system == "metric" else "in"
    step_mm = 300 if system == "metric" else FOOT_MM
    ticks = []
    number = 1
    while number * step_mm <= scale.high_mm:
        if number * step_mm >= scale.low_mm:
            ticks.append((_text(scale.y(number * step_mm) + 4), str(round(from_mm(number * step_mm, unit)))))
        number += 1
    return tuple(ticks)


def _bark_marks() -> tuple[str, ...]:
    """Short strokes that say bark; the same on every trunk, so that a print does not change."""
    marks = []
    for n in range(70):
        x, y = LEFT + (n * 197) % 500, TOP + (n * 89) % 240
        length, bend = 8 + (n * 53) % 24, (-2, 0, 2)[n % 3]
        marks.append(f"M{x:.0f} {y:.0f}q{bend} {length / 2:.0f} 0 {length}")
    return tuple(marks)
