"""How long sap keeps: the programme's own boil-by policy. A design choice, no food-safety standard.

Three clocks run and the earliest rules: seven days since collection; 168 equivalent hours at 3.33 °C (38 °F), where
warm hours count more and cold ones never less; and 24 hours above 10 °C by a log of the sap itself.
Cloudy, ropy or sour sap is tipped out whatever the clocks say.
Source of the seven days: several pages repeat "38 °F or colder, within 7 days" without naming an origin [R2]; of the
slow and quick growth below 4.4 °C and above 10 °C: OSU Extension [R]; the square-root growth law and its -5 °C [M].
A programme may make the policy stricter, never looser.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from sugarbush.core.errors import Missing, OutOfRange, check_range

REFERENCE_C = 10 / 3  # 38 °F
NO_GROWTH_C = -5.0
LIMIT_H = 168.0
SOON_H = 120.0
WARM_C = 10.0
WARM_LIMIT_H = 24.0

GAP_H = 6.0  # readings further apart than this are no log of the time between

Standing = Literal["keeps", "boil soon", "late"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Policy:
    """The numbers of the boil-by policy; as they stand here, or stricter.

    limit_h: 24 to 168, of both the plain and the equivalent clock.  soon_h: "boil soon" from here, 0 to limit_h.
    warm_limit_h: hours over 10 °C by a log, 0 to 24.  no_growth_c: -5 to 2; nearer the reference, warm sap ages faster.
    Raises OutOfRange.  Source: the programme's own design; see the module.

    >>> Policy(limit_h=120, soon_h=72).limit_h
    120
    """

    limit_h: float = LIMIT_H
    soon_h: float = SOON_H
    warm_limit_h: float = WARM_LIMIT_H
    no_growth_c: float = NO_GROWTH_C

    def __post_init__(self) -> None:
        check_range(self.limit_h, low=24, high=LIMIT_H, quantity="time", unit="h")
        check_range(self.soon_h, low=0, high=self.limit_h, quantity="time", unit="h")
        check_range(self.warm_limit_h, low=0, high=WARM_LIMIT_H, quantity="time", unit="h")
        check_range(self.no_growth_c, low=NO_GROWTH_C, high=2, quantity="temperature", unit="°C")


USUAL = Policy()


@dataclass(frozen=True, slots=True, kw_only=True)
class Spell:
    """A stretch of time at one temperature.

    hours: 0 or more.  temperature_c: -40 to 60; of the sap where logged, else the day's mean air or the depot's usual.
    sap_logged: whether the sap's own temperature was written down.
    frozen_solid: a person says it was frozen right through; only then do the clocks stand still.
    """

    hours: float
    temperature_c: float
    sap_logged: bool = False
    frozen_solid: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SapAge:
    """Where the three clocks of one lot stand, in hours."""

    elapsed_h: float = 0.0
    equivalent_h: float = 0.0
    warm_h: float = 0.0

    @property
    def standing(self) -> Standing:
        """ "keeps", "boil soon" (from 120 h) or "late" (past a limit; exactly at it is still allowed)."""
        return self.standing_under(USUAL)

    def standing_under(self, policy: Policy) -> Standing:
        """The same under a stricter policy.

        >>> SapAge(elapsed_h=100, equivalent_h=100).standing_under(Policy(limit_h=96, soon_h=72))
        'late'
        """
        longest_h = max(self.equivalent_h, self.elapsed_h)
        if longest_h > policy.limit_h or self.warm_h > policy.warm_limit_h:
            return "late"
        return "boil soon" if longest_h >= policy.soon_h else "keeps"


def growth_weight(temperature_c: float, *, policy: Policy = USUAL) -> float:
    """Hours at 3.33 °C that one hour at this temperature counts for; never under 1.

    temperature_c: -40 to 60.  Raises OutOfRange.  Source: square-root growth law [M], see the module.

    >>> growth_weight(0), round(growth_weight(10), 2), round(growth_weight(20), 2)
    (1.0, 3.24, 9.0)
    """
    check_range(temperature_c, low=-40, high=60, quantity="temperature", unit="°C")
    # Below -5 °C the parabola would rise again; there as everywhere under 38 °F an hour counts as an hour.
    if temperature_c <= REFERENCE_C:
        return 1.0
    return ((temperature_c - policy.no_growth_c) / (REFERENCE_C - policy.no_growth_c)) ** 2


def sap_age(spells: Iterable[Spell], *, start: SapAge | None = None, policy: Policy = USUAL) -> SapAge:
    """Let the clocks run through spells, from the moment the sap left the tree (or from start).

    Raises OutOfRange for hours below 0 or a temperature outside -40 to 60 °C.  Source: the policy of this module.

    >>> age = sap_age([Spell(hours=48, temperature_c=2), Spell(hours=12, temperature_c=10, sap_logged=True),
    ...     Spell(hours=6, temperature_c=15, sap_logged=True)])
    >>> round(age.equivalent_h, 2), age.warm_h, age.standing
    (121.44, 6.0, 'boil soon')
    """
    age = start or SapAge()
    elapsed_h, equivalent_h, warm_h = age.elapsed_h, age.equivalent_h, age.warm_h
    for spell in spells:
        check_range(spell.hours, low=0, high=100_000, quantity="time", unit="h")
        weight = growth_weight(spell.temperature_c, policy=policy)
        if spell.frozen_solid:
            continue
        elapsed_h += spell.hours
        equivalent_h += weight * spell.hours
        if spell.sap_logged and spell.temperature_c > WARM_C:
            warm_h += spell.hours
    return SapAge(elapsed_h=elapsed_h, equivalent_h=equivalent_h, warm_h=warm_h)


def pooled_age(ages: Iterable[SapAge]) -> SapAge:
    """The age of sap poured together: the worst of each clock among its parts.

    Raises Missing for no parts.

    >>> pooled_age([SapAge(elapsed_h=10, equivalent_h=30), SapAge(elapsed_h=20, equivalent_h=20)])
    SapAge(elapsed_h=20, equivalent_h=30, warm_h=0.0)
    """
    parts = list(ages)
    if not parts:
        raise Missing(quantity="time", value=None)
    return SapAge(
        elapsed_h=max(part.elapsed_h for part in parts),
        equivalent_h=max(part.equivalent_h for part in parts),
        warm_h=max(part.warm_h for part in parts),
    )


def hours_left(age: SapAge, *, temperature_c: float, sap_logged: bool = False, policy: Policy = USUAL) -> float:
    """Hours until the earliest clock runs out if it stays at this temperature; 0 when it is out.

    temperature_c: -40 to 60.  sap_logged: whether the sap's own temperature is being written down; without a log the
    24 warm hours do not run.  Raises OutOfRange.

    >>> round(hours_left(SapAge(), temperature_c=10), 1)
    51.9
    """
    weight = growth_weight(temperature_c, policy=policy)
    left = [policy.limit_h - age.elapsed_h, (policy.limit_h - age.equivalent_h) / weight]
    if age.warm_h > policy.warm_limit_h:
        return 0.0
    if sap_logged and temperature_c > WARM_C:
        left.append(policy.warm_limit_h - age.warm_h)
    return max(0.0, min(left))


def boil_by(
    age: SapAge, *, now: datetime, temperature_c: float, sap_logged: bool = False, policy: Policy = USUAL
) -> datetime:
    """The moment by which it should be in the pan, if it stays at this temperature from now on.

    now: with its time zone.  Other arguments and errors as hours_left. For sap already late this is now; how late it
    is, standing and the clocks tell.

    >>> from datetime import UTC
    >>> boil_by(SapAge(), now=datetime(2026, 3, 1, 8, tzinfo=UTC), temperature_c=3).isoformat()
    '2026-03-08T08:00:00+00:00'
    """
    left_h = hours_left(age, temperature_c=temperature_c, sap_logged=sap_logged, policy=policy)
    return now + timedelta(hours=left_h)


@dataclass(frozen=True, slots=True, kw_only=True)
class Logged:
    """One temperature written down: when (with its time zone), how warm, and whether it was the sap's own."""

    at: datetime
    temperature_c: float
    sap_logged: bool = True


