"""How warm it was where sap stood, hour by hour, and what the clocks of the keeping policy make of it.

A reading of the sap speaks for a day at most; where none is near, the tank's usual temperature stands in, else the
mean of the day's weather, else a careful guess. Each stretch says which of them it was.
"""

from __future__ import annotations

import datetime as dt
from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from sugarbush.core.keeping import Logged, Policy, SapAge, Spell, history_spells, sap_age

Basis = Literal["log", "usual", "weather", "guess"]
# Where nobody wrote anything down: common practice, no source. A shed on a thawing day, not a cold cellar.
CAREFUL_C = 10.0
READING_SPEAKS_H = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A temperature of the sap as somebody wrote it down."""

    at: dt.datetime
    temperature_c: float
    frozen_solid: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A spell with its place in time and where its temperature comes from."""

    begins: dt.datetime
    ends: dt.datetime
    spell: Spell
    basis: Basis


def _hours(begins: dt.datetime, ends: dt.datetime) -> float:
    return (ends - begins).total_seconds() / 3600


class Climate:
    """The temperature history of one place, cut at midnights and readings.

    readings: in any order.  usual: a day's temperature where no reading is near, with where it comes from.
    begins, ends: what is asked for lies between.  zone: the programme's; its clock change makes a day of 23 or 25 h.
    """

    def __init__(
        self,
        *,
        readings: Sequence[Reading],
        usual: Callable[[dt.date], tuple[float, Basis]],
        begins: dt.datetime,
        ends: dt.datetime,
        zone: dt.tzinfo,
        policy: Policy,
    ) -> None:
        self.readings = sorted(readings, key=lambda reading: reading.at)
        self._at = [reading.at for reading in self.readings]
        self._usual, self._zone, self._policy = usual, zone, policy
        self.stretches = self._cut(begins, max(begins, ends))
        self._edges = [begins]
        self._ages = [SapAge()]
        for stretch in self.stretches:
            self._edges.append(stretch.ends)
            self._ages.append(sap_age([stretch.spell], start=self._ages[-1], policy=policy))

    def _cut(self, begins: dt.datetime, ends: dt.datetime) -> list[Stretch]:
        found = []
        day = begins.astimezone(self._zone).date()
        since = begins
        while since < ends:
            day += dt.timedelta(days=1)
            until = min(dt.datetime.combine(day, dt.time(), tzinfo=self._zone).astimezone(dt.UTC), ends)
            if until > since:
                found += self._day(day - dt.timedelta(days=1), since, until)
                since = until
        return found

    def _near(self, begins: dt.datetime, ends: dt.datetime) -> list[Reading]:
        reach = dt.timedelta(hours=READING_SPEAKS_H)
        return self.readings[bisect_right(self._at, begins - reach) : bisect_right(self._at, ends + reach)]

    def _day(self, day: dt.date, begins: dt.datetime, ends: dt.datetime) -> list[Stretch]:
        usual_c, basis = self._usual(day)
        near = self._near(begins, ends)
        log = [Logged(at=reading.at, temperature_c=reading.temperature_c) for reading in near]
        spells = history_spells(log, collected_at=begins, until=ends, usual_c=usual_c)
        frozen = [(one.at, other.at) for one, other in pairwise(near) if one.frozen_solid and other.frozen_solid]
        found, since = [], begins
        for spell in spells:
            until = since + dt.timedelta(hours=spell.hours)
            still = any(start <= since and until <= stop for start, stop in frozen)
            unread = not near or (near[0].at > begins and since == begins and spell.temperature_c == usual_c)
            found.append(
                Stretch(
                    begins=since,
                    ends=until,
                    spell=replace(spell, frozen_solid=still),
                    basis=basis if unread else "log",
                )
            )
            since = until
        return found

    def clocks(self, at: dt.datetime) -> SapAge:
        """Where clocks started at the beginning of this history would stand."""
        n = bisect_right(self._edges, at)
        if n == 0:
            return SapAge()
        if n == len(self._edges):
            return self._ages[-1]
        stretch = self.stretches[n - 1]
        part = replace(stretch.spell, hours=_hours(self._edges[n - 1], at))
        return sap_age([part], start=self._ages[n - 1], policy=self._policy)

    def advance(self, age: SapAge, since: dt.datetime, until: dt.datetime) -> SapAge:
        """The age of sap that stood here from one moment to another."""
        if until <= since:
            return age
        one, other = self.clocks(since), self.clocks(until)
        return SapAge(
            elapsed_h=age.elapsed_h + other.elapsed_h - one.elapsed_h,
            equivalent_h=age.equivalent_h + other.equivalent_h - one.equivalent_h,
            warm_h=age.warm_h + other.warm_h - one.warm_h,
        )

    def advance_to_reading(self, age: SapAge, since: dt.datetime, until: dt.datetime, reading_c: float) -> SapAge:
        """The same, where somebody measured the sap at the end: before it, the warmer of the two counts, a day back."""
        turn = max(since, until - dt.timedelta(hours=READING_SPEAKS_H))
        age = self.advance(age, since, turn)
        spells = [
            replace(
                one.spell, hours=_hours(one.begins, one.ends), temperature_c=max(one.spell.temperature_c, reading_c)
            )
            for one in self.between(turn, until)
        ]
        return sap_age(spells, start=age, policy=self._policy)

    def between(self, since: dt.datetime, until: dt.datetime) -> list[Stretch]:
        """The stretches of a time, those at its ends cut to it."""
        return [
            replace(
                one,
                begins=max(one.begins, since),
                ends=min(one.ends, until),
                spell=replace(one.spell, hours=_hours(max(one.begins, since), min(one.ends, until))),
            )
            for one in self.stretches
            if one.ends > since and one.begins < until
        ]

    def when_was(self, clock: Literal["days", "warmth", "log"], hours: float, at: dt.datetime) -> dt.datetime:
        """The moment this many hours of a clock before another moment, walking back; at most to the beginning."""
        for one in reversed(self.between(self._edges[0], at)):
            ran = sap_age([one.spell], policy=self._policy)
            ran_h = {"days": ran.elapsed_h, "warmth": ran.equivalent_h, "log": ran.warm_h}[clock]
            if ran_h >= hours:
                return one.ends - (one.ends - one.begins) * (hours / ran_h if ran_h else 0)
            hours -= ran_h
        return self._edges[0]

    def now(self, at: dt.datetime) -> tuple[float, Basis, bool]:
        """The temperature from this moment on, where it comes from, and whether the sap is being logged."""
        n = bisect_right(self._at, at)
        if n and at - self._at[n - 1] <= dt.timedelta(hours=READING_SPEAKS_H):
            reading = self.readings[n - 1]
            return reading.temperature_c, "log", at - reading.at <= dt.timedelta(hours=6)
        usual_c, basis = self._usual(at.astimezone(self._zone).date())
        return usual_c, basis, False
