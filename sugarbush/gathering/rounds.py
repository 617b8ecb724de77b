"""Which trees a person visits today: those with a spout in, given to them or to their groups."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass

from django.db.models import Exists, F, OuterRef, Q, QuerySet, Subquery, Sum
from django.utils import timezone

from sugarbush.gathering.models import Collection, CollectionState, Outcome
from sugarbush.gathering.models_rounds import Answer, Part, Round, RoundStop, RunState
from sugarbush.seasons.models import Season
from sugarbush.taps.models import Assignment, AssignmentState, Tap, TapState
from sugarbush.trees.models import Shown, Tree
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Group, Person

IN = (TapState.IN, TapState.TO_SETTLE)
COULD_NOT = (Outcome.NO_ACCESS, Outcome.UNSAFE)
APART = 100_000  # more than any round has places: keeps two rounds of one day apart


@dataclass(frozen=True, kw_only=True)
class Stop:
    """One tree on today's way."""

    pk: int
    code: str
    address: str
    shown_state: int
    outcome: str  # of today's newest visit; empty when not visited yet

    @property
    def to_pull(self) -> bool:
        return self.shown_state == Shown.PULL

    @property
    def visited(self) -> bool:
        # Sap taken this morning does not finish a tree whose spout has to come out since.
        return self.outcome in COULD_NOT if self.to_pull else bool(self.outcome)

    @property
    def notch(self) -> str:
        if not self.visited:
            return ""
        return "sap" if self.outcome == Outcome.SAP else "none"


def natural(text: str) -> list[tuple[int, int, str]]:
    """A key that puts 9 before 10, and streets before house numbers: "27 Larkspur Street" sorts under L."""
    number, street = re.match(r"\s*(\d*)\w*\s*(.*)", text).groups()  # type: ignore[union-attr]
    return [(0, 0, street.casefold()), (1, int(number or 0), text)]


def day_span(day: dt.date) -> tuple[dt.datetime, dt.datetime]:
    """First moment of the local day, and of the next."""
    zone = timezone.get_current_timezone()
    return (
        dt.datetime.combine(day, dt.time(), tzinfo=zone),
        dt.datetime.combine(day + dt.timedelta(days=1), dt.time(), tzinfo=zone),
    )


def groups_of(person: Person) -> QuerySet[Group]:
    """Groups whose rounds the person may walk."""
    reach = access.scope(person, "collection.log")
    return Group.objects.all() if reach.everything else Group.objects.filter(pk__in=reach.group_ids)


def trees_on_round(person: Person, season: Season, group: Group) -> QuerySet[Tree]:
    """Trees with a spout in that this person may log: given to the group, and not to somebody else in it."""
    mine = Assignment.objects.filter(tree=OuterRef("pk"), season=season, group=group).exclude(
        state=AssignmentState.ENDED
    )
    mine = mine.filter(Q(person=None) | Q(person=person))
    taps = Tap.objects.filter(tree=OuterRef("pk"), state__in=IN)
    return Tree.objects.filter(Exists(taps)).filter(Exists(mine))


def walks_on(person: Person, day: dt.date, *, before: str = "") -> Q:
    """Runs of that day that this person walks. before: the way from the row asked to the run."""
    return Q(
        **{
            f"{before}date": day,
            f"{before}state__in": (RunState.PLANNED, RunState.FINISHED),
            f"{before}people__person": person,
            f"{before}people__part": Part.WALKS,
            f"{before}people__answer__in": (Answer.NONE, Answer.YES),
        }
    )


def own_rounds(person: Person, season: Season, group: Group, day: dt.date) -> list[Round]:
    """The rounds this person walks that day in one group; one query."""
    found = Round.objects.filter(walks_on(person, day, before="runs__"), season=season, group=group)
    return sorted(found, key=lambda one: (one.latest_start, one.pk))


def rounds_today(person: Person, season: Season, group: Group, day: dt.date) -> list[tuple[Round, list[str]]]:
    """The rounds this person walks that day in one group, each with the tags of its trees in order; two queries."""
    found = own_rounds(person, season, group, day)
    codes: dict[int, list[str]] = {one.pk: [] for one in found}
    if codes:
        rows = RoundStop.objects.filter(round__in=list(codes), off_at=None).order_by("position", "pk")
        for key, code in rows.values_list("round_id", "tree__code"):
            codes[key].append(code)
    return [(one, codes[one.pk]) for one in found]


def stops(person: Person, season: Season, group: Group, day: dt.date) -> list[Stop]:
    """First the trees of the person's own runs of the day in their order, then the others by street; one query."""
    start, end = day_span(day)
    today = Collection.objects.filter(tree=OuterRef("pk"), happened_at__gte=start, happened_at__lt=end).exclude(
        state=CollectionState.VOID
    )
    own = RoundStop.objects.filter(walks_on(person, day, before="round__runs__"), tree=OuterRef("pk"), off_at=None)
    rows = trees_on_round(person, season, group).annotate(
        outcome_today=Subquery(today.order_by("-happened_at").values("outcome")[:1]),
        own_place=Subquery(own.annotate(place=F("round_id") * APART + F("position")).values("place")[:1]),
    )
    found = [
        (place, Stop(pk=pk, code=code, address=address, shown_state=state, outcome=outcome or ""))
        for pk, code, address, state, outcome, place in rows.values_list(
            "pk", "code", "address", "shown_state", "outcome_today", "own_place"
        )
    ]
    return [stop for _place, stop in sorted(found, key=_own_first)]


def _own_first(row: tuple[int | None, Stop]) -> tuple[bool, int, list[tuple[int, int, str]], str]:
    place, stop = row
    return (place is None, place or 0, natural(stop.address), stop.code)


def day_total_ml(person: Person, season: Season, day: dt.date) -> int:
    """What this person has gathered today, net of what was tipped out."""
    start, end = day_span(day)
    rows = Collection.objects.filter(person=person, season=season, happened_at__gte=start, happened_at__lt=end)
    sums = rows.exclude(state=CollectionState.VOID).aggregate(
        ml=Sum("volume_ml"), rain=Sum("rain_ml"), gone=Sum("discarded_ml")
    )
    return (sums["ml"] or 0) + (sums["rain"] or 0) - (sums["gone"] or 0)
