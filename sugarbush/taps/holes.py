"""Old holes and new ones on the unrolled trunk, from rows to core and back."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.utils.translation import gettext as _

from sugarbush.core.taphole import Hole, KeepOut, clashes
from sugarbush.parts.reasons import Reason
from sugarbush.parts.wording import length_words
from sugarbush.taps.models import NewHole, Shavings, Tap

if TYPE_CHECKING:
    from sugarbush.taps.facts import TreeFacts

# 1.5 to 2 in into clean white sapwood, UVM Extension slides "Beginning Sugarmaking" (read there); 2 in is 50.8 mm.
MOST_DEPTH_MM = 51


def as_hole(tap: Tap, diameter_um: int, *, this_season: bool) -> Hole:
    """diameter_um: the trunk now, where its size at the drilling is not known."""
    size = tap.diameter_um or diameter_um
    return Hole(aspect_deg=tap.aspect_deg, height_mm=tap.height_mm, diameter_um=size, this_season=this_season)


def zones(facts: TreeFacts) -> tuple[KeepOut, KeepOut]:
    """The season's keep-out zones: around old holes, and around this season's."""
    season = facts.season
    if season is None:
        return KeepOut(side_mm=100, up_down_mm=300), KeepOut(side_mm=150, up_down_mm=None)
    return (
        KeepOut(side_mm=season.keep_side_mm, up_down_mm=season.keep_up_mm),
        KeepOut(side_mm=season.keep_open_side_mm, up_down_mm=None),
    )


def holes_of(facts: TreeFacts) -> list[Hole]:
    """Every hole of the tree, old and new, in the order of `facts.taps`."""
    size = facts.tree.diameter_um or 300_000
    this = {tap.pk for tap in facts.holes_this_season}
    return [as_hole(tap, size, this_season=tap.pk in this) for tap in facts.taps]


def too_near(facts: TreeFacts, hole: NewHole, *, this_season: bool) -> list[Tap]:
    """The tree's holes, of this season or of earlier ones, that a new one would be too near to."""
    size = facts.tree.diameter_um or 300_000
    old_zone, open_zone = zones(facts)
    new = Hole(aspect_deg=hole.aspect_deg, height_mm=hole.height_mm, diameter_um=size, this_season=True)
    found = clashes(new, holes_of(facts), old_zone=old_zone, open_zone=open_zone)
    return [facts.taps[clash.index] for clash in found if clash.this_season == this_season]


def warnings(facts: TreeFacts, hole: NewHole, units: str = "metric") -> list[Reason]:
    """What to confirm before drilling: old wood nearby, brown shavings earlier this season. Never a refusal."""
    said = []
    season = facts.season
    for tap in too_near(facts, hole, this_season=False):
        said.append(
            Reason(
                code="old-hole",
                fact=_("Near the hole of %(year)d.") % {"year": tap.season.year},
                detail=_("Keep %(side)s sideways or %(up)s up or down from old holes: the wood there gives no sap.")
                % {
                    "side": length_words(season.keep_side_mm if season else 100, units),
                    "up": length_words(season.keep_up_mm if season else 300, units),
                },
                next_text=_("Choose another place, or confirm this one"),
            )
        )
    if any(tap.shavings == Shavings.BROWN for tap in facts.holes_this_season):
        said.append(
            Reason(
                code="brown",
                fact=_("A hole of this season gave brown shavings."),
                detail=_("Brown wood is dead or stained and gives no sap. A second hole is a second wound."),
                next_text=_("Confirm only if the tree is sound and its number allows it"),
            )
        )
    return said
