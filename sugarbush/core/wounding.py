"""What a taphole costs the tree, and what the tree grows: sustainable, or rest.

Each hole leaves a column of wood that never carries sap again. New wood buries it: after enough years it lies deeper
than the drill goes. A tree is tapped sustainably while a year's new wood covers a year's loss.

The multiple of the hole that dies with it is the weak figure here: 50 to 75 times, from memory [M]; no paper with a
number for sugar, red or silver maple could be opened (birch: 220, van den Berg et al., abstract [R]). Support: with
50, the measured least growth of the Vermont study and its 90 % target fit together [C]. In a New Hampshire study of
five species the columns of red maple, Norway maple and boxelder were like those of sugar maple or smaller; silver maple
is not among those it calls so (UNH thesis 2036, 2025, abstract [R]): reckon silver with the cautious multiple.
Dye passed through tapped maple stems was blocked in somewhat more wood than is stained ("Assessing Damage to Maple
Sapwood Caused by Tapping", abstract on mapleresearch.org [R]; no ratio given there): a column judged by its stain is
judged too small, one more reason for the cautious multiple.
Any share of dead wood built on the multiple is an estimate; the girth tape, the closing of old holes and an arborist
outrank it.
The tree lists of the USDA Urban tree database are not part of this package, so their bulk counts are not tested here.
"""

from dataclasses import dataclass
from math import ceil, pi, sqrt
from typing import Literal

from sugarbush.core.errors import OutOfRange, check_range

# Times its own volume that a hole makes useless; both ends of the range used in models [M].
COLUMN_TIMES = 50.0
COLUMN_TIMES_CAUTIOUS = 75.0
# The shortest drop line, 24 in, UVM Extension slides [R]; that the Vermont study used it is our assumption [M].
BAND_HEIGHT_MM = 610.0
DEPTH_MM = 38.1  # 1.5 in
# Ring growth under which a tapped tree falls behind: 1.14 and 1.17 mm from the Vermont study [R], rounded [C].
LEAST_RING_MM = 1.15
TAPE_MM = 1.0  # what one reading of a girth tape is good to
LEAST_YEARS = 2.0
CLOSED_AFTER_SEASONS = 3
KEPT_SOUND = 0.90  # share of sound wood healthy trees keep, OSU Extension [R]


def _check_trunk(diameter_mm: float, depth_mm: float, band_mm: float) -> None:
    check_range(diameter_mm, low=50, high=10_000, quantity="diameter", unit="mm")
    check_range(depth_mm, low=1, high=150, quantity="depth", unit="mm")
    check_range(band_mm, low=10, high=3_000, quantity="height", unit="mm")
    if 2 * depth_mm > diameter_mm:
        raise OutOfRange(quantity="depth", value=depth_mm, low=1, high=diameter_mm / 2, unit="mm")


def zone_volume_cm3(*, diameter_mm: float, depth_mm: float = DEPTH_MM, band_mm: float = BAND_HEIGHT_MM) -> float:
    """Wood the drill can reach: a ring as deep as the hole, as tall as the band that is tapped.

    diameter_mm: 50 to 10,000.  depth_mm: 1 to 150, at most half the trunk.  band_mm: 10 to 3,000.  Raises OutOfRange.
    Source: the tapping zone of van den Berg and Perkins, "A Model of the Tapping Zone", abstract [R]; geometry [C].

    >>> round(zone_volume_cm3(diameter_mm=304.8, depth_mm=38.1, band_mm=609.6))
    19460
    """
    _check_trunk(diameter_mm, depth_mm, band_mm)
    return pi / 4 * (diameter_mm**2 - (diameter_mm - 2 * depth_mm) ** 2) * band_mm / 1000


def column_volume_cm3(*, hole_cm3: float, times: float = COLUMN_TIMES) -> float:
    """Wood that stops carrying sap because of one hole.

    hole_cm3: the hole itself, 0 to 200.  times: 1 to 300; 50 to 75 in models of sugar maple [M], birch 220 [R].
    Raises OutOfRange.  Source: see the module; an estimate.

    >>> round(column_volume_cm3(hole_cm3=1.885))
    94
    """
    check_range(hole_cm3, low=0, high=200, quantity="volume", unit="cm³")
    check_range(times, low=1, high=300, quantity="rate", unit="")
    return times * hole_cm3


