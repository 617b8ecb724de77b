"""What a season of the demo consists of, as plain records: taps, visits, deliveries, boiling days, pulled spouts."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from sugarbush.demo.people import TIME_ZONE
from sugarbush.demo.weather import WeatherDay


@dataclass(frozen=True)
class DemoTap:
    """One hole drilled."""

    uuid: uuid.UUID
    tree_no: str
    position: int
    placed_at: datetime
    by: str
    height_mm: int
    aspect_deg: int
    bit_um: int
    depth_mm: int
    shavings: str
    container: str


@dataclass(frozen=True)
class DemoVisit:
    """One visit to one tree: sap, empty, frozen, no_access, gone or unsafe."""

    uuid: uuid.UUID
    tree_no: str
    group: str
    person: str
    happened_at: datetime
    outcome: str
    volume_ml: int = 0
    discarded_ml: int = 0
    discard_reason: str = ""
    sugar_brix: Decimal | None = None
    look: str = ""
    note: str = ""
    after_stop: bool = False
    """Made after the owner's yes was taken back: kept, and put to review."""

    @property
    def net_ml(self) -> int:
        """What stays in the carrier's hands."""
        return self.volume_ml - self.discarded_ml


@dataclass(frozen=True)
class DemoCan:
    """One container at the depot: into a tank, or turned away with a reason."""

    container: str
    volume_ml: int
    sugar_brix: Decimal
    temperature_c: Decimal
    look: str
    tank: str | None
    reject_reason: str = ""


@dataclass(frozen=True)
class DemoDelivery:
    """One carrier at one depot, bringing all they hold."""

    uuid: uuid.UUID
    depot: str
    person: str
    keeper: str
    happened_at: datetime
    held_ml: int
    cans: tuple[DemoCan, ...]
    all_of_it: bool = True


@dataclass(frozen=True)
class DemoBoil:
    """One boiling day: the tanks emptied, what of it went in, and the syrup drawn off."""

    day: date
    site: str
    lit_at: datetime
    out_at: datetime
    pan_area_cm2: int
    lead: str
    crew: tuple[str, ...]
    sap: tuple[tuple[str, int], ...]
    """Each tank with the millilitres taken from it."""
    syrup_ml: int
    syrup_brix: Decimal

    @property
    def sap_ml(self) -> int:
        """All that went into the pan."""
        return sum(volume_ml for _, volume_ml in self.sap)


@dataclass(frozen=True)
class DemoPull:
    """One spout taken out."""

    tree_no: str
    position: int
    pulled_at: datetime
    by: str


@dataclass(frozen=True)
class DemoSeason:
    """The season, each list in the order things happened."""

    weather: tuple[WeatherDay, ...]
    taps: tuple[DemoTap, ...]
    visits: tuple[DemoVisit, ...]
    deliveries: tuple[DemoDelivery, ...]
    boils: tuple[DemoBoil, ...]
    pulls: tuple[DemoPull, ...]

    def until(self, last: date) -> DemoSeason:
        """The same season as it stood at the end of a local day."""

        def by_then(moment: datetime) -> bool:
            return moment.astimezone(ZoneInfo(TIME_ZONE)).date() <= last

        return DemoSeason(
            weather=tuple(w for w in self.weather if w.day <= last),
            taps=tuple(t for t in self.taps if by_then(t.placed_at)),
            visits=tuple(v for v in self.visits if by_then(v.happened_at)),
            deliveries=tuple(d for d in self.deliveries if by_then(d.happened_at)),
            boils=tuple(b for b in self.boils if b.day <= last),
            pulls=tuple(p for p in self.pulls if by_then(p.pulled_at)),
        )
