"""Sharing out a pool so that the shares add up exactly: largest remainder, in millilitres and in jars.

Weights are exact numbers (whole numbers, decimals or fractions); the same input gives the same answer on every
machine. The method is the one known from seats in parliaments (Hamilton, Hare-Niemeyer); common knowledge, no source
opened.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import lcm

from sugarbush.core.errors import OutOfRange

Weight = int | Decimal | Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """One share.

    key: whose.  weight: as given.  quota: the exact entitlement, not rounded.  units: what is handed out.
    remainder_place: the place in the queue for the units left over, 1 first; 0 for a weight of nothing.
    by_remainder: whether a unit left over came to this share.
    """

    key: str
    weight: Fraction
    quota: Fraction
    units: int
    remainder_place: int
    by_remainder: bool


def largest_remainder(pool_units: int, weights: Mapping[str, Weight], *, floor_units: int = 0) -> list[Share]:
    """Share out whole units by weight; the sum is the pool, to the unit.

    pool_units: 0 or more.  weights: each 0 or more, not all 0 (unless the pool or the list is empty).
    floor_units: what everyone with a weight above 0 gets first; it must not use up more than the pool.
    Left-over units go by largest remainder, then larger weight, then key. In the order of the keys given.
    Raises OutOfRange.

    >>> [share.units for share in largest_remainder(10, {"Ada": 1, "Bo": 1, "Cy": 1})]
    [4, 3, 3]
    """
    if pool_units < 0:
        raise OutOfRange(quantity="pool", value=pool_units, low=0, high="any", unit="")
    exact = {key: _exact(weight) for key, weight in weights.items()}
    # Whole numbers from here on: the same shares, and two thousand people are done in a moment.
    scale = lcm(*(weight.denominator for weight in exact.values()))
    parts = {key: weight.numerator * (scale // weight.denominator) for key, weight in exact.items()}
    total = sum(parts.values())
    claimants = [key for key, part in parts.items() if part]
    if pool_units and not claimants:
        raise OutOfRange(quantity="weight", value=0, low="above 0", high="any", unit="")
    if floor_units < 0 or floor_units * len(claimants) > pool_units:
        most = pool_units // len(claimants) if claimants else 0
        raise OutOfRange(quantity="pool", value=floor_units, low=0, high=most, unit="")
    spread = pool_units - floor_units * len(claimants)
    whole, left_over = {}, {}
    for key in claimants:
        whole[key], left_over[key] = divmod(spread * parts[key], total)
    queue = sorted(claimants, key=lambda key: (-left_over[key], -parts[key], key))
    places = {key: place for place, key in enumerate(queue, start=1)}
    left = spread - sum(whole.values())
    return [
        Share(
            key=key,
            weight=weight,
            quota=floor_units + Fraction(spread * parts[key], total) if key in whole else Fraction(0),
            units=floor_units + whole[key] + (places[key] <= left) if key in whole else 0,
            remainder_place=places.get(key, 0),
            by_remainder=0 < places.get(key, 0) <= left,
        )
        for key, weight in exact.items()
    ]


def _exact(weight: Weight) -> Fraction:
    if isinstance(weight, Decimal) and not weight.is_finite():
        raise OutOfRange(quantity="weight", value=weight, low=0, high="any", unit="")
    exact = Fraction(weight)
    if exact < 0:
        raise OutOfRange(quantity="weight", value=weight, low=0, high="any", unit="")
    return exact


def shares_ml(pool_ml: int, weights: Mapping[str, Weight], *, floor_ml: int = 0) -> dict[str, int]:
    """Millilitres for each, adding up to the pool.  Arguments and errors as largest_remainder.

    >>> shares_ml(1000, {"Ada": 2, "Bo": 1})
    {'Ada': 667, 'Bo': 333}
    """
    return {share.key: share.units for share in largest_remainder(pool_ml, weights, floor_units=floor_ml)}


def shares_jars(jars: int, weights: Mapping[str, Weight], *, floor_jars: int = 0) -> dict[str, int]:
    """Whole jars of one size for each, adding up to the jars there are.  Arguments and errors as largest_remainder.

    >>> shares_jars(80, {"Ada": 3, "Bo": 1}, floor_jars=1)
    {'Ada': 60, 'Bo': 20}
    """
    return {share.key: share.units for share in largest_remainder(jars, weights, floor_units=floor_jars)}


def sap_weight(*, volume_ml: int, sugar_brix: Decimal) -> Decimal:
    """The weight of sap in a share by sugar brought: litres times Brix, exact.

    volume_ml: 0 or more.  sugar_brix: 0 to 100.  Raises OutOfRange.
    Source: the programme's own rule (volume times Brix); sap is so thin that mass would change nothing.

    >>> sap_weight(volume_ml=84_500, sugar_brix=Decimal("2.10"))
    Decimal('177.45')
    """
    if volume_ml < 0:
        raise OutOfRange(quantity="volume", value=volume_ml, low=0, high="any", unit="mL")
    if not (sugar_brix.is_finite() and 0 <= sugar_brix <= 100):
        raise OutOfRange(quantity="sugar", value=sugar_brix, low=0, high=100, unit="Brix")
    return volume_ml * sugar_brix / 1000
