"""Which figure to reckon with: the programme's own before a species' average before the usual one, and say which.

What trees elsewhere gave is a poor guide to a street tree here: the published figures for Norway maple alone lie a
factor of two apart.
"""

from dataclasses import dataclass
from typing import Literal

from sugarbush.core.errors import Missing, check_range, gettext_noop

Kind = Literal["sap_brix", "litres_per_tap"]
Origin = Literal["own", "species", "usual"]
LEAST_OWN = 3  # readings before the programme's own mean is used; the project's own choice


@dataclass(frozen=True, slots=True, kw_only=True)
class Average:
    """A published average.  species: botanical name, "" for any maple.  low, high: the range it was given with."""

    kind: Kind
    species: str
    value: float
    low: float
    high: float
    source: str
    tag: str


AVERAGES = (
    Average(
        kind="sap_brix", species="Acer saccharum", value=2.0, low=2.0, high=2.5,
        source="van den Berg, Perkins and Isselhardt 2019, Agricultural Sciences 10:32-45", tag="R",
    ),
    Average(kind="sap_brix", species="Acer nigrum", value=2.0, low=2.0, high=2.5, source="as sugar maple", tag="R2"),
    Average(kind="sap_brix", species="Acer saccharinum", value=1.7, low=1.7, high=1.7, source="as quoted", tag="R2"),
    Average(
        kind="sap_brix", species="Acer rubrum", value=1.5, low=1.5, high=1.5,
        source="New Hampshire newspaper column, 2010", tag="R2",
    ),
    Average(
        kind="sap_brix", species="Acer negundo", value=2.5, low=2.2, high=2.8,
        source="Crump and Price, NACAA abstract, Utah 2024", tag="R",
    ),
    Average(
        # Utah gave 2.2-2.8 [R], a Toronto pilot 1.24-1.45 [R2]: the middle of all, the whole range shown.
        kind="sap_brix", species="Acer platanoides", value=2.0, low=1.24, high=2.8,
        source="Utah 2024, abstract, and a Toronto pilot as reported; they disagree", tag="R2",
    ),
    Average(
        kind="litres_per_tap", species="", value=38.0, low=19.0, high=57.0,
        source="5 to 15 US gal a season with buckets, several growers", tag="R2",
    ),
    Average(
        kind="litres_per_tap", species="Acer negundo", value=18.4, low=18.4, high=18.4,
        source="Crump and Price, NACAA abstract, Utah 2024, ten trees", tag="R",
    ),
    Average(
        kind="litres_per_tap", species="Acer platanoides", value=8.4, low=7.5, high=9.3,
        source="Mathews et al. 2024, HortTechnology 34(1):52, per tree", tag="R",
    ),
    Average(kind="sap_brix", species="", value=2.0, low=1.0, high=3.0, source="usual for maples", tag="M"),
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A figure and where it came from.  origin: "own" (measured here), "species" or "usual".  readings: own ones."""

    value: float
    origin: Origin
    readings: int
    average: Average | None

    @property
    def said(self) -> str:
        """In words, for the page.

        >>> figure("sap_brix", species="Acer saccharum").said
        'published average of the species'
        """
        return {
            "own": gettext_noop("measured by this programme"),
            "species": gettext_noop("published average of the species"),
            "usual": gettext_noop("usual figure for maples"),
        }[self.origin]


def figure(kind: Kind, *, species: str = "", own: float | None = None, own_readings: int = 0) -> Figure:
    """The figure to reckon with.

    kind: "sap_brix" or "litres_per_tap" (a season, buckets).  species: botanical name, "" unknown.
    own: the programme's own mean, 0 to 1,000, None if there is none.  own_readings: behind it, 0 or more; from three
    on it wins.  Raises OutOfRange, Missing (an own figure without readings).
    Source: the choice is the project's own; averages as AVERAGES say, [R], [R2] or [M] each.

    >>> figure("sap_brix", species="Acer rubrum", own=1.84, own_readings=12).origin
    'own'
    >>> figure("sap_brix", species="Acer rubrum", own=1.84, own_readings=2).value
    1.5
    """
    check_range(own_readings, low=0, high=100_000_000, quantity="weight", unit="")
    if own is not None:
        check_range(own, low=0, high=1_000, quantity="sugar of the sap" if kind == "sap_brix" else "volume", unit="")
        if own_readings == 0:
            raise Missing(quantity="weight", value=None)
        if own_readings >= LEAST_OWN:
            return Figure(value=own, origin="own", readings=own_readings, average=None)
    found = {average.species: average for average in AVERAGES if average.kind == kind}
    average = found.get(species, found[""])
    return Figure(
        value=average.value, origin="species" if average.species else "usual", readings=own_readings, average=average
    )