def ring_from_area_mm(*, diameter_mm: float, area_growth_cm2: float) -> float:
    """Width of the ring behind a year's growth of the cut face (basal area increment).

    diameter_mm: 50 to 10,000, bark not counted.  area_growth_cm2: per year, 0 to what the trunk's face holds.
    Raises OutOfRange.  Source: geometry [C].

    >>> round(ring_from_area_mm(diameter_mm=254, area_growth_cm2=9.03), 2)
    1.14
    """
    check_range(diameter_mm, low=50, high=10_000, quantity="diameter", unit="mm")
    face_cm2 = pi / 4 * diameter_mm**2 / 100
    check_range(area_growth_cm2, low=0, high=face_cm2, quantity="area", unit="cm²")
    return (diameter_mm - sqrt(max(0.0, diameter_mm**2 - 400 * area_growth_cm2 / pi))) / 2


def area_growth_cm2(*, diameter_mm: float, ring_mm: float) -> float:
    """A year's growth of the cut face behind a ring of this width: the inverse of ring_from_area_mm.

    diameter_mm: now, 50 to 10,000.  ring_mm: 0 to half the trunk.  Raises OutOfRange.  Source: geometry [C].

    >>> round(area_growth_cm2(diameter_mm=254, ring_mm=1.138), 2)
    9.04
    """
    check_range(diameter_mm, low=50, high=10_000, quantity="diameter", unit="mm")
    check_range(ring_mm, low=0, high=diameter_mm / 2, quantity="length", unit="mm")
    return pi / 4 * (diameter_mm**2 - (diameter_mm - 2 * ring_mm) ** 2) / 100


@dataclass(frozen=True, slots=True, kw_only=True)
class RingGrowth:
    """Ring growth between two girths: millimetres a year, give or take error_mm, over so many years."""

    ring_mm: float
    error_mm: float
    years: float

    @property
    def long_enough(self) -> bool:
        """Whether the readings lie far enough apart to rest a tree on growth alone: two years."""
        return self.years >= LEAST_YEARS


def ring_growth(*, first_girth_mm: float, second_girth_mm: float, years: float, tape_mm: float = TAPE_MM) -> RingGrowth:
    """Ring growth from two tape readings at the same height, and how well it is known.

    first_girth_mm, second_girth_mm: 150 to 31,400; the second may be smaller (a slip, or bark lost).
    years: between them, 0.5 to 100.  tape_mm: what each reading is good to, 0 to 50.  Raises OutOfRange.
    Error: both readings' own, added in quadrature: two readings good to 1 mm leave 1.4 mm of girth, a fifth of the
    limit after one year and a tenth after two.  Source: ring = girth growth / 2 pi [C].

    >>> growth = ring_growth(first_girth_mm=1_000, second_girth_mm=1_014.4, years=2)
    >>> round(growth.ring_mm, 2), round(growth.error_mm, 2), growth.long_enough
    (1.15, 0.11, True)
    """
    for girth_mm in (first_girth_mm, second_girth_mm):
        check_range(girth_mm, low=150, high=31_400, quantity="girth", unit="mm")
    check_range(years, low=0.5, high=100, quantity="time", unit="years")
    check_range(tape_mm, low=0, high=50, quantity="length", unit="mm")
    return RingGrowth(
        ring_mm=(second_girth_mm - first_girth_mm) / (2 * pi * years),
        error_mm=sqrt(2) * tape_mm / (2 * pi * years),
        years=years,
    )


