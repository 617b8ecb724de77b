"""Deliveries, tanks and boiling days as tables to take away."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

from django.utils.translation import gettext as _

from sugarbush.boils.access import sees_all_deliveries, vessel_words
from sugarbush.boils.models import BoilDay
from sugarbush.parts.csvfile import Cell
from sugarbush.parts.sheets.columns import Column, found, volume
from sugarbush.sap.models import Movement, Vessel
from sugarbush.volunteers.models import Person


def _degrees(head: str, path: str, units: str) -> Column:
    def read(row: object) -> Cell:
        value = found(row, path)
        if value is None or units != "us":
            return value  # type: ignore[no-any-return]
        return round(Decimal(value) * 9 / 5 + 32, 1)

    return f"{head} (°F)" if units == "us" else f"{head} (°C)", read


def deliveries(units: str) -> list[Column]:
    return [
        (_("delivery"), str),
        (_("when"), "happened_at"),
        (_("brought by"), "person.display_name"),
        (_("depot"), "depot.name"),
        (_("taken in by"), "keeper.display_name"),
        (_("state"), "get_state_display"),
        *volume(_("measured"), "measured_ml", units),
        *volume(_("held before"), "held_ml", units),
        *volume(_("measured over or under"), "difference_ml", units),
        (_("why the measures differ"), "explanation"),
        (_("note"), "note"),
    ]


def _brix(row: object) -> Cell:
    value = found(row, "state.sugar_brix")
    return None if value is None else round(Decimal(value), 2)


def tanks(units: str) -> list[Column]:
    """Of rows of the page of tanks."""
    return [
        (_("tank"), "tank.code"),
        (_("depot"), "tank.depot.name"),
        *volume(_("sap"), "state.volume_ml", units),
        *volume(_("capacity"), "tank.capacity_ml", units),
        *volume(_("room"), lambda row: row["room_ml"] if row["tank"].capacity_ml else None, units),
        (_("sugar (°Brix)"), _brix),
        *volume(_("not measured for sugar"), "state.unmeasured_ml", units),
        (_("oldest sap"), "keeping.oldest_at"),
        (_("boil by"), "keeping.boil_by_at"),
    ]


def _signed(tank: Vessel) -> Callable[[Movement], Cell]:
    return lambda move: move.volume_ml if move.to_vessel_id == tank.pk else -move.volume_ml


def tank_moves(tank: Vessel, reader: Person) -> list[Column]:
    """Of movements into the tank, and, below zero, out of it; with no name of hands the reader does not see."""
    words, units = vessel_words(reader), reader.units
    all_seen = sees_all_deliveries(reader)
    return [
        (_("number"), "seq"),
        (_("when"), "happened_at"),
        (_("what"), "act.get_kind_display"),
        (_("cause"), "get_cause_display"),
        (_("from"), lambda move: words(move.from_vessel)),
        (_("to"), lambda move: words(move.to_vessel)),
        *volume(_("into the tank"), _signed(tank), units),
        (_("sugar (°Brix)"), "sugar_brix"),
        *([(_("written by"), "act.author.display_name")] if all_seen else []),
        (_("why"), "act.reason"),
        (_("takes back"), "reverses_id"),
    ]


def temperatures(units: str) -> list[Column]:
    return [
        (_("when"), "happened_at"),
        _degrees(_("temperature of the sap"), "temperature_c", units),
        (_("frozen right through"), "frozen_solid"),
        (_("written by"), "author.display_name"),
        (_("note"), "note"),
    ]


def boil_days(units: str) -> list[Column]:
    return [
        (_("day"), "day"),
        (_("where"), "site"),
        (_("begins"), "starts_at"),
        (_("state"), "get_state_display"),
        (_("rain date"), "rain_day"),
        (_("leads it"), "lead.display_name"),
        (_("batches"), "n_batches"),
        *volume(_("sap still expected"), "expected_ml", units),
        (_("note"), "note"),
    ]


def shifts() -> list[Column]:
    """Of one boiling day."""
    return [
        (_("from"), "begins"),
        (_("to"), "ends"),
        (_("what for"), "task"),
        (_("who"), lambda shift: ", ".join(str(person) for person in shift.people.all())),
    ]


def day_file(day: BoilDay) -> str:
    return f"boiling-{day.day}"
