"""The acts of a boiling day: plan it, call it, move it, light the fire, put it out. Its shifts stand in shifts.py."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from sugarbush.audit.models import AuditEvent, record
from sugarbush.boils.models import Batch, BatchState, BoilDay, BoilState
from sugarbush.boils.models_pan import Answer, Coming
from sugarbush.boils.shifts import Crew, same_clock
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.volunteers import access, booking
from sugarbush.volunteers.models import Person

# The safety lines: the column's name, what is wrong while it is not ticked, and what to do about it.
LINES: dict[str, tuple[str, str]] = {
    "fire_permission": (
        gettext_noop("Fire permission is not in hand."),
        gettext_noop("Ask the fire hall or the owner, then write down who said yes"),
    ),
    "extinguisher": (
        gettext_noop("No extinguisher or water is ready."),
        gettext_noop("Put one beside the fire and tick the line"),
    ),
    "two_adults": (
        gettext_noop("Two adults for the whole boil are not promised."),
        gettext_noop("Agree who stays, then tick the line"),
    ),
    "outdoors": (
        gettext_noop("The fire is not said to be outdoors and clear of buildings."),
        gettext_noop("Measure the distance and tick the line"),
    ),
    "dry_wood": (
        gettext_noop("Dry fuel is not at hand."),
        gettext_noop("Bring it under cover and tick the line"),
    ),
    "children_line": (
        gettext_noop("There is no line that children stay behind."),
        gettext_noop("Mark it on the ground and tick the line"),
    ),
    "first_aid": (
        gettext_noop("No cold water and first aid for burns are ready."),
        gettext_noop("Put them beside the pan and tick the line"),
    ),
}
CHECKLIST = tuple(LINES)
UNLIT = (BoilState.PLANNED, BoilState.CALLED)
MOVE_ACT = "move boiling day"


def why_not_lit(day: BoilDay, by: Person, *, at: dt.datetime | None = None) -> list[Reason]:
    """What stands between this day and its fire, each with its next step."""
    edit = reverse("boil-day-edit", args=[day.pk])
    reasons = [
        Reason(code=name, fact=_(fact), next_text=_(step), next_url=f"{edit}#id_{name}")
        for name, (fact, step) in LINES.items()
        if not getattr(day, name)
    ]
    reasons += _crew_reasons(day, at or timezone.now())
    why = access.why_not(by, "boil.light", anywhere=True)
    if why:
        step = _("Let somebody with fire training press it")
        reasons.append(Reason(code="person", fact=_("You may not light it."), detail=why, next_text=step))
    return reasons


def _crew_reasons(day: BoilDay, at: dt.datetime) -> list[Reason]:
    """Two adults at the pan at this moment: by the shifts, or by the crew of a day that has no shifts."""
    url = reverse("boil-day", args=[day.pk]) + "#shifts"
    shifts = list(day.shifts.prefetch_related("people"))
    step = _("Add a shift with two adults")
    if not shifts:
        crew = list(day.crew.all())
        out = booking.Papers(crew).together(crew, timezone.localdate(at))
        if sum(person.is_adult and person.pk not in out for person in crew) >= booking.LEAST_ADULTS:
            return _young(crew, out)
        return [Reason(code="crew", fact=_("Fewer than two adults are on the crew."), next_text=step, next_url=url)]
    crew_of = Crew(shifts)
    found = crew_of.adults_at(at)
    if found is None:
        clock = timezone.localtime(at)
        fact = _("No shift covers %(time)s.") % {"time": f"{clock:%H:%M}"}
        return [Reason(code="crew", fact=fact, next_text=step, next_url=url)]
    if len(found) < booking.LEAST_ADULTS:
        fact = _("The shift at this time has fewer than two adults.")
        return [Reason(code="crew", fact=fact, next_text=_("Put another adult on it"), next_url=url)]
    return [
        reason for shift in crew_of.covering(at) for reason in _young(crew_of.people[shift.pk], crew_of.out[shift.pk])
    ]


def _young(people: Sequence[Person], out: dict[int, list[Reason]]) -> list[Reason]:
    """What keeps somebody under 18, who is on this shift, from being there."""
    return [reason for person in people if not person.is_adult for reason in out.get(person.pk, ())]


def _held(day: BoilDay) -> BoilDay:
    """The day as it stands, held until the transaction ends."""
    return BoilDay.objects.select_for_update().get(pk=day.pk)


def _not_now(day: BoilDay) -> Refused:
    fact = _("This day is %(state)s.") % {"state": day.get_state_display()}
    return Refused([Reason(code="state", fact=fact, next_text=_("Call another day"), next_url=reverse("boil-day-new"))])


@transaction.atomic
def keep_day(*, day: BoilDay, by: Person, called: bool = True) -> BoilDay:
    """Keep a new day: called, so that people come, or as a plan for now."""
    access.require(by, "boil.plan", anywhere=True)
    day.state = BoilState.CALLED if called else BoilState.PLANNED
    day.lead = by
    day.save()
    record(by=by, act="call boiling day" if called else "plan boiling day", subject=day)
    return day


@transaction.atomic
def call(*, day: BoilDay, by: Person) -> BoilDay:
    """Call a planned day: from now on people are asked to come."""
    access.require(by, "boil.plan", anywhere=True)
    held = _held(day)
    if held.state == BoilState.PLANNED:
        held.state = BoilState.CALLED
        held.save()
        record(by=by, act="call boiling day", subject=held)
    elif held.state != BoilState.CALLED:
        raise _not_now(held)
    return held


@transaction.atomic
def light(*, day: BoilDay, by: Person) -> BoilDay:
    """Light the fire; refused while a safety line is unticked or two adults are not there now."""
    held = _held(day)
    reasons = why_not_lit(held, by)
    if reasons:
        raise Refused(reasons)
    if held.state in UNLIT:
        held.state = BoilState.LIT
        held.save()
        record(by=by, act="light fire", subject=held)
    elif held.state != BoilState.LIT:
        raise _not_now(held)
    return held


@transaction.atomic
def put_out(*, day: BoilDay, by: Person, called_off: bool = False, reason: str = "") -> BoilDay:
    """End the day: the fire is out, or it is called off with its reason. Not while a batch is in the pan."""
    access.require(by, "boil.plan", anywhere=True)
    held = _held(day)
    batch = Batch.objects.filter(boil_day=held, state=BatchState.OPEN).first()
    if batch:
        step, url = _("Close the batch"), reverse("pan-close", args=[batch.pk])
        raise Refused([Reason(code="open-batch", fact=_("A batch is still in the pan."), next_text=step, next_url=url)])
    ended = BoilState.CALLED_OFF if called_off else BoilState.OUT
    if held.state == ended:
        return held
    if held.state not in (UNLIT if called_off else (BoilState.LIT,)):
        raise _not_now(held)
    if called_off and not reason.strip():
        raise Refused([Reason(code="reason", fact=_("Say why it is called off; everybody who answered reads it."))])
    held.state = ended
    if called_off:
        held.note = f"{_('Called off:')} {reason.strip()}"[:400]
    held.save()
    record(by=by, act="call off boiling day" if called_off else "fire out", subject=held, reason=reason.strip())
    return held


@transaction.atomic
def move_to_rain_day(*, day: BoilDay, by: Person, reason: str) -> BoilDay:
    """Move a day that is not lit to its rain date, shifts and all, at the same time of the clock.

    Everybody's answer was for the old date: `stale` says so until they answer again.
    """
    access.require(by, "boil.plan", anywhere=True)
    held = _held(day)
    if held.state not in UNLIT:
        raise _not_now(held)
    if held.rain_day is None:
        step, url = _("Write one down"), reverse("boil-day-edit", args=[held.pk]) + "#id_rain_day"
        raise Refused([Reason(code="no-rain-day", fact=_("No rain date is named."), next_text=step, next_url=url)])
    if not reason.strip():
        raise Refused([Reason(code="reason", fact=_("Say why it moves; everybody who answered reads it."))])
    old, new = held.day, held.rain_day
    held.day, held.rain_day = new, None
    held.water_boils_c, held.water_boils_at = None, None
    if held.starts_at:
        held.starts_at = same_clock(held.starts_at, new - old)
    held.save()
    for shift in held.shifts.select_for_update():
        shift.begins, shift.ends = same_clock(shift.begins, new - old), same_clock(shift.ends, new - old)
        shift.save()
    record(by=by, act=MOVE_ACT, subject=held, reason=reason.strip(), old={"day": str(old)}, new={"day": str(new)})
    return held


def moves_of(days: Sequence[BoilDay]) -> dict[int, AuditEvent]:
    """The last time each day was moved, with its old date and reason; one query."""
    ids = [str(day.pk) for day in days]
    rows = AuditEvent.objects.filter(subject_kind="boils.boilday", subject_id__in=ids, act=MOVE_ACT).order_by("at")
    return {int(row.subject_id): row for row in rows}


def stale(answer: Coming, moved: AuditEvent | None) -> bool:
    """Whether this was said for a date that is no longer the day's."""
    return moved is not None and answer.said_at < moved.at


@transaction.atomic
def say(*, day: BoilDay, by: Person, answer: str, note: str = "") -> Coming:
    """ "I come" or "I can't", for oneself; said again, the last word counts."""
    access.require(by, "delivery.see", anywhere=True)
    if day.state not in (BoilState.CALLED, BoilState.LIT):
        raise Refused([Reason(code="not-called", fact=_("This day is not called, so there is nothing to answer."))])
    said, _made = Coming.objects.update_or_create(
        boil_day=day,
        person=by,
        defaults={"answer": Answer(answer), "note": note.strip(), "said_at": timezone.now()},
    )
    return said
