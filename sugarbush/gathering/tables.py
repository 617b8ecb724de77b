"""Entries, rounds and runs as tables to take away."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from django.utils.translation import gettext as _

from sugarbush.parts.sheets.columns import Column, volume


def entries(units: str) -> list[Column]:
    """Of collections."""
    return [
        (_("tree"), "tree.code"),
        (_("address"), "tree.address"),
        (_("when"), "happened_at"),
        (_("who"), "person.display_name"),
        (_("group"), "group.name"),
        (_("found"), "get_outcome_display"),
        *volume(_("out of the tree"), "volume_ml", units),
        *volume(_("rain kept with it"), "rain_ml", units),
        *volume(_("of it tipped out"), "discarded_ml", units),
        (_("sugar (°Brix)"), "sugar_brix"),
        (_("note"), "note"),
    ]


def to_review(units: str) -> list[Column]:
    return [*entries(units), (_("why it waits"), lambda row: " ".join(str(why) for why in row.review_reasons))]


def _names(people: Iterable[Any]) -> str:
    return ", ".join(str(one) for one in people)


def rounds(units: str) -> list[Column]:
    """Of rows of the page of rounds."""
    return [
        (_("round"), "round.name"),
        (_("group"), "round.group.name"),
        (_("latest start"), "round.latest_start"),
        (_("trees"), lambda row: len(row["way"].legs)),
        (_("on foot, straight lines (m)"), lambda row: round(row["way"].walked_m)),
        *volume(_("usually gives"), "way.usual_ml", units),
        (_("walks it"), lambda row: _names(row["walks"])),
        (_("stands by"), lambda row: _names(row["standby"])),
    ]


def stops(units: str) -> list[Column]:
    """Of the legs of one round, in walking order."""
    return [
        (_("tree"), "stop.tree.code"),
        (_("address"), "stop.tree.address"),
        (_("spout in"), "spout_in"),
        (_("to it, straight line (m)"), lambda leg: round(leg.leg_m)),
        *volume(_("usually gives"), "usual_ml", units),
        (_("longitude (°)"), "stop.tree.longitude"),
        (_("latitude (°)"), "stop.tree.latitude"),
    ]


def board(units: str) -> list[Column]:
    """Of the lines of today's board."""
    return [
        (_("round"), "round.name"),
        (_("group"), "round.group.name"),
        (_("how it stands"), lambda line: str(line.standing.label)),
        (_("trees"), lambda line: len(line.stops)),
        (_("visited"), "visited"),
        *volume(_("sap so far"), "volume_ml", units),
        (_("to review"), "to_review"),
        (_("started"), "started_at"),
        (_("who comes"), lambda line: _names(one.person for one in line.comes)),
    ]


def rota() -> list[Column]:
    """Of one round on one day."""
    return [
        (_("day"), "cell.day"),
        (_("round"), "round.name"),
        (_("group"), "round.group.name"),
        (_("planned"), lambda row: row["cell"].run is not None),
        (_("state"), "cell.run.get_state_display"),
        (_("who comes"), lambda row: _names(one.person for one in row["cell"].comes)),
        (_("stands by"), lambda row: _names(one.person for one in row["cell"].standby)),
    ]


def rota_rows(rows: Iterable[tuple[Any, Iterable[Any]]]) -> Iterator[dict[str, Any]]:
    """A line for each round and day, as rota.week_of gives them."""
    for found, days in rows:
        for cell in days:
            yield {"round": found, "cell": cell}


def own_runs() -> list[Column]:
    """Of a person's runs."""
    return [
        (_("day"), "line.run.date"),
        (_("round"), "line.run.round.name"),
        (_("group"), "line.run.round.group.name"),
        (_("latest start"), "line.run.round.latest_start"),
        (_("state"), "line.run.get_state_display"),
        (_("your part"), "mine.get_part_display"),
        (_("you said"), "mine.get_answer_display"),
    ]
