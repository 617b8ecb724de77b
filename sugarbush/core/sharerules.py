"""The programme's share rules: set-asides first, then the rest in parts, each part by one measure.

A rule is data, frozen before the season. The same claims give the same shares on every machine, in whatever order they
come; every sum is exact. The rules are the programme's own to choose; none is read from a source.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from sugarbush.core.errors import OutOfRange
from sugarbush.core.shares import Share, largest_remainder, sap_weight

Measure = Literal["equal", "sap", "sugar", "hours", "taps"]
MEASURES: tuple[Measure, ...] = ("equal", "sap", "sugar", "hours", "taps")


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """What one party brings.

    key: whose.  sap_ml: counted sap delivered.  sugar_weight: litres times Brix, see sugar_weight.
    worked_min: minutes of work.  taps: on an owner's trees.  All 0 or more.  equally: whether it is in the parts that
    are shared equally.  Raises OutOfRange.
    """

    key: str
    sap_ml: int = 0
    sugar_weight: Decimal = Decimal(0)
    worked_min: int = 0
    taps: int = 0
    equally: bool = True

    def __post_init__(self) -> None:
        for quantity, value in (
            ("volume", self.sap_ml),
            ("sugar", self.sugar_weight),
            ("hours worked", self.worked_min),
            ("taps", self.taps),
        ):
            if not value >= 0:
                raise OutOfRange(quantity=quantity, value=value, low=0, high="any", unit="")

    def weight(self, measure: Measure) -> int | Decimal:
        """What the claim weighs by a measure; by "equal" each claim in it weighs 1.

        >>> Claim(key="Ada", sap_ml=84_500).weight("sap"), Claim(key="Ada", sap_ml=84_500).weight("equal")
        (84500, 1)
        """
        if measure == "equal":
            return int(self.equally)
        brought: dict[Measure, int | Decimal] = {
            "sap": self.sap_ml,
            "sugar": self.sugar_weight,
            "hours": self.worked_min,
            "taps": self.taps,
        }
        return brought[measure]


def sugar_weight(parts: Sequence[tuple[int, Decimal]]) -> Decimal:
    """The weight of several deliveries in a share by sugar: the sum of litres times Brix, exact.

    parts: (volume_ml, sugar_brix) of each; ranges and errors as sap_weight.

    >>> sugar_weight([(9_000, Decimal("1.4")), (60_000, Decimal("2.0"))])
    Decimal('132.6')
    """
    return sum((sap_weight(volume_ml=volume_ml, sugar_brix=brix) for volume_ml, brix in parts), Decimal(0))


@dataclass(frozen=True, slots=True, kw_only=True)
class SetAside:
    """What goes off first.  key: to whom (school, food bank, sampling, next year).  units: whole ones, 0 or more."""

    key: str
    units: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part of what is left after the set-asides.

    measure: how it is shared.  of_rest: its weight against the other parts, above 0 (9 and 1: nine tenths, a tenth).
    floor_units: first of all for everyone in it, 0 or more.  least: claims under this weight are not in it.
    """

    measure: Measure
    of_rest: Fraction | int = 1
    floor_units: int = 0
    least: Fraction | int = 0

    def __post_init__(self) -> None:
        if self.measure not in MEASURES:
            raise OutOfRange(quantity="weight", value=self.measure, low=MEASURES[0], high=MEASURES[-1], unit="")
        if not self.of_rest > 0:
            raise OutOfRange(quantity="share of the pool", value=self.of_rest, low="above 0", high="any", unit="")


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareOut:
    """A pool shared out.

    set_asides: key and units.  parts: for each part of the rule its pool and shares (remainder order within).
    totals: units for each claim over all parts, by key.  pool_units: all of it: set-asides and totals add up to it.
    """

    pool_units: int
    set_asides: tuple[tuple[str, int], ...]
    parts: tuple[tuple[Part, int, tuple[Share, ...]], ...]
    totals: Mapping[str, int]


def share_out(
    pool_units: int, claims: Sequence[Claim], *, rule: Sequence[Part], set_asides: Sequence[SetAside] = ()
) -> ShareOut:
    """Share out a pool by a rule.

    pool_units: millilitres or jars of one size, 0 or more.  claims: one for each key.  rule: one or more parts; a part
    nobody has a claim in goes to the other parts.  set_asides: at most the pool together.
    Raises OutOfRange: a set-aside or floor that does not fit, a key twice, nobody with any claim.
    Source: largest remainder within each part, and between the parts.

    >>> out = share_out(84, [Claim(key=name, sap_ml=ml) for name, ml in (("Ada", 84_500), ("Bo", 20_000))],
    ...     rule=[Part(measure="sap", floor_units=1)], set_asides=[SetAside(key="school", units=4)])
    >>> out.totals, sum(out.totals.values()) + 4
    ({'Ada': 64, 'Bo': 16}, 84)
    """
    claims = sorted(claims, key=lambda claim: claim.key)
    keys = [claim.key for claim in claims]
    if len(set(keys)) != len(keys):
        raise OutOfRange(quantity="weight", value=len(keys), low=len(set(keys)), high=len(set(keys)), unit="")
    aside = [(one.key, one.units) for one in set_asides]
    taken = sum(units for _, units in aside)
    if pool_units < 0 or taken > pool_units or any(units < 0 for _, units in aside):
        raise OutOfRange(quantity="pool", value=taken, low=0, high=pool_units, unit="")
    weights = [_weights(part, claims) for part in rule]
    alive = {str(place): Fraction(part.of_rest) for place, part in enumerate(rule) if any(weights[place].values())}
    if pool_units - taken and not alive:
        raise OutOfRange(quantity="weight", value=0, low="above 0", high="any", unit="")
    pools = {share.key: share.units for share in largest_remainder(pool_units - taken, alive)} if alive else {}
    parts, totals = [], dict.fromkeys(keys, 0)
    for place, part in enumerate(rule):
        part_pool = pools.get(str(place), 0)
        floor = part.floor_units if str(place) in alive else 0
        shares = largest_remainder(part_pool, weights[place], floor_units=floor)
        for share in shares:
            totals[share.key] += share.units
        parts.append((part, part_pool, tuple(shares)))
    return ShareOut(pool_units=pool_units, set_asides=tuple(aside), parts=tuple(parts), totals=totals)


def _weights(part: Part, claims: Sequence[Claim]) -> dict[str, int | Decimal]:
    """What each claim weighs in a part; below the least it weighs nothing."""
    found = {claim.key: claim.weight(part.measure) for claim in claims}
    return {key: weight if Fraction(weight) >= part.least else 0 for key, weight in found.items()}
