"""What the programme brought with it or came upon: holes of seasons kept on paper, a double, a wrong name."""

from __future__ import annotations

import datetime as dt
import math
import uuid

from django.utils import timezone

from sugarbush.audit.models import record
from sugarbush.core.trunk import diameter_from_girth_um
from sugarbush.demo.ground import to_degrees, to_metres
from sugarbush.demo.inventory import Row, inventory
from sugarbush.demo.programme import CONSIDERED, HEARTS, RESTING, TAPPED, DemoTree
from sugarbush.demo.replay.cast import SCOUTS, Cast, Plan
from sugarbush.demo.replay.clock import Story
from sugarbush.demo.season import BIT_UM, CARRIERS, TAPPERS
from sugarbush.seasons.models import Season, SeasonState
from sugarbush.taps.models import Shavings, Tap, TapState
from sugarbush.trees.actions_looks import Seen, Size, record_look
from sugarbush.trees.actions_trees import add_tree
from sugarbush.trees.group_actions import put_into_group
from sugarbush.trees.models import Species, Tree

PAPER_YEARS = (2, 3, 4)
"""Seasons that were kept on paper, as years before this one."""
_BOOK_DAY = -480
_FINDS_DAY = -118
_DOUBLE_IN, _CONFLICT_IN = "North Bank", "Mill Race"
_BESIDE_M = 2.1
_GIRTH_MM = 640


def write(story: Story, cast: Cast, plan: Plan) -> None:
    """The book and the finds."""
    story.add(story.moment(_BOOK_DAY, 19), _copy_book, cast, plan)
    story.add(story.moment(_FINDS_DAY, 14), _enter_double, cast, plan)
    story.add(story.moment(_FINDS_DAY, 14, 20), _find_wrong_name, cast, plan)


def paper_years_of(tree: DemoTree) -> tuple[int, ...]:
    """In which of the paper seasons a tree was tapped, as years before this one."""
    if tree.state == RESTING:
        return PAPER_YEARS if tree.why == "tapped four years running" else (2,) if "open" in tree.why else ()
    if tree.state != TAPPED or tree.owner != "town":
        return ()
    return ((), (2,), (3,), (2, 4), ())[int(tree.tree_no) % 5]


def _copy_book(cast: Cast, plan: Plan) -> None:
    """Holes of seasons that were kept on paper are copied from the book: no rule of today is asked about them.

    This is the one thing no act of the app does, so it is written straight into the books, each season closed.
    """
    for ago in PAPER_YEARS:
        first = plan.first_day - dt.timedelta(days=364 * ago)
        season = Season.objects.create(
            year=plan.year - ago,
            state=SeasonState.CLOSED,
            tapping_from=first,
            tapping_to=first + dt.timedelta(days=58),
            closed_at=timezone.now(),
            closed_by=cast.coordinator,
        )
        record(by=cast.coordinator, act="copy from the paper book", subject=season)
        for tree in plan.trees:
            if ago in paper_years_of(tree):
                _copy_hole(cast, plan, season, tree, ago)


def _copy_hole(cast: Cast, plan: Plan, season: Season, tree: DemoTree, ago: int) -> None:
    row = Tree.objects.get(inventory_number=tree.tree_no)
    newer = [tap for tap in (*plan.last_season.taps, *plan.season.taps) if tap.tree_no == tree.tree_no]
    aspect_deg = newer[0].aspect_deg if newer else 40
    placed_at = dt.datetime.combine(season.tapping_from, dt.time(17), dt.UTC) + dt.timedelta(days=6)
    Tap.objects.create(
        id=uuid.uuid5(uuid.NAMESPACE_OID, f"{tree.tree_no} {ago} years ago"),
        tree=row,
        season=season,
        position=1,
        placed_at=placed_at,
        by=cast.people[TAPPERS[tree.group]],
        height_mm=760 + 90 * ago,
        aspect_deg=(aspect_deg + 75 * ago) % 360,
        bit_um=BIT_UM,
        depth_mm=42,
        diameter_um=row.diameter_um and row.diameter_um - 6_000 * ago,
        shavings=Shavings.UNSEEN,
        state=TapState.PULLED,
        out_at=placed_at + dt.timedelta(days=40),
        out_by=cast.people[CARRIERS[tree.group][0]],
        note="copied from the paper book",
    )


def _enter_double(cast: Cast, plan: Plan) -> None:
    """A scout enters by hand, two metres off, a tree that the town had listed all along."""
    listed = next(t for t in plan.trees if t.group == _DOUBLE_IN and t.state == CONSIDERED and t.trunk_in)
    row = cast.trees[listed.tree_no]
    x_m, y_m = to_metres(row.longitude, row.latitude)
    longitude_deg, latitude_deg = to_degrees((x_m + _BESIDE_M * math.cos(0.6), y_m + _BESIDE_M * math.sin(0.6)))
    size = Size(stems_um=(diameter_from_girth_um(_GIRTH_MM * 1000),), as_given=f"{_GIRTH_MM / 10:g} cm round")
    add_tree(
        by=cast.people[SCOUTS[_DOUBLE_IN]],
        tree_uuid=uuid.uuid5(uuid.NAMESPACE_OID, f"beside {listed.tree_no}"),
        longitude_deg=longitude_deg,
        latitude_deg=latitude_deg,
        seen=Seen(date=timezone.localdate(), size=size, species=row.species, evidence="twig", note="not on my sheet"),
        address=row.address,
        side=row.side,
        group=cast.groups[_DOUBLE_IN],
    )


def _find_wrong_name(cast: Cast, plan: Plan) -> None:
    """The town lists a red maple; the scout, with a leaf in hand, finds a Norway maple."""
    listed = _red_maple(plan)
    cast.know_trees([listed["TREE_NO"]])
    tree = cast.trees[listed["TREE_NO"]]
    put_into_group(trees=[tree], group=cast.groups[_CONFLICT_IN], by=cast.lead(_CONFLICT_IN))
    seen = Seen(
        date=timezone.localdate(),
        species=Species.objects.get(botanical="Acer platanoides"),
        evidence="leaf",
        note="milky juice at the leaf stalk",
    )
    record_look(by=cast.people[SCOUTS[_CONFLICT_IN]], tree=tree, seen=seen)


def _red_maple(plan: Plan) -> Row:
    """A sound red maple of the list, the nearest to the middle of the group that is not in the programme."""
    used = {tree.tree_no for tree in plan.trees}
    reds = [row for row in inventory(plan.seed).sound_rows() if row["BOTANICAL"] == "Acer rubrum"]
    return min(
        (row for row in reds if row["TREE_NO"] not in used and row["CONDITION"] == "Good"),
        key=lambda row: math.dist(to_metres(float(row["LON"]), float(row["LAT"])), HEARTS[_CONFLICT_IN]),
    )