def history_spells(
    readings: Sequence[Logged], *, collected_at: datetime, until: datetime, usual_c: float
) -> list[Spell]:
    """Spells from a temperature history, from collection until a moment.

    readings: in any order; those outside the time are used for its ends only.  usual_c: where nothing was written
    down, -40 to 60.  until: not before collected_at.
    Between two readings the warmer one counts; before the first, the warmer of it and the usual; after the last, the
    last. A stretch is logged if both its ends are the sap's own and at most 6 hours apart.
    Raises OutOfRange.  Source: the programme's own policy, on the careful side.

    >>> from datetime import UTC
    >>> noon = datetime(2026, 3, 1, 12, tzinfo=UTC)
    >>> log = [Logged(at=noon + timedelta(hours=hours), temperature_c=c) for hours, c in ((2, 3), (6, 8))]
    >>> spells = history_spells(log, collected_at=noon, until=noon + timedelta(hours=9), usual_c=4)
    >>> [(spell.hours, spell.temperature_c, spell.sap_logged) for spell in spells]
    [(2.0, 4, False), (4.0, 8, True), (3.0, 8, True)]
    """
    check_range(usual_c, low=-40, high=60, quantity="temperature", unit="°C")
    if until < collected_at:
        raise OutOfRange(quantity="time", value=until, low=collected_at, high="any", unit="")
    log = sorted(readings, key=lambda reading: reading.at)
    before = [reading for reading in log if reading.at <= collected_at][-1:]
    inside = [reading for reading in log if collected_at < reading.at < until]
    after = [reading for reading in log if reading.at >= until][:1]
    first = before[0] if before else Logged(at=collected_at, temperature_c=usual_c, sap_logged=False)
    last = after[0] if after else None
    known = [first, *inside, *([last] if last else [])]
    spells = []
    for one, other in zip(known, [*known[1:], None], strict=True):
        begins, ends = max(one.at, collected_at), min(other.at, until) if other else until
        if ends <= begins:
            continue
        apart_h = ((other.at if other else until) - one.at).total_seconds() / 3600
        spells.append(
            Spell(
                hours=(ends - begins).total_seconds() / 3600,
                temperature_c=max(one.temperature_c, other.temperature_c) if other else one.temperature_c,
                sap_logged=one.sap_logged and (other is None or other.sap_logged) and apart_h <= GAP_H,
            )
        )
    return spells
