"""Girth, diameter, and how many taps a trunk may carry.

Sizes are whole micrometres. A girth becomes a diameter rounded DOWN, so a trunk reaches a limit only if its unrounded
diameter does. Only guidelines as strict as the conservative one can be built; looser published tables are kept apart
as a different type, for comparison.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from typing import Literal

from sugarbush.core.errors import Missing, OutOfRange, TooLoose
from sugarbush.core.units import from_um, plain

PI = Decimal("3.14159265358979323846264338327950288419716939937510")
INCH_UM = 25_400
LARGEST_DIAMETER_UM = 10_000_000  # ten metres: no maple comes near it, a slip of the unit does
LARGEST_GIRTH_UM = 31_415_926
MOST_TAPS = 2
FIRST_TAP_UM = 304_800  # 12 in
SECOND_TAP_UM = 457_200  # 18 in

Across = Literal["across", "round"]


def diameter_from_girth_um(girth_um: int) -> int:
    """Diameter of a round trunk with this girth, rounded down to the micrometre.

    girth_um: 1 to 31,415,926 (10 m across).  Raises OutOfRange (in cm).  Source: d = girth / pi [C].

    >>> diameter_from_girth_um(1_436_000)
    457092
    """
    if not 1 <= girth_um <= LARGEST_GIRTH_UM:
        raise OutOfRange(
            quantity="girth", value=plain(from_um(girth_um, "cm")), low="0.0001", high="3141.5926", unit="cm"
        )
    return int((Decimal(girth_um) / PI).to_integral_value(rounding=ROUND_FLOOR))


def girth_from_diameter_um(diameter_um: int) -> int:
    """Girth of a round trunk, rounded up, so that diameter_from_girth_um gives the same diameter back.

    diameter_um: 1 to 9,999,999.  Raises OutOfRange (in cm).  Source: girth = pi d [C].

    >>> girth_from_diameter_um(304_800)
    957558
    """
    _check_diameter(diameter_um)
    return int((Decimal(diameter_um) * PI).to_integral_value(rounding=ROUND_CEILING))


def _check_diameter(diameter_um: int) -> None:
    if not 0 < diameter_um < LARGEST_DIAMETER_UM:
        raise OutOfRange(
            quantity="diameter", value=plain(from_um(diameter_um, "cm")), low="0.0001", high="999.9999", unit="cm"
        )


def size_as_diameter_um(length_um: int, measured: Across) -> int:
    """The diameter behind a size as it was given: "18 in across" or "141 cm round".

    length_um: above 0.  measured: "across" is judged as given, "round" is divided by pi.  Raises OutOfRange.

    >>> size_as_diameter_um(1_410_000, "round")
    448816
    """
    if measured == "round":
        return diameter_from_girth_um(length_um)
    _check_diameter(length_um)
    return length_um


def judged_diameter_um(stems_um: Iterable[int]) -> int:
    """The one diameter that judges a tree of several stems: the largest single stem. Stems are never added up.

    stems_um: diameters of the stems, each measured alone.  Raises Missing for none, OutOfRange.
    Source: conservative reading for this project; a sum of stems would allow taps no stem can bear.

    >>> judged_diameter_um([250_000, 310_000, 280_000])
    310000
    """
    stems = list(stems_um)
    if not stems:
        raise Missing(quantity="diameter", value=None)
    for stem_um in stems:
        _check_diameter(stem_um)
    return max(stems)


@dataclass(frozen=True, slots=True, kw_only=True)
class Guideline:
    """A rule a programme may work by: the conservative guideline or a stricter one.

    thresholds_um: the unrounded diameter from which the first, the second tap is allowed; one or two, rising.
    most: 1 or 2.  source and tag: where it comes from.  Raises TooLoose, OutOfRange.

    >>> Guideline(name="One", thresholds_um=(400_000,), source="own rule", tag="M", most=1).most
    1
    """

    name: str
    thresholds_um: tuple[int, ...]
    source: str
    tag: str
    most: int = MOST_TAPS

    def __post_init__(self) -> None:
        if not 1 <= self.most <= MOST_TAPS:
            raise OutOfRange(quantity="taps", value=self.most, low=1, high=MOST_TAPS, unit="taps")
        if not 1 <= len(self.thresholds_um) <= MOST_TAPS:
            raise OutOfRange(
                quantity="sizes in the guideline", value=len(self.thresholds_um), low=1, high=MOST_TAPS, unit="sizes"
            )
        names = ("smallest size for one tap", "smallest size for two taps")
        # A second tap may not come at a smaller size than the first.
        lowest = (FIRST_TAP_UM, max(SECOND_TAP_UM, self.thresholds_um[0]))
        for name, given_um, low_um in zip(names, self.thresholds_um, lowest, strict=False):
            _check_diameter(given_um)
            if given_um < low_um:
                low = plain(from_um(low_um, "cm"))
                raise TooLoose(quantity=name, value=plain(from_um(given_um, "cm")), low=low, unit="cm")


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishedTable:
    """A published table shown beside the programme's guideline, never worked by.

    thresholds_um: diameter from which 1, 2, 3 ... taps are given.  tag: "R" read in the publisher's own text, "R2"
    second-hand; only "R" may be shown as a checked source.

    >>> TRADITIONAL.checked
    True
    """

    name: str
    thresholds_um: tuple[int, ...]
    source: str
    tag: str

    @property
    def checked(self) -> bool:
        """Whether the publisher's own text was read."""
        return self.tag == "R"

    def taps(self, diameter_um: int) -> int:
        """Taps this table gives.  diameter_um: above 0.  Raises OutOfRange.

        >>> TRADITIONAL.taps(406_400)
        2
        """
        _check_diameter(diameter_um)
        return sum(diameter_um >= threshold_um for threshold_um in self.thresholds_um)


