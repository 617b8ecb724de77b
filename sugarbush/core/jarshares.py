"""From millilitres to jars: every jar of every size finds a taker, and nobody is far from what is due to them.

The largest jars go first, each to whoever still has most to come. With jars of one size that is the largest remainder
(core.shares); with several it is the same step, size after size, on what is still due.
"""

import heapq
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from sugarbush.core.errors import OutOfRange


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """What one party is to get.

    key: whose.  entitled_ml: 0 or more.  first: jars that go to it before anything else, by size in millilitres (a
    first jar for everyone, jars set aside, jars it has already).  Raises OutOfRange.
    """

    key: str
    entitled_ml: int
    first: Mapping[int, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for value in (self.entitled_ml, *self.first.values()):
            if value < 0:
                raise OutOfRange(quantity="volume", value=value, low=0, high="any", unit="mL")


@dataclass(frozen=True, slots=True, kw_only=True)
class Jars:
    """What one party gets.

    jars: by size in millilitres, largest first, none of them 0.  given_ml: what those hold.
    place: in the queue for the jars left over when nobody has a whole smallest jar to come any more, 1 first; 0 where
    there is nothing to come.  by_remainder: whether a jar left over came to this party.
    """

    key: str
    entitled_ml: int
    jars: Mapping[int, int]
    given_ml: int
    place: int
    by_remainder: bool

    @property
    def over_ml(self) -> int:
        """What the jars hold over (+) or under (-) what was due."""
        return self.given_ml - self.entitled_ml


def jars_ml(jars: Mapping[int, int]) -> int:
    """What jars hold together.  jars: by size in millilitres, counts 0 or more.  Raises OutOfRange.

    >>> jars_ml({500: 2, 250: 3})
    1750
    """
    for size_ml, count in jars.items():
        if size_ml <= 0 or count < 0:
            raise OutOfRange(quantity="volume", value=size_ml, low=1, high="any", unit="mL")
    return sum(size_ml * count for size_ml, count in jars.items())


def share_jars(jars: Mapping[int, int], dues: Sequence[Due]) -> list[Jars]:
    """Share out whole jars of several sizes; of each size all there are, to the jar.

    jars: how many there are by size in millilitres.  dues: one for each key; their millilitres add up to what the jars
    hold. Ties go by more entitled, then key, so that the order of the people changes nothing. In the order given.
    Where nothing goes first, nobody is as much as one largest jar over or under.
    Raises OutOfRange: a key twice, millilitres that do not add up, more jars to go first than there are.

    >>> [dict(one.jars) for one in share_jars({500: 1, 250: 3}, [
    ...     Due(key="Ada", entitled_ml=780), Due(key="Bo", entitled_ml=470)])]
    [{500: 1, 250: 1}, {250: 2}]
    """
    keys = [due.key for due in dues]
    if len(set(keys)) != len(keys):
        raise OutOfRange(quantity="weight", value=len(keys), low=len(set(keys)), high=len(set(keys)), unit="")
    pool_ml, asked_ml = jars_ml(jars), sum(due.entitled_ml for due in dues)
    if pool_ml != asked_ml:
        raise OutOfRange(quantity="pool", value=asked_ml, low=pool_ml, high=pool_ml, unit="mL")
    left = dict(jars)
    given: dict[str, dict[int, int]] = {}
    to_come: dict[str, int] = {}
    for due in dues:
        given[due.key] = {size_ml: count for size_ml, count in due.first.items() if count}
        to_come[due.key] = due.entitled_ml - jars_ml(due.first)
        for size_ml, count in due.first.items():
            left[size_ml] = left.get(size_ml, 0) - count
    short = {size_ml: count for size_ml, count in left.items() if count < 0}
    if short:
        size_ml, count = next(iter(sorted(short.items())))
        there = jars.get(size_ml, 0)
        raise OutOfRange(quantity="pool", value=there - count, low=0, high=there, unit="")
    entitled = {due.key: due.entitled_ml for due in dues}
    queue = [(-to_come[key], -entitled[key], key) for key in keys]
    heapq.heapify(queue)
    places: dict[str, int] = {}
    by_remainder: set[str] = set()
    sizes = sorted((size_ml for size_ml, count in left.items() if count), reverse=True)
    for size_ml in sizes:
        for _jar in range(left[size_ml]):
            if not places and size_ml == sizes[-1] and -queue[0][0] < size_ml:
                places = _places(queue)
            negative, second, key = queue[0]
            if places:
                by_remainder.add(key)
            given[key][size_ml] = given[key].get(size_ml, 0) + 1
            heapq.heapreplace(queue, (negative + size_ml, second, key))
    places = places or _places(queue)
    return [
        Jars(
            key=key,
            entitled_ml=entitled[key],
            jars=dict(sorted(given[key].items(), reverse=True)),
            given_ml=jars_ml(given[key]),
            place=places.get(key, 0),
            by_remainder=key in by_remainder,
        )
        for key in keys
    ]


def _places(queue: Sequence[tuple[int, int, str]]) -> dict[str, int]:
    """The place of everyone who has anything to come."""
    waiting = sorted(entry for entry in queue if entry[0] < 0)
    return {key: place for place, (_negative, _second, key) in enumerate(waiting, start=1)}


def most_first_jars(there: int, claimants: int) -> int:
    """How many jars of one size everyone can have first: the most that fits.  Both 0 or more.  Raises OutOfRange.

    >>> most_first_jars(84, 40), most_first_jars(84, 0)
    (2, 0)
    """
    if there < 0 or claimants < 0:
        raise OutOfRange(quantity="pool", value=min(there, claimants), low=0, high="any", unit="")
    return there // claimants if claimants else 0
