"""By when a tank's sap is to be in the pan, and why.

The clocks of `core.keeping` run from the moment the sap left its tree: through people's hands by the weather, through
each tank by that tank's own temperatures. Sap poured together has the worst of each clock among its parts.

    keeping_of(tank)      one tank, None while it is empty
    keepings(season)      every tank in use, in the same number of queries
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

from django.db.models import Max
from django.utils import timezone

from sugarbush.boils.climate import CAREFUL_C, Basis, Climate, Reading
from sugarbush.boils.kept import Clock, ClockName, TankKeeping, hours_words, moment_words, policy_of
from sugarbush.boils.models import DeliveryLine
from sugarbush.boils.models_pan import TankTemperature
from sugarbush.core.keeping import WARM_C, Policy, SapAge, boil_by, growth_weight, pooled_age
from sugarbush.sap.ages import Flow, Oldest, flows_into, fold, older, oldest_arrives
from sugarbush.sap.ledger import balances_ml
from sugarbush.sap.models import Vessel, VesselKind
from sugarbush.seasons.models import Programme, Season
from sugarbush.weather.models import WeatherDay

__all__ = ["Clock", "TankKeeping", "hours_words", "keeping_of", "keepings", "keepings_of", "moment_words", "policy_of"]


def keeping_of(tank: Vessel, at: dt.datetime | None = None) -> TankKeeping | None:
    """How this tank's sap keeps at a moment (now, unless given); None while it is empty."""
    return keepings_of([tank], at).get(tank.pk)


def keepings(season: Season, at: dt.datetime | None = None) -> dict[uuid.UUID, TankKeeping]:
    """How the sap of every tank in use keeps, by the tank's id; empty tanks are left out."""
    rows = Vessel.objects.filter(season=season, kind=VesselKind.TANK, out_of_use=False).select_related("season")
    return keepings_of(list(rows), at)


def keepings_of(tanks: Sequence[Vessel], at: dt.datetime | None = None) -> dict[uuid.UUID, TankKeeping]:
    """How the sap of these tanks keeps; a dozen queries, however many tanks and however long their history."""
    at = (at or timezone.now()).astimezone(dt.UTC)
    held = balances_ml(tanks)
    filled = [tank for tank in tanks if held[tank.pk] > 0]
    if not filled:
        return {}
    history = _History(filled, at)
    found = history.followed()
    return {tank.pk: _judged(tank, held[tank.pk], found[tank.pk], history, at) for tank in filled if tank.pk in found}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Carried:
    """Sap on its way: its oldest part, its clocks, and the moment they were read."""

    oldest: Oldest
    age: SapAge
    read_at: dt.datetime
    since: dt.datetime


class _History:
    """What it takes to let the clocks run: the movements, and the climate of every place they touch."""

    def __init__(self, tanks: Sequence[Vessel], at: dt.datetime) -> None:
        self.policies = {tank.season_id: policy_of(tank.season) for tank in tanks}
        self.policy = self.policies[tanks[0].season_id]
        programme = Programme.current()
        self.zone = programme.zone if programme else dt.UTC
        self.flows, self.hands = flows_into(tanks)
        # The climate of days whose sap is all gone has no say: it would be cut for every day of the season.
        still_here = fold(self.flows, arrives=oldest_arrives, poured=lambda _vessel, one, other: older(one, other))
        here = [still_here[tank.pk].at for tank in tanks if tank.pk in still_here]
        self.begins = min(here, default=at) - dt.timedelta(days=1)
        self.ends = max(at, max((flow.at for flow in self.flows), default=at))
        places = {flow.target for flow in self.flows if flow.target is not None} - self.hands
        self.usual = dict(Vessel.objects.filter(pk__in=places).values_list("pk", "usual_temperature_c"))
        self.readings: dict[uuid.UUID, list[Reading]] = defaultdict(list)
        rows = TankTemperature.objects.filter(
            tank__in=places, happened_at__gte=self.begins - dt.timedelta(days=1)
        ).values_list("tank_id", "happened_at", "temperature_c", "frozen_solid")
        for tank_id, happened_at, temperature_c, frozen in rows:
            self.readings[tank_id].append(
                Reading(at=happened_at, temperature_c=float(temperature_c), frozen_solid=frozen)
            )
        self.weather = _weather(self.begins, self.ends)
        self.at_delivery = _delivery_temperatures(places)
        self._climates: dict[uuid.UUID | None, Climate] = {}

    def climate(self, vessel: uuid.UUID) -> Climate:
        """The temperature history of a tank; of everybody's hands together the weather's."""
        key = None if vessel in self.hands else vessel
        if key not in self._climates:
            usual_c = None if key is None else self.usual.get(key)
            self._climates[key] = Climate(
                readings=self.readings[key] if key is not None else (),
                usual=(lambda _day: (float(usual_c), "usual")) if usual_c is not None else self._weather_c,
                begins=self.begins,
                ends=self.ends,
                zone=self.zone,
                policy=self.policy,
            )
        return self._climates[key]

    def _weather_c(self, day: dt.date) -> tuple[float, Basis]:
        mean_c = self.weather.get(day)
        return (CAREFUL_C, "guess") if mean_c is None else (mean_c, "weather")

    def advanced(self, carried: _Carried, vessel: uuid.UUID, until: dt.datetime) -> _Carried:
        if until <= carried.read_at:
            return carried
        age = self.climate(vessel).advance(carried.age, carried.read_at, until)
        return replace(carried, age=age, read_at=until)

    def followed(self) -> dict[uuid.UUID, _Carried]:
        return fold(self.flows, arrives=self._arrives, poured=self._poured)

    def _arrives(self, flow: Flow, carried: _Carried | None) -> _Carried | None:
        if flow.source is None or carried is None:
            entered = flow.source is None and not flow.weak
            return _Carried(oldest=Oldest(at=flow.at, entered=entered), age=SapAge(), read_at=flow.at, since=flow.at)
        until = max(flow.at, carried.read_at)
        reading_c = self.at_delivery.get((flow.origin, flow.target)) if flow.source in self.hands else None
        if reading_c is None:
            return replace(self.advanced(carried, flow.source, until), since=flow.at)
        age = self.climate(flow.source).advance_to_reading(carried.age, carried.read_at, until, reading_c)
        return replace(carried, age=age, read_at=until, since=flow.at)

    def _poured(self, vessel: uuid.UUID, one: _Carried, other: _Carried) -> _Carried:
        oldest, since = older(one.oldest, other.oldest), min(one.since, other.since)
        if vessel in self.hands and other.age == SapAge() and other.read_at >= one.read_at:
            return replace(
                one, oldest=oldest
            )  # fresh sap beside older sap in the same air: the older rules every clock
        until = max(one.read_at, other.read_at)
        one, other = self.advanced(one, vessel, until), self.advanced(other, vessel, until)
        return _Carried(oldest=oldest, age=pooled_age([one.age, other.age]), read_at=until, since=since)


