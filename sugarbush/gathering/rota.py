"""The rota of a week: rounds by days, who walks each, and where nobody does."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from sugarbush.gathering.crew import people_of
from sugarbush.gathering.models_rounds import Part, Round, RoundRun, RunPerson, RunState

DAYS = 7


@dataclass(frozen=True, kw_only=True)
class Cell:
    """One round on one day. run: None where nothing is planned."""

    day: dt.date
    run: RoundRun | None
    people: tuple[RunPerson, ...]

    @property
    def comes(self) -> list[RunPerson]:
        return [one for one in self.people if one.comes]

    @property
    def standby(self) -> list[RunPerson]:
        """Who could be called, in their order."""
        return [one for one in self.people if one.part == Part.STANDBY and one.answer != "no" and not one.out]

    @property
    def is_hole(self) -> bool:
        """Planned, and nobody comes."""
        return self.run is not None and self.run.state == RunState.PLANNED and not self.comes


def week_of(found: Sequence[Round], first: dt.date) -> tuple[list[dt.date], list[tuple[Round, list[Cell]]]]:
    """The days from the first on, and each round with its cells; five queries, however many rounds."""
    days = [first + dt.timedelta(days=n) for n in range(DAYS)]
    runs = list(RoundRun.objects.filter(round__in=[one.pk for one in found], date__range=(days[0], days[-1])))
    people = people_of([run.pk for run in runs])
    at = {(run.round_id, run.date): run for run in runs}
    rows = []
    for one in found:
        there = [at.get((one.pk, day)) for day in days]
        rows.append(
            (
                one,
                [
                    Cell(day=day, run=run, people=people.get(run.pk, ()) if run else ())
                    for day, run in zip(days, there, strict=True)
                ],
            )
        )
    return days, rows