CONSERVATIVE = Guideline(
    name="Conservative",
    thresholds_um=(FIRST_TAP_UM, SECOND_TAP_UM),
    # The library's abstract says "more than 18 inches", slides say "18+"; at exactly 18 in the second tap is allowed.
    source=(
        "12 in: Ohio State University Extension, January 2013 [R]; 18 in: abstract of A History of Taps and Tree Size, "
        "mapleresearch.org, which gives the conservative guideline of the North American Maple Syrup Producers "
        "Manual as 12 in and more than 18 in [R]"
    ),
    tag="R",
)


def _inches(*sizes: int) -> tuple[int, ...]:
    return tuple(size * INCH_UM for size in sizes)


TRADITIONAL = PublishedTable(
    name="Traditional",
    # "Over 25 in": the fourth tap starts above 25 in, so one micrometre later.
    thresholds_um=(*_inches(10, 16, 21), 25 * INCH_UM + 1),
    source="Ohio State University Extension, fact sheet F-36-02, Hobby Maple Syrup Production",
    tag="R",
)
MICHIGAN = PublishedTable(
    name="Michigan",
    thresholds_um=_inches(10, 16),
    source="Michigan State University Extension, Making maple syrup in your own backyard, part 1",
    tag="R",
)
SHIGO = PublishedTable(
    name="Shigo's tree dictionary",
    thresholds_um=_inches(10, 18, 23),
    source="treedictionary.com, entry tapping",
    tag="R",
)
FEDERAL_PERMIT = PublishedTable(
    name="A federal forest permit",
    thresholds_um=_inches(12, 19),
    source="a permit holder's account, February 2014",
    tag="R2",
)
CORNELL_HOME = PublishedTable(
    name="Cornell, home scale",
    thresholds_um=_inches(10, 18, 25),
    source="newspaper citing Cornell, March 2019",
    tag="R2",
)
MAINE = PublishedTable(
    name="Maine",
    thresholds_um=_inches(10, 20, 25),
    source="notes matching University of Maine Extension Bulletin 7036",
    tag="R2",
)
ONTARIO = PublishedTable(
    name="Ontario agroforestry advice",
    thresholds_um=(300_000, 600_000),
    source="farm-news page, January 2014; the second tap at about twice the size of the first",
    tag="R2",
)
COMPARISON_TABLES = (TRADITIONAL, MICHIGAN, SHIGO, FEDERAL_PERMIT, CORNELL_HOME, MAINE, ONTARIO)


def allowed_taps(diameter_um: int, guideline: Guideline = CONSERVATIVE) -> int:
    """Taps a trunk may carry under the programme's guideline: 0, 1 or 2.

    diameter_um: above 0, below 10 m.  Raises OutOfRange.  Source: the guideline's own.
    Permission, permit and health check may lower the number; nothing raises it.

    >>> [allowed_taps(size) for size in (304_799, 304_800, 457_199, 457_200)]
    [0, 1, 1, 2]
    """
    _check_diameter(diameter_um)
    reached = sum(diameter_um >= threshold_um for threshold_um in guideline.thresholds_um)
    return min(reached, guideline.most)


def stricter_guideline(*, name: str, first_um: int, second_um: int | None = None) -> Guideline:
    """A programme's own guideline, at least as strict as the conservative one.

    first_um: at least 304,800 (12 in).  second_um: at least 457,200 (18 in) and not below first_um; None = one tap
    is the most.  Raises TooLoose, OutOfRange.

    >>> stricter_guideline(name="Quillhaven", first_um=350_000, second_um=500_000).thresholds_um
    (350000, 500000)
    """
    thresholds_um = (first_um,) if second_um is None else (first_um, second_um)
    return Guideline(
        name=name, thresholds_um=thresholds_um, source="the programme's own rule", tag="M", most=len(thresholds_um)
    )