def _weather(begins: dt.datetime, ends: dt.datetime) -> dict[dt.date, float]:
    """Mean air temperature of each day, measured before forecast."""
    span = (begins.date() - dt.timedelta(days=1), ends.date() + dt.timedelta(days=1))
    rows = WeatherDay.objects.filter(day__range=span).order_by("-source")
    forecast_first = sorted(rows, key=lambda row: row.source == WeatherDay.Source.MEASURED)
    return {row.day: float(row.low_c + row.high_c) / 2 for row in forecast_first}


def _delivery_temperatures(tanks: set[uuid.UUID]) -> dict[tuple[uuid.UUID | None, uuid.UUID | None], float]:
    """The warmest container of each delivery and tank, where the keeper measured."""
    rows = (
        DeliveryLine.objects.filter(tank__in=tanks, temperature_c__isnull=False)
        .order_by()
        .values_list("delivery_id", "tank_id")
        .annotate(warmest=Max("temperature_c"))
    )
    return {(delivery, tank): float(warmest) for delivery, tank, warmest in rows}


def _judged(tank: Vessel, volume_ml: int, carried: _Carried, history: _History, at: dt.datetime) -> TankKeeping:
    policy = history.policies[tank.season_id]
    climate = history.climate(tank.pk)
    age = _whole(history.advanced(carried, tank.pk, at).age)
    temperature_c, basis, logged = climate.now(at)
    standing = age.standing_under(policy)
    clocks = _clocks(age, policy, climate, at, temperature_c, logged)
    ruling = next(clock for clock in clocks if clock.rules)
    if standing == "late":
        boil_by_at = ruling.runs_out_at or at
    else:
        boil_by_at = boil_by(age, now=at, temperature_c=temperature_c, sap_logged=logged, policy=policy)
    return TankKeeping(
        tank=tank,
        volume_ml=volume_ml,
        at=at,
        oldest_at=carried.oldest.at,
        entered=carried.oldest.entered,
        age=age,
        policy=policy,
        standing=standing,
        boil_by_at=_second(boil_by_at),
        temperature_c=temperature_c,
        basis=basis,
        clocks=clocks,
        spells=tuple(climate.between(carried.since, at)),
    )


def _second(at: dt.datetime) -> dt.datetime:
    """The nearest whole second: hours as fractions leave dust that would turn 18:00 into 17:59."""
    return (at + dt.timedelta(milliseconds=500)).replace(microsecond=0)


def _whole(age: SapAge) -> SapAge:
    """Without the dust of adding many stretches: exactly at a limit is still allowed."""
    return SapAge(
        elapsed_h=round(age.elapsed_h, 6), equivalent_h=round(age.equivalent_h, 6), warm_h=round(age.warm_h, 6)
    )


def _clocks(
    age: SapAge, policy: Policy, climate: Climate, at: dt.datetime, temperature_c: float, logged: bool
) -> tuple[Clock, ...]:
    """The three clocks. The one that runs out first rules; of two that run out together, the plain days."""
    weight = growth_weight(temperature_c, policy=policy)
    warm_runs = age.warm_h > policy.warm_limit_h or (logged and temperature_c > WARM_C)
    rows: list[tuple[ClockName, float, float, float | None]] = [
        ("days", age.elapsed_h, policy.limit_h, 1.0),
        ("warmth", age.equivalent_h, policy.limit_h, weight),
        ("log", age.warm_h, policy.warm_limit_h, 1.0 if warm_runs else None),
    ]
    clocks = []
    for name, used_h, limit_h, pace in rows:
        runs_out_at = None
        if used_h > limit_h:
            runs_out_at = climate.when_was(name, used_h - limit_h, at)
        elif pace is not None:
            runs_out_at = at + dt.timedelta(hours=(limit_h - used_h) / pace)
        if runs_out_at is not None:
            runs_out_at = _second(runs_out_at)
        clocks.append(Clock(name=name, used_h=used_h, limit_h=limit_h, runs_out_at=runs_out_at))
    # A second's rounding must not make the warm clock rule over the plain one.
    first = min(
        (clock for clock in clocks if clock.runs_out_at is not None),
        key=lambda clock: clock.runs_out_at.replace(second=0, microsecond=0),  # type: ignore[union-attr]
    )
    return tuple(replace(clock, rules=clock is first) for clock in clocks)
