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
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Credential, CredentialKind, Person

LEAST_ADULTS = 2
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


def adults_at(shifts: Iterable[Shift], at: dt.datetime) -> set[int] | None:
    """Adults at the pan at a moment, from all shifts that cover it; None where none does."""
    there = [shift for shift in shifts if shift.begins <= at < shift.ends]
    if not there:
        return None
    return {person.pk for shift in there for person in shift.people.all() if person.is_adult}


def gaps(shifts: Sequence[Shift], begins: dt.datetime, ends: dt.datetime) -> list[Gap]:
    """Every stretch between the two moments without two adults, neighbours of a kind joined."""
    inside = {edge for shift in shifts for edge in (shift.begins, shift.ends) if begins < edge < ends}
    found: list[Gap] = []
    for one, other in pairwise(sorted({begins, ends, *inside})):
        count = len(adults_at(shifts, one) or ())
        if count >= LEAST_ADULTS:
            continue
        if found and found[-1].ends == one and found[-1].adults == count:
            found[-1] = Gap(begins=found[-1].begins, ends=other, adults=count)
        else:
            found.append(Gap(begins=one, ends=other, adults=count))
    return found


def _must_be_ahead(day: BoilDay) -> None:
    if day.season.is_closed or day.state in (BoilState.OUT, BoilState.CALLED_OFF):
        fact = _("This day is %(state)s; its shifts stay as they were.") % {"state": day.get_state_display()}
        raise Refused([Reason(code="state", fact=fact)])


def why_not_on(*, begins: dt.datetime, people: Sequence[Person]) -> list[Reason]:
    """What speaks against these people on one shift: somebody under 18 needs consent and two screened adults."""
    minors = [person for person in people if not person.is_adult]
    if not minors:
        return []
    on = timezone.localtime(begins).date()
    held = Credential.objects.live(on).filter(person__in=people)
    consents = set(held.filter(kind=CredentialKind.GUARDIAN).values_list("person_id", flat=True))
    screened = set(held.filter(kind=CredentialKind.SCREENING).values_list("person_id", flat=True))
    adults = [person for person in people if person.is_adult]
    reasons = []
    for person in minors:
        if person.pk not in consents:
            fact = _("%(who)s is under 18 and has no guardian’s consent for that day.") % {"who": person}
            reasons.append(Reason(code="consent", fact=fact, next_text=_("Ask a coordinator to record it")))
    if len(adults) < LEAST_ADULTS:
        fact = _("Somebody under 18 stands at the pan only with two adults on the same shift.")
        reasons.append(Reason(code="adults", fact=fact, next_text=_("Put two adults on it first")))
    elif sum(person.pk in screened for person in adults) < LEAST_ADULTS:
        fact = _("Two adults of this shift need a screening for work with minors.")
        reasons.append(Reason(code="screening", fact=fact, next_text=_("Choose adults who have one")))
    return reasons


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
    reasons = [*_times(begins, ends), *why_not_on(begins=begins, people=people)]
    if reasons:
        raise Refused(reasons)
    if shift is None:
        shift = Shift.objects.filter(boil_day=held, begins=begins, ends=ends, task=task).first()
        people = [*people, *(shift.people.all() if shift else ())]
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
