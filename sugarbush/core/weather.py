"""Freeze-thaw days by named definitions, degree days, and the weekly outlook of one published model.

Two definitions never share a name: show the name beside every count. Temperatures are of the air, a day's lowest and
highest, in °C.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import exp

from sugarbush.core.errors import OutOfRange, check_range

Day = tuple[float, float]  # lowest, highest


@dataclass(frozen=True, slots=True, kw_only=True)
class FreezeThaw:
    """One definition of a freeze-thaw day: the low under low_c and the high over high_c.

    key: short name.  at_limit: whether a temperature at the limit counts.  source, tag: where it comes from.
    """

    key: str
    name: str
    low_c: float
    high_c: float
    source: str
    tag: str
    at_limit: bool = False

    def counts(self, *, low_c: float, high_c: float) -> bool:
        """Whether a day with this low and high is one.  low_c not above high_c, both -80 to 60.  Raises OutOfRange.

        >>> CROSSES_ZERO.counts(low_c=-5, high_c=6), CROSSES_ZERO.counts(low_c=0, high_c=6)
        (True, False)
        """
        _check_day(low_c, high_c)
        if self.at_limit:
            return low_c <= self.low_c and high_c >= self.high_c
        return low_c < self.low_c and high_c > self.high_c


CROSSES_ZERO = FreezeThaw(key="A", name="Passes 0 °C", low_c=0, high_c=0, source="Ouranos, freeze-thaw event", tag="R")
THIRTY_TO_38 = FreezeThaw(
    key="B", name="Under -1.1 °C, over 3.3 °C", low_c=-1.1, high_c=3.3,
    source="attributed to Skinner, DeGaetano and Chabot 2010; the paper was not opened", tag="M",
)  # fmt: skip
THIRTY_TO_36 = FreezeThaw(
    key="B2", name="Under -1.1 °C, over 2.2 °C", low_c=-1.1, high_c=2.2,
    source="a retelling of the same paper", tag="M",
)  # fmt: skip
THREE_EACH_WAY = FreezeThaw(
    key="C", name="-3 °C or less, 3 °C or more", low_c=-3, high_c=3, at_limit=True, source="no paper behind it", tag="M"
)
TWO_EACH_WAY = FreezeThaw(
    key="D", name="Under -2 °C, over 2 °C", low_c=-2, high_c=2, source="no paper behind it", tag="M"
)
CROSSES_THREE = FreezeThaw(
    key="E", name="Passes 3 °C", low_c=3, high_c=3,
    source="our reading of the threshold of Houle et al. 2015, PLoS ONE 10(12):e0144844", tag="R",
)  # fmt: skip
DEFINITIONS = {
    definition.key: definition
    for definition in (CROSSES_ZERO, THIRTY_TO_38, THIRTY_TO_36, THREE_EACH_WAY, TWO_EACH_WAY, CROSSES_THREE)
}


def _check_day(low_c: float, high_c: float) -> None:
    check_range(low_c, low=-80, high=60, quantity="temperature", unit="°C")
    if not low_c <= high_c <= 60:
        raise OutOfRange(quantity="temperature", value=high_c, low=low_c, high=60, unit="°C")


def freeze_thaw_days(days: Iterable[Day], *, definition: FreezeThaw = CROSSES_ZERO) -> list[bool]:
    """Day by day, whether it is a freeze-thaw day by this definition.

    days: (lowest, highest) in °C.  Raises OutOfRange.

    >>> freeze_thaw_days([(-5, 6), (1, 8), (-4, -1)])
    [True, False, False]
    """
    return [definition.counts(low_c=low_c, high_c=high_c) for low_c, high_c in days]


def degree_day_c(*, low_c: float, high_c: float, base_c: float) -> float:
    """Growing degrees of one day: its mean above the base, never below 0; in °C times days.

    low_c, high_c: -80 to 60 °C.  base_c: the base; sums of different bases never mix.  Raises OutOfRange.
    Source: (Tmax + Tmin) / 2 - base, the usual form; the base is not agreed among publishers.

    >>> degree_day_c(low_c=5, high_c=15, base_c=5)
    5.0
    """
    _check_day(low_c, high_c)
    return max(0.0, (low_c + high_c) / 2 - base_c)


def degree_day_f(*, low_f: float, high_f: float, base_f: float = 50.0) -> float:
    """Growing degrees of one day in °F times days, base 50 °F unless said.  Range as degree_day_c.

    >>> degree_day_f(low_f=42, high_f=64), degree_day_f(low_f=40, high_f=60)
    (3.0, 0.0)
    """
    _check_day((low_f - 32) / 1.8, (high_f - 32) / 1.8)
    return max(0.0, (low_f + high_f) / 2 - base_f)


def degree_days_c(days: Iterable[Day], *, base_c: float) -> float:
    """Growing degree days of a run of days, counted from the first.  Arguments and errors as degree_day_c.

    >>> degree_days_c([(5, 15), (-3, 4), (0, 12)], base_c=5)
    6.0
    """
    return sum(degree_day_c(low_c=low_c, high_c=high_c, base_c=base_c) for low_c, high_c in days)


OUTLOOK_LIMIT = 0.51


def weekly_outlook(*, freeze_thaw_count: int, degree_days: float) -> float:
    """How likely a week gives sap, 0 to 1, by one published model; from 0.51 it counts as producing.

    freeze_thaw_count: days passing 3 °C since 1 January (CROSSES_THREE), 0 to 366.
    degree_days: above 5 °C since 1 January, 0 or more.  Raises OutOfRange.
    Source: Houle et al. 2015, PLoS ONE 10(12):e0144844 [R]; which days count is our reading. Fitted to Quebec
    woodland: an outlook, no advice to tap.

    >>> round(weekly_outlook(freeze_thaw_count=9, degree_days=0), 3)
    0.568
    """
    check_range(freeze_thaw_count, low=0, high=366, quantity="time", unit="days")
    check_range(degree_days, low=0, high=10_000, quantity="temperature", unit="°C days")
    z = -5.09 + 0.722 * freeze_thaw_count - 0.014 * freeze_thaw_count**2 - 0.07 * degree_days
    # Both ends of the curve, without overflow.
    return 1 / (1 + exp(-z)) if z > -700 else 0.0
