"""Tomorrow's run from a forecast, and the order in which the species end.

A rating says how well tomorrow's low and high fit what good days were like elsewhere; trees decide for themselves.
Degree days are shown beside their definition and give an order, no date: one thesis that looked for a link between
heat sums and off-flavour found none (SUNY ESF, abstract [R]). Swelling buds, cloudy sap and taste end a collection.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from sugarbush.core.errors import check_range, gettext_noop
from sugarbush.core.weather import CROSSES_ZERO

Rating = Literal["quiet", "some", "good"]

# Lows in the 20s °F and highs from the mid-30s through the 40s °F: UVM Extension slides [R].
GOOD_LOW_C = (20 - 32) / 1.8
GOOD_LOW_TOP_C = (30 - 32) / 1.8
GOOD_HIGH_C = 4.0  # "above 4 °C by day", as quoted by Houle et al. 2015 [R]; stricter than the mid-30s °F
GOOD_HIGH_TOP_C = (50 - 32) / 1.8


@dataclass(frozen=True, slots=True, kw_only=True)
class RunRating:
    """How well a day fits.  rating: "quiet", "some" or "good".  reason: one sentence, with gaps for ``values``."""

    rating: Rating
    reason: str
    low_c: float
    high_c: float

    @property
    def values(self) -> dict[str, float]:
        """What fills the gaps of the reason: the day's low and high in °C."""
        return {"low_c": self.low_c, "high_c": self.high_c}


_NO_FROST = gettext_noop("No frost in the night, so little pressure builds up.")
_NO_THAW = gettext_noop("It stays frozen all day.")
_GOOD = gettext_noop("A clear frost, then a mild day: like the good days in the sources.")
_MILD_FROST = gettext_noop("Frost and thaw, but only a light frost.")
_HARD_FROST = gettext_noop("Frost and thaw, but so cold that the trunks thaw late.")
_COOL_DAY = gettext_noop("Frost and thaw, but only a short, cool thaw.")
_WARM_DAY = gettext_noop("Frost and thaw, but so warm that sap spoils fast. Boil it the same day.")


def run_rating(*, low_c: float, high_c: float) -> RunRating:
    """Rate a coming day by its night's low and its high.

    low_c: of the night before the thaw, -80 to 60.  high_c: of the day, low_c to 60.  Raises OutOfRange.
    "quiet": does not pass 0 °C (Ouranos [R]). "good": a low from 20 °F up to under 30 °F, UVM Extension slides [R],
    and a high over 4 °C, as quoted by Houle et al. 2015 [R], under 50 °F (slides). "some": the rest.
    Error: that of the forecast, and trees differ. The steps put together are this project's own; the best days of
    boxelder and Norway maple in Utah (low near -5 °C, high about 6 °C; Mathews et al. 2024, abstract [R]) are good by
    them too.

    >>> [run_rating(low_c=low, high_c=high).rating for low, high in ((-5, 6), (-1, 3), (1, 3))]
    ['good', 'some', 'quiet']
    """
    counts = CROSSES_ZERO.counts(low_c=low_c, high_c=high_c)
    rating: Rating = "some"
    if not counts:
        rating, reason = "quiet", _NO_FROST if low_c >= 0 else _NO_THAW
    elif low_c >= GOOD_LOW_TOP_C:
        reason = _MILD_FROST
    elif low_c < GOOD_LOW_C:
        reason = _HARD_FROST
    elif high_c <= GOOD_HIGH_C:
        reason = _COOL_DAY
    elif high_c >= GOOD_HIGH_TOP_C:
        reason = _WARM_DAY
    else:
        rating, reason = "good", _GOOD
    return RunRating(rating=rating, reason=reason, low_c=low_c, high_c=high_c)


