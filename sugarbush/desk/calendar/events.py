"""What stands in a person's calendar.

Calendars are given to companies: whoever subscribes sends what stands here to wherever their calendar lives. So an
event says what, when, and the name of a group, a round or a depot, which every member knows. It never holds an owner,
a tree, a street address, a telephone number, another person, or a typed note or reason, where any of these may stand.
For the rest the event leads to its page, behind the sign-in.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterator

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.changes import EPOCH, Change, Changes, together
from sugarbush.boils.calendar import boil_event, depot_names, shift_event
from sugarbush.boils.models import BoilDay
from sugarbush.boils.models_pan import Shift
from sugarbush.gathering.calendar import run_event
from sugarbush.gathering.models_rounds import Answer, RunPerson
from sugarbush.owners.models import Permission, PermissionState
from sugarbush.owners.queries import permissions_for
from sugarbush.parts.ics import Event, uid
from sugarbush.seasons.models import Season
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Credential, Person

BACK, AHEAD = dt.timedelta(days=60), dt.timedelta(days=400)
MOST = 500
"""Events of one kind; a person with more of them looks at the pages."""

Where = Callable[[str], str]


def events_of(person: Person, where: Where, now: dt.datetime | None = None) -> list[Event]:
    """All that stands in this person's calendar; a fixed number of queries, however many events.

    where: from an address within the programme to one that works from outside.
    """
    day = timezone.localdate(now)
    first, last = day - BACK, day + AHEAD
    found: list[Event] = [*_season(person, where)]
    for part in (_runs, _boil_days, _shifts, _own_papers, _slips):
        found += part(person, where, first, last)
    return found


def _season(person: Person, where: Where) -> Iterator[Event]:
    """The days of tapping, and the day by which the taps are out."""
    season = Season.current()
    if season is None or not access.holds(person, "season.totals"):
        return
    sequence, changed_at = Changes("seasons.season", [season.pk]).of(season.pk)
    told = (
        ("tapping", _("Tapping season %(year)s"), season.tapping_from),
        ("taps-out", _("All taps out by today, season %(year)s"), season.tapping_to),
    )
    for kind, words, begins in told:
        yield Event(
            uid=uid(kind, season.year),
            summary=words % {"year": season.year},
            begins=begins,
            ends=season.tapping_to,
            sequence=sequence,
            changed_at=changed_at,
            url=where(reverse("season-review")),
        )


def _runs(person: Person, where: Where, first: dt.date, last: dt.date) -> Iterator[Event]:
    """Their own runs: those they walk or stand by for, unless they said they cannot."""
    reach = access.scope(person, "round.see").filter("run__round__group")
    rows = RunPerson.objects.filter(reach, person=person, run__date__range=(first, last)).exclude(answer=Answer.NO)
    mine = list(rows.select_related("run__round__group").order_by("run__date", "run")[:MOST])
    runs = Changes("gathering.roundrun", [one.run_id for one in mine])
    rounds = Changes("gathering.round", [one.run.round_id for one in mine])
    for one in mine:
        yield run_event(one.run, where, together(runs.of(one.run_id), rounds.of(one.run.round_id)), part=one.part)


def _boil_days(person: Person, where: Where, first: dt.date, last: dt.date) -> Iterator[Event]:
    if not access.holds(person, "delivery.see"):
        return
    days = list(BoilDay.objects.filter(day__range=(first, last)).order_by("day", "pk")[:MOST])
    changes, depots = Changes("boils.boilday", [day.pk for day in days]), depot_names() if days else set()
    for day in days:
        yield boil_event(day, where, changes.of(day.pk), depots)


def _shifts(person: Person, where: Where, first: dt.date, last: dt.date) -> Iterator[Event]:
    """Their own shifts at the pan; the history of one is in its older versions."""
    if not access.holds(person, "delivery.see"):
        return
    rows = Shift.objects.filter(people=person, boil_day__day__range=(first, last)).select_related("boil_day")
    mine = list(rows.order_by("begins", "pk")[:MOST])
    own: dict[int, list[dt.datetime]] = defaultdict(list)
    versions = Shift.history.filter(id__in=[one.pk for one in mine])
    for pk, at in versions.values_list("id", "history_date"):
        own[pk].append(at)
    days = Changes("boils.boilday", [one.boil_day_id for one in mine])
    depots = depot_names() if mine else set()
    for one in mine:
        changed: Change = (max(0, len(own[one.pk]) - 1), max(own[one.pk], default=EPOCH))
        yield shift_event(one, where, together(changed, days.of(one.boil_day_id)), depots)


def _own_papers(person: Person, where: Where, first: dt.date, last: dt.date) -> Iterator[Event]:
    """The last day of their own trainings, waivers and consents."""
    rows = Credential.objects.filter(person=person, valid_to__range=(first, last)).order_by("valid_to", "pk")
    mine = list(rows[:MOST])
    changes = Changes("volunteers.credential", [one.pk for one in mine])
    for one in mine:
        words = _("Last day of yours: %(kind)s") % {"kind": one.get_kind_display()}
        if one.valid_to is not None:
            yield _last_day("credential", one.pk, words, one.valid_to, changes.of(one.pk), where(reverse("me")))


def _slips(person: Person, where: Where, first: dt.date, last: dt.date) -> Iterator[Event]:
    """For those who ask owners: the last day of each yes and of each proof of insurance, by number alone."""
    if not access.holds(person, "permission.decide"):
        return
    granted = permissions_for(person).filter(state=PermissionState.GRANTED)
    ending = list(granted.filter(date_to__range=(first, last)).order_by("date_to", "pk")[:MOST])
    insured = list(granted.filter(insurance_to__range=(first, last)).order_by("insurance_to", "pk")[:MOST])
    changes = Changes("owners.permission", [slip.pk for slip in [*ending, *insured]])

    def tell(kind: str, slip: Permission, words: str, day: dt.date | None) -> Iterator[Event]:
        page = where(reverse("permission", args=[slip.number]))
        if day is not None:
            yield _last_day(kind, slip.number, words % {"number": slip.number}, day, changes.of(slip.pk), page)

    for slip in ending:
        yield from tell("permission", slip, _("Permission %(number)s ends"), slip.date_to)
    for slip in insured:
        yield from tell("insurance", slip, _("Insurance proof of %(number)s ends"), slip.insurance_to)


def _last_day(kind: str, key: object, words: str, day: dt.date, changed: Change, url: str) -> Event:
    return Event(
        uid=uid(kind, key),
        summary=words,
        begins=day,
        ends=day,
        sequence=changed[0],
        changed_at=changed[1],
        url=url,
    )
