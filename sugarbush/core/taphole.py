"""The hole itself, and where on the trunk not to drill.

The bark is thought of as unrolled: a distance to the side is an arc of the trunk, a distance up or down is a
difference in height. Each old hole keeps a rectangle around itself free. The tool marks wood; the shavings decide:
brown or yellow ones mean old stained wood, and another spot.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import pi

from sugarbush.core.errors import OutOfRange, check_range

FULL_CIRCLE_DEG = 360.0
HIGHEST_HOLE_MM = 6_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """A taphole's place on the trunk.

    aspect_deg: compass side, 0 (north) to 360, clockwise.  height_mm: above ground, 0 to 6,000.
    diameter_um: the trunk's size when it was drilled.  this_season: whether it was drilled this season.
    Raises OutOfRange.

    >>> Hole(aspect_deg=180, height_mm=900, diameter_um=400_000).this_season
    False
    """

    aspect_deg: float
    height_mm: int
    diameter_um: int
    this_season: bool = False

    def __post_init__(self) -> None:
        check_range(self.aspect_deg, low=0, high=FULL_CIRCLE_DEG, quantity="compass side", unit="°")
        check_range(self.height_mm, low=0, high=HIGHEST_HOLE_MM, quantity="height", unit="mm")
        check_range(self.diameter_um, low=1, high=10_000_000, quantity="diameter", unit="µm")


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOut:
    """The rectangle kept free around a hole.

    side_mm: to each side.  up_down_mm: above and below, None = the whole height of the trunk.
    A hole exactly this far away is free.
    """

    side_mm: int
    up_down_mm: int | None

    def holds(self, *, side_mm: float, up_down_mm: float) -> bool:
        """Whether a place this far off lies inside.

        >>> KeepOut(side_mm=100, up_down_mm=300).holds(side_mm=99.9, up_down_mm=299)
        True
        >>> KeepOut(side_mm=100, up_down_mm=300).holds(side_mm=100, up_down_mm=0)
        False
        """
        return side_mm < self.side_mm and (self.up_down_mm is None or up_down_mm < self.up_down_mm)


# Old holes: sideways 2-4 in and up or down 6-12 in, UVM sap yield tips 2020 as quoted [R2]; the wider end is taken.
OLD_HOLES = KeepOut(side_mm=102, up_down_mm=305)
# An open hole: 6 in to the side, UVM Extension slides [R]; no height is given there, so every height counts.
OPEN_HOLES = KeepOut(side_mm=153, up_down_mm=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """An old hole that is too near: its place in the list given, how far off it is, and the zone it breaks."""

    index: int
    side_mm: float
    up_down_mm: int
    zone: KeepOut
    this_season: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Arc:
    """A stretch of bark, clockwise from from_deg to to_deg; to_deg may pass 360 where it crosses north."""

    from_deg: float
    to_deg: float

    @property
    def width_deg(self) -> float:
        """Its width in degrees."""
        return self.to_deg - self.from_deg


def hole_volume_cm3(*, bit_um: float, depth_mm: float) -> float:
    """Wood taken out by the bit.

    bit_um: drill bit, above 0, at most 30,000.  depth_mm: 0 to 150.  Raises OutOfRange.
    Source: cylinder [C]. A 5/16 in bit 1.5 in deep is the usual hole today, UVM Extension slides [R].

    >>> round(hole_volume_cm3(bit_um=7937.5, depth_mm=38.1), 3)
    1.885
    """
    check_range(bit_um, low=1, high=30_000, quantity="drill bit", unit="µm")
    check_range(depth_mm, low=0, high=150, quantity="depth", unit="mm")
    bit_cm, depth_cm = bit_um / 10_000, depth_mm / 10
    return pi / 4 * bit_cm**2 * depth_cm


def side_distance_mm(first: Hole, second: Hole) -> float:
    """Distance along the bark from one hole to the other, by the shorter way round.

    The angle between two holes stays while the trunk grows; the smaller of the two diameters is used, because the
    stained wood lies at the depth of the older hole.  Source: geometry [C].

    >>> north, east = (Hole(aspect_deg=deg, height_mm=900, diameter_um=400_000) for deg in (0, 90))
    >>> round(side_distance_mm(north, east), 1)
    314.2
    """
    turn = abs(first.aspect_deg - second.aspect_deg) % FULL_CIRCLE_DEG
    turn = min(turn, FULL_CIRCLE_DEG - turn)
    return turn / FULL_CIRCLE_DEG * pi * min(first.diameter_um, second.diameter_um) / 1000


def clashes(
    new_hole: Hole, old_holes: Iterable[Hole], *, old_zone: KeepOut = OLD_HOLES, open_zone: KeepOut = OPEN_HOLES
) -> list[Clash]:
    """The holes a new one would be too near to; an empty list is a free place.

    old_zone: around holes of earlier seasons (a warning).  open_zone: around this season's (a refusal).
    Source: distances are the programme's rule; defaults OLD_HOLES [R2], OPEN_HOLES [R].

    >>> old = Hole(aspect_deg=180, height_mm=900, diameter_um=400_000)
    >>> new = Hole(aspect_deg=190, height_mm=950, diameter_um=400_000)
    >>> [(clash.index, round(clash.side_mm), clash.up_down_mm) for clash in clashes(new, [old])]
    [(0, 35, 50)]
    """
    found = []
    for index, old in enumerate(old_holes):
        zone = open_zone if old.this_season else old_zone
        side_mm = side_distance_mm(new_hole, old)
        up_down_mm = abs(new_hole.height_mm - old.height_mm)
        if zone.holds(side_mm=side_mm, up_down_mm=up_down_mm):
            found.append(
                Clash(index=index, side_mm=side_mm, up_down_mm=up_down_mm, zone=zone, this_season=old.this_season)
            )
    return found


def free_bark(
    old_holes: Iterable[Hole],
    *,
    height_mm: int,
    diameter_um: int,
    old_zone: KeepOut = OLD_HOLES,
    open_zone: KeepOut = OPEN_HOLES,
) -> list[Arc]:
    """The stretches of bark free at one height, clockwise; the whole ring is one arc from 0 to 360.

    height_mm: 0 to 6,000.  diameter_um: the trunk now.  Raises OutOfRange.  Source: as clashes.

    >>> old = Hole(aspect_deg=0, height_mm=900, diameter_um=400_000)
    >>> [(round(arc.from_deg, 1), round(arc.to_deg, 1)) for arc in free_bark([old], height_mm=900, diameter_um=400_000)]
    [(29.2, 330.8)]
    """
    probe = Hole(aspect_deg=0, height_mm=height_mm, diameter_um=diameter_um)
    blocked: list[tuple[float, float]] = []
    for old in old_holes:
        zone = open_zone if old.this_season else old_zone
        if zone.up_down_mm is not None and abs(height_mm - old.height_mm) >= zone.up_down_mm:
            continue
        around_mm = pi * min(probe.diameter_um, old.diameter_um) / 1000
        half_deg = zone.side_mm / around_mm * FULL_CIRCLE_DEG
        if half_deg > FULL_CIRCLE_DEG / 2:
            return []
        start = (old.aspect_deg - half_deg) % FULL_CIRCLE_DEG
        blocked.append((start, start + 2 * half_deg))
    return _gaps(sorted(blocked))


def _gaps(blocked: Sequence[tuple[float, float]]) -> list[Arc]:
    """What is left of the ring between blocked stretches, sorted by their start (each may pass 360)."""
    if not blocked:
        return [Arc(from_deg=0.0, to_deg=FULL_CIRCLE_DEG)]
    ring_start = blocked[0][0]
    reached = blocked[0][1]
    gaps = []
    for start, end in [*blocked[1:], (ring_start + FULL_CIRCLE_DEG, ring_start + FULL_CIRCLE_DEG)]:
        if start > reached:
            turn = FULL_CIRCLE_DEG if reached >= FULL_CIRCLE_DEG else 0.0
            gaps.append(Arc(from_deg=reached - turn, to_deg=start - turn))
        reached = max(reached, end)
    return gaps


def suggest_holes(
    old_holes: Sequence[Hole],
    *,
    diameter_um: int,
    count: int,
    heights_mm: Sequence[int] = (900, 1_100, 750),
    step_mm: int = 120,
    start_deg: float = 180.0,
    old_zone: KeepOut = OLD_HOLES,
    open_zone: KeepOut = OPEN_HOLES,
) -> list[Hole]:
    """Free places for new holes, going the same way round the trunk from the latest hole, a height up, a height down.

    old_holes: in the order they were drilled.  diameter_um: the trunk now.  count: 1 to 2.
    heights_mm: heights to try in turn, at standing height (0.6 to 1.2 m [R2]).  step_mm: along the bark per step.
    start_deg: where to begin on a trunk without holes; no side is proven better [R2].
    Gives fewer than count where the bark has no room. Suggested holes also keep clear of each other.
    Raises OutOfRange.  Source: rotation, for example 3 in over with 6 in up or down, OSU Mansfield [R].

    >>> old = [Hole(aspect_deg=180, height_mm=900, diameter_um=400_000)]
    >>> [(round(hole.aspect_deg), hole.height_mm) for hole in suggest_holes(old, diameter_um=400_000, count=2)]
    [(214, 1100), (283, 900)]
    """
    check_range(count, low=1, high=2, quantity="taps", unit="taps")
    check_range(step_mm, low=10, high=1_000, quantity="length", unit="mm")
    if not heights_mm:
        raise OutOfRange(quantity="height", value="none", low=0, high=HIGHEST_HOLE_MM, unit="mm")
    step_deg = step_mm / (pi * diameter_um / 1000) * FULL_CIRCLE_DEG
    begin_deg = old_holes[-1].aspect_deg if old_holes else start_deg
    first_step = 1 if old_holes else 0
    taken = list(old_holes)
    suggested: list[Hole] = []
    for step in range(first_step, first_step + int(FULL_CIRCLE_DEG / step_deg) + 1):
        # Next to a hole the height changes: up, then back, then down.
        turn = step % len(heights_mm)
        turned = (*heights_mm[turn:], *heights_mm[:turn])
        for height_mm in turned:
            place = Hole(
                aspect_deg=(begin_deg + step * step_deg) % FULL_CIRCLE_DEG,
                height_mm=height_mm,
                diameter_um=diameter_um,
                this_season=True,
            )
            if not clashes(place, taken, old_zone=old_zone, open_zone=open_zone):
                suggested.append(place)
                taken.append(place)
                break
        if len(suggested) == count:
            break
    return suggested