def dead_share(
    *,
    diameter_mm: float,
    ring_mm: float,
    hole_cm3: float,
    taps: int,
    depth_mm: float = DEPTH_MM,
    band_mm: float = BAND_HEIGHT_MM,
    times: float = COLUMN_TIMES,
) -> float:
    """Share of dead wood within the drill's reach once loss and growth balance, 0 to 1; 1 means used up.

    diameter_mm, depth_mm, band_mm: as zone_volume_cm3.  ring_mm: yearly ring, 0 to half the trunk.
    hole_cm3, times: as column_volume_cm3.  taps: every year, 0 to 4.  Size and growth are held constant.
    Raises OutOfRange.
    Source: each column moves inward by one ring a year and is out of reach after depth / ring years [C]; with times
    50 it gives the 90 % the Vermont study names at its least growth, but times itself is from memory [M].

    >>> round(dead_share(diameter_mm=254, ring_mm=1.138, hole_cm3=1.885, taps=1, band_mm=609.6), 3)
    0.103
    """
    zone_cm3 = zone_volume_cm3(diameter_mm=diameter_mm, depth_mm=depth_mm, band_mm=band_mm)
    column_cm3 = column_volume_cm3(hole_cm3=hole_cm3, times=times)
    check_range(ring_mm, low=0, high=diameter_mm / 2, quantity="length", unit="mm")
    check_range(taps, low=0, high=4, quantity="taps", unit="taps")
    if taps == 0 or column_cm3 == 0:
        return 0.0
    if ring_mm == 0:
        return 1.0
    step = ring_mm / depth_mm
    years = ceil(1 / step)  # a column's last year in reach
    in_reach = years - step * years * (years - 1) / 2
    return min(1.0, taps * column_cm3 * in_reach / zone_cm3)


Advice = Literal["sustainable", "look", "rest", "measure"]


@dataclass(frozen=True, slots=True, kw_only=True)
class GrowthAdvice:
    """What the growth says.

    advice: "sustainable" (the growth less its error reaches the limit), "look" (the limit lies within the error, or
    the readings are under two years apart), "rest" (the growth and its error stay under the limit), "measure" (the
    second girth is smaller by more than the error: measure again).
    growth: what it rests on.  limit_mm: the ring it was held against.
    """

    advice: Advice
    growth: RingGrowth
    limit_mm: float


def growth_advice(growth: RingGrowth, *, limit_mm: float = LEAST_RING_MM) -> GrowthAdvice:
    """Sustainable, or rest, from two girths alone.

    limit_mm: least ring, 1.15 to 20 mm a year; a programme may ask for more, never for less.  Raises OutOfRange.
    Source: least basal area growth of the Vermont study, Forest Science 62(1):107-114, abstract [R], turned into a
    ring [C]. It was measured in woodland on vacuum; a street tree under the limit is a tree in trouble.

    >>> growth_advice(ring_growth(first_girth_mm=1_000, second_girth_mm=1_006, years=2)).advice
    'rest'
    """
    check_range(limit_mm, low=LEAST_RING_MM, high=20, quantity="length", unit="mm")
    if growth.ring_mm < -growth.error_mm:
        advice: Advice = "measure"
    elif growth.ring_mm - growth.error_mm >= limit_mm and growth.long_enough:
        advice = "sustainable"
    elif growth.ring_mm + growth.error_mm < limit_mm and growth.long_enough:
        advice = "rest"
    else:
        advice = "look"
    return GrowthAdvice(advice=advice, growth=growth, limit_mm=limit_mm)


Closure = Literal["closed", "closing", "slow"]


def hole_closure(*, seasons: int, closed: bool) -> Closure:
    """Whether an old hole closes as it should.

    seasons: growing seasons since it was drilled, 0 to 100.  closed: seen to be grown over.
    Gives "closed", "closing" (open, but not yet three growing seasons old) or "slow" (a warning: rest the tree).
    Raises OutOfRange.
    Source: healthy trees close in 2 to 3 years, UVM Extension slides [R]; nearly all closed after three growing
    seasons, Gibbs and Smith, USDA Forest Service Research Note NE-155, 1973, abstract [R]. In Utah 93 % of boxelder
    holes and all of Norway maple had closed within six months, Utah State University thesis, 2024, abstract [R].

    >>> hole_closure(seasons=2, closed=False), hole_closure(seasons=3, closed=False)
    ('closing', 'slow')
    """
    check_range(seasons, low=0, high=100, quantity="time", unit="seasons")
    if closed:
        return "closed"
    return "slow" if seasons >= CLOSED_AFTER_SEASONS else "closing"