def thaw_hour(hourly_c: Sequence[float]) -> int | None:
    """The first hour of a forecast day in which it is above 0 °C after a frost; None if there is none.

    hourly_c: air temperature hour by hour, -80 to 60 each.  Raises OutOfRange.
    Source: 0 °C, the usual threshold, Houle et al. 2015 [R]. Trunks in the shade follow later.

    >>> thaw_hour([-4, -3, -1, 0, 2, 5, 3, -1])
    4
    """
    frozen = False
    for hour, temperature_c in enumerate(hourly_c):
        check_range(temperature_c, low=-80, high=60, quantity="temperature", unit="°C")
        if frozen and temperature_c > 0:
            return hour
        frozen = frozen or temperature_c < 0
    return None


def hours_to_full(*, capacity_ml: int, held_ml: int, ml_an_hour: float) -> float:
    """Hours until a container runs over; 0 when it is full, infinity when nothing runs.

    capacity_ml: 1 to 1,000,000.  held_ml: 0 or more.  ml_an_hour: 0 to 100,000, the tree's own where it is known.
    Raises OutOfRange.  Source: arithmetic [C].

    >>> hours_to_full(capacity_ml=8_000, held_ml=2_000, ml_an_hour=500)
    12.0
    """
    check_range(capacity_ml, low=1, high=1_000_000, quantity="volume", unit="mL")
    check_range(held_ml, low=0, high=10_000_000, quantity="volume", unit="mL")
    check_range(ml_an_hour, low=0, high=100_000, quantity="rate", unit="mL/h")
    room_ml = max(0, capacity_ml - held_ml)
    if room_ml == 0:
        return 0.0
    return room_ml / ml_an_hour if ml_an_hour else float("inf")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ending:
    """When a species turns: degree days of base 50 °F from 1 January, in °F times days.

    from_f, to_f: where the sources put it, equal for a single number.  stage: what happens then.
    """

    species: str
    from_f: float
    to_f: float
    stage: str
    source: str
    tag: str


_CALENDAR = "a forum quoting the Ohio State phenology calendar"
ENDINGS = (
    Ending(species="Acer saccharinum", from_f=34, to_f=34, stage="first bloom", source=_CALENDAR, tag="R2"),
    Ending(species="Acer rubrum", from_f=44, to_f=44, stage="first bloom", source=_CALENDAR, tag="R2"),
    Ending(species="Acer saccharum", from_f=54, to_f=99, stage="bud break", source="a web log", tag="R2"),
)

Nearness = Literal["ahead", "near", "past", "unknown"]
NEAR_F = 10.0  # one warm day


@dataclass(frozen=True, slots=True, kw_only=True)
class EndOutlook:
    """Where a species stands: "ahead", "near" (within 10 °F days, or inside the range), "past", or "unknown"."""

    species: str
    nearness: Nearness
    ending: Ending | None


def order_of_endings(species: Iterable[str], *, degree_days_f: float) -> list[EndOutlook]:
    """The species of a programme in the order in which they end, and where each stands today.

    species: botanical names; those without a published number come last, in their own order.
    degree_days_f: base 50 °F since 1 January, 0 to 10,000, in °F times days.  Raises OutOfRange.
    Source: numbers [R2]; that red maple comes before sugar maple: UNH Extension, Good Forestry 8.3 [R]. The order is
    the reliable part; buds and taste decide.

    >>> [(one.species, one.nearness) for one in order_of_endings(["Acer saccharum", "Acer rubrum"], degree_days_f=40)]
    [('Acer rubrum', 'near'), ('Acer saccharum', 'ahead')]
    """
    check_range(degree_days_f, low=0, high=10_000, quantity="temperature", unit="°F days")
    known = {ending.species: ending for ending in ENDINGS}
    wanted = list(dict.fromkeys(species))
    wanted.sort(key=lambda name: known[name].from_f if name in known else float("inf"))
    return [
        EndOutlook(species=name, nearness=_nearness(known.get(name), degree_days_f), ending=known.get(name))
        for name in wanted
    ]


def _nearness(ending: Ending | None, degree_days_f: float) -> Nearness:
    if ending is None:
        return "unknown"
    if degree_days_f > ending.to_f:
        return "past"
    return "near" if degree_days_f >= ending.from_f - NEAR_F else "ahead"
