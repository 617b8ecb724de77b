"""Who is on a run and may be on it: one home for what the pages show and the acts refuse."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence

from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.gathering.models_rounds import Answer, Part, RoundPerson, RoundRun, RunPerson
from sugarbush.parts.reasons import Reason
from sugarbush.volunteers.booking import Papers
from sugarbush.volunteers.models import Person


def walkers(there: Iterable[RunPerson]) -> list[Person]:
    """Who walks a run as far as they have said, whether they may or not."""
    return [one.person for one in there if one.part == Part.WALKS and one.answer != Answer.NO]


def people_of(run_ids: Sequence[int]) -> dict[int, tuple[RunPerson, ...]]:
    """Who walks and who stands by, run by run, and who of them is out by now; four queries, however many runs."""
    found = rows_of(run_ids)
    mark_out(found, Papers(one.person for there in found.values() for one in there if one.run.date >= _today()))
    return {run: tuple(there) for run, there in found.items()}


def rows_of(run_ids: Sequence[int]) -> dict[int, list[RunPerson]]:
    """The rows alone, run by run; one query."""
    found: dict[int, list[RunPerson]] = defaultdict(list)
    rows = RunPerson.objects.filter(run__in=run_ids).select_related("person", "run")
    for one in rows.order_by("-part", "nth", "pk"):
        found[one.run_id].append(one)
    return found


def mark_out(found: dict[int, list[RunPerson]], papers: Papers) -> None:
    """Say on each row of a day to come why its person is out. What was, stays as it was."""
    for there in found.values():
        day = there[0].run.date
        if day >= _today():
            out = papers.together([one.person for one in there], day, walkers(there))
            for one in there:
                one.out = tuple(out.get(one.person_id, ()))


def _today() -> dt.date:
    return timezone.localdate()


def first_standby(
    there: Sequence[RunPerson], usual: Iterable[RoundPerson], papers: Papers, day: dt.date
) -> RunPerson | RoundPerson | None:
    """Who is called next: of those who stand by for the run, then for the round; nobody who said no or may not."""
    asked = {one.person_id for one in there}
    own = sorted((one for one in there if one.part == Part.STANDBY and one.answer != Answer.NO), key=lambda o: o.nth)
    rest = [one for one in usual if one.person_id not in asked]
    beside = walkers(there)
    ladder: list[RunPerson | RoundPerson] = [*own, *rest]
    for one in ladder:
        if not papers.together([one.person], day, beside):
            return one
    return None


def next_standby(run: RoundRun) -> RunPerson | RoundPerson | None:
    """The same for one run; five queries."""
    there = list(run.people.select_related("person"))
    usual = list(run.round.usual.filter(part=Part.STANDBY).select_related("person").order_by("nth", "pk"))
    papers = Papers([*(one.person for one in there), *(one.person for one in usual)])
    return first_standby(there, usual, papers, run.date)


def why_not_on(runs: Sequence[RoundRun], parts: dict[Person, Part]) -> list[Reason]:
    """What speaks against these people on these runs, beside those who are on each already."""
    there = rows_of([run.pk for run in runs])
    papers = Papers([*parts, *(one.person for rows in there.values() for one in rows)])
    reasons: dict[tuple[str, str], Reason] = {}
    for run in runs:
        on = {one.person: Part(one.part) for one in there.get(run.pk, ()) if one.answer != Answer.NO}
        all_of_them = parts | on
        walks = [person for person, part in all_of_them.items() if part == Part.WALKS]
        out = papers.together(list(all_of_them), run.date, walks)
        asked = [person for person in all_of_them if person not in on or not person.is_adult]
        for reason in (reason for person in asked for reason in out.get(person.pk, ())):
            reasons.setdefault((reason.code, reason.fact), reason)
    return list(reasons.values())


def why_needed(run: RoundRun, person: Person) -> list[Reason]:
    """Why this person may not leave a run to come: somebody under 18 would stay without the adults they need."""
    there = rows_of([run.pk]).get(run.pk, [])
    if run.date < _today() or not person.is_adult:
        return []
    papers = Papers(one.person for one in there)
    rest = [one for one in there if one.person_id != person.pk]
    before = papers.together([one.person for one in there], run.date, walkers(there))
    after = papers.together([one.person for one in rest], run.date, walkers(rest))
    return [
        Reason(
            code="needed",
            fact=_("%(who)s is under 18 and needs two screened adults on this run.") % {"who": one.person},
            next_text=_("Put another screened adult on first, or take %(who)s off") % {"who": one.person},
        )
        for one in rest
        if not one.person.is_adult and one.person_id in after and one.person_id not in before
    ]
