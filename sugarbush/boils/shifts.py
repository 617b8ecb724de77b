"""The shifts of a boiling day: who stands at the pan when, and where two adults are missing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.boils.models import BoilDay, BoilState
from sugarbush.boils.models_pan import Shift
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.volunteers import access, booking
from sugarbush.volunteers.booking import LEAST_ADULTS, Papers
from sugarbush.volunteers.models import Person

LONGEST_H = 12


@dataclass(frozen=True, kw_only=True)
class Gap:
    """A stretch of the day with fewer than two adults at the pan."""

    begins: dt.datetime
    ends: dt.datetime
    adults: int


def same_clock(moment: dt.datetime, by: dt.timedelta) -> dt.datetime:
    """The moment so many days on at the same time of the clock, whatever the clocks do meanwhile."""
    local = timezone.localtime(moment)
    return timezone.make_aware(local.replace(tzinfo=None) + dt.timedelta(days=by.days))


class Crew:
    """Who counts on the shifts of a day, and who on them is out by now: a fixed number of queries for all of them."""

    def __init__(self, shifts: Iterable[Shift]) -> None:
        self.shifts = list(shifts)
        self.people = {shift.pk: list(shift.people.all()) for shift in self.shifts}
        papers = Papers(person for there in self.people.values() for person in there)
        self.out: dict[int, dict[int, list[Reason]]] = {
            shift.pk: papers.together(self.people[shift.pk], timezone.localdate(shift.begins)) for shift in self.shifts
        }

    def adults_on(self, shift: Shift) -> set[int]:
        """Adults of a shift who are not out, by key."""
        return {one.pk for one in self.people[shift.pk] if one.is_adult and one.pk not in self.out[shift.pk]}

    def out_of(self, shift: Shift) -> list[Reason]:
        """Why somebody on this shift is out, each reason once."""
        return [reason for reasons in self.out[shift.pk].values() for reason in reasons]

    def covering(self, at: dt.datetime) -> list[Shift]:
        """The shifts that cover a moment."""
        return [shift for shift in self.shifts if shift.begins <= at < shift.ends]

    def adults_at(self, at: dt.datetime) -> set[int] | None:
        """Adults at the pan at a moment, from all shifts that cover it; None where none does."""
        there = self.covering(at)
        return {key for shift in there for key in self.adults_on(shift)} if there else None

    def gaps(self, begins: dt.datetime, ends: dt.datetime) -> list[Gap]:
        """Every stretch between the two moments without two adults, neighbours of a kind joined."""
        inside = {edge for shift in self.shifts for edge in (shift.begins, shift.ends) if begins < edge < ends}
        found: list[Gap] = []
        for one, other in pairwise(sorted({begins, ends, *inside})):
            count = len(self.adults_at(one) or ())
            if count >= LEAST_ADULTS:
                continue
            if found and found[-1].ends == one and found[-1].adults == count:
                found[-1] = Gap(begins=found[-1].begins, ends=other, adults=count)
            else:
                found.append(Gap(begins=one, ends=other, adults=count))
        return found


def gaps(shifts: Sequence[Shift], begins: dt.datetime, ends: dt.datetime) -> list[Gap]:
    """Every stretch between the two moments without two adults."""
    return Crew(shifts).gaps(begins, ends)


def _must_be_ahead(day: BoilDay) -> None:
    if day.season.is_closed or day.state in (BoilState.OUT, BoilState.CALLED_OFF):
        fact = _("This day is %(state)s; its shifts stay as they were.") % {"state": day.get_state_display()}
        raise Refused([Reason(code="state", fact=fact)])


def _times(begins: dt.datetime, ends: dt.datetime) -> list[Reason]:
    hours = (ends - begins).total_seconds() / 3600
    if hours <= 0:
        return [Reason(code="times", fact=_("The shift ends before it begins."), next_text=_("Look at both times"))]
    if hours > LONGEST_H:
        fact = _("A shift of more than %(n)d hours tires people at a fire.") % {"n": LONGEST_H}
        return [Reason(code="times", fact=fact, next_text=_("Make two shifts of it"))]
    return []


@transaction.atomic
def keep_shift(
    *,
    day: BoilDay,
    by: Person,
    begins: dt.datetime,
    ends: dt.datetime,
    task: str = "",
    people: Sequence[Person] = (),
    shift: Shift | None = None,
) -> Shift:
    """Add a shift, or change this one. The same stretch with the same task is not added twice."""
    access.require(by, "boil.plan", anywhere=True)
    held = BoilDay.objects.select_for_update(of=("self",)).select_related("season").get(pk=day.pk)
    _must_be_ahead(held)
    if shift is None:
        shift = Shift.objects.filter(boil_day=held, begins=begins, ends=ends, task=task).first()
        people = [*people, *(shift.people.all() if shift else ())]
    people = list({person.pk: person for person in people}.values())
    new = {person.pk for person in people} - set(shift.people.values_list("pk", flat=True) if shift else ())
    # Asked under the day's lock: of two who take one adult each off the same shift, the second is refused.
    reasons = [*_times(begins, ends), *booking.why_not(people, timezone.localdate(begins), new=new)]
    if reasons:
        raise Refused(reasons)
    kept = shift or Shift(boil_day=held)
    kept.begins, kept.ends, kept.task = begins, ends, task
    kept.save()
    kept.people.set(people)
    record(by=by, act="keep shift", subject=held, new={"shift": str(kept.pk), "people": sorted(p.pk for p in people)})
    return kept


@transaction.atomic
def remove_shift(*, shift: Shift, by: Person) -> None:
    """Take a shift off the day."""
    access.require(by, "boil.plan", anywhere=True)
    day = BoilDay.objects.select_for_update(of=("self",)).select_related("season").get(pk=shift.boil_day_id)
    _must_be_ahead(day)
    record(by=by, act="remove shift", subject=day, old={"begins": str(shift.begins), "ends": str(shift.ends)})
    shift.delete()


@transaction.atomic
def lay_out(*, day: BoilDay, by: Person, hours: float, shift_h: float = 4.0) -> list[Shift]:
    """Empty shifts from the day's beginning on, enough for its hours; only where the day has none yet."""
    access.require(by, "boil.plan", anywhere=True)
    held = BoilDay.objects.select_for_update(of=("self",)).select_related("season").get(pk=day.pk)
    _must_be_ahead(held)
    if held.starts_at is None:
        step, url = _("Write it down"), reverse("boil-day-edit", args=[held.pk]) + "#id_begins"
        fact = _("Nobody has said when the day begins.")
        raise Refused([Reason(code="no-start", fact=fact, next_text=step, next_url=url)])
    if held.shifts.exists():
        return list(held.shifts.all())
    made, begins = [], held.starts_at
    # A rest of less than an hour is no shift of its own.
    last = held.starts_at + dt.timedelta(minutes=round(hours * 60 / 5) * 5)
    while begins < last:
        ends = begins + dt.timedelta(hours=shift_h)
        if last - ends < dt.timedelta(hours=1):
            ends = max(last, begins + dt.timedelta(hours=1))
        made.append(Shift.objects.create(boil_day=held, begins=begins, ends=ends))
        begins = ends
    record(by=by, act="lay out shifts", subject=held, new={"shifts": len(made)})
    return made
