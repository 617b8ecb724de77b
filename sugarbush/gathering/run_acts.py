"""Runs: giving rounds to people day by day, their answers, calling who stands by, finishing, calling off."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence

from django.db import transaction
from django.utils import timezone
from django.utils.formats import date_format, time_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.audit.models import record
from sugarbush.gathering import crew
from sugarbush.gathering.models_rounds import Part, Round, RoundPerson, RoundRun, RunPerson, RunState
from sugarbush.gathering.round_acts import hold, refuse
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

LONGEST_SPAN_DAYS = 62  # a whole season of runs in one press


def days_between(first: dt.date, last: dt.date, every: int) -> list[dt.date]:
    """The days of a span, every so many.

    >>> [day.day for day in days_between(dt.date(2026, 3, 1), dt.date(2026, 3, 6), 2)]
    [1, 3, 5]
    """
    return [first + dt.timedelta(days=n) for n in range(0, (last - first).days + 1, every)]


def _members(found: Round, people: Iterable[Person]) -> list[Reason]:
    return [
        Reason(
            code="member",
            fact=_("%(who)s may not log in %(group)s.") % {"who": person, "group": found.group},
            next_text=_("Choose somebody of the group"),
        )
        for person in people
        if not access.scope(person, "collection.log").covers(found.group_id)
    ]


@transaction.atomic
def keep_usual(*, found: Round, by: Person, walks: Sequence[Person], standby: Sequence[Person]) -> None:
    """Who usually walks the round, and who stands by in which order."""
    held = hold(found, by)
    parts = _parts(walks, standby)
    if reasons := _members(held, parts):
        raise Refused(reasons)
    held.usual.all().delete()
    RoundPerson.objects.bulk_create(
        RoundPerson(round=held, person=person, part=part, nth=n) for person, (part, n) in parts.items()
    )
    record(by=by, act="keep usual people", subject=held, new={"people": _told(parts)})


def _parts(walks: Sequence[Person], standby: Sequence[Person]) -> dict[Person, tuple[Part, int]]:
    """Each person once; who walks cannot stand by as well."""
    parts = {person: (Part.STANDBY, n) for n, person in enumerate(standby)}
    return parts | {person: (Part.WALKS, n) for n, person in enumerate(walks)}


def _told(parts: dict[Person, tuple[Part, int]]) -> list[list[object]]:
    return [[person.pk, str(part)] for person, (part, _n) in parts.items()]


@transaction.atomic
def give_runs(
    *,
    found: Round,
    by: Person,
    first: dt.date,
    last: dt.date,
    every: int = 1,
    walks: Sequence[Person] = (),
    standby: Sequence[Person] = (),
) -> list[RoundRun]:
    """Give the runs of a span of days to people. The same press again changes nothing.

    A day that is given already gets these people besides those it has; one that was called off or finished stays as
    it is. Gives the runs of the span that stand. Raises Refused for days in the past and for spans past two months.
    """
    held = hold(found, by)
    reasons = [*_span(first, last, every), *_members(held, [*walks, *standby])]
    if reasons:
        raise Refused(reasons)
    parts = _parts(walks, standby)
    days = days_between(first, last, every)
    had = set(RoundRun.objects.filter(round=held, date__in=days).values_list("date", flat=True))
    RoundRun.objects.bulk_create(RoundRun(round=held, date=day) for day in days if day not in had)
    # The runs are held: an adult who is taken off one at this moment is either off before this looks, or refused.
    given = RoundRun.objects.select_for_update().filter(round=held, date__in=days, state=RunState.PLANNED)
    runs = list(given.order_by("date", "pk"))
    if reasons := crew.why_not_on(runs, {person: part for person, (part, _n) in parts.items()}):
        raise Refused(reasons)
    on = set(RunPerson.objects.filter(run__in=runs).values_list("run_id", "person_id"))
    RunPerson.objects.bulk_create(
        RunPerson(run=run, person=person, part=part, nth=n)
        for run in runs
        for person, (part, n) in parts.items()
        if (run.pk, person.pk) not in on
    )
    record(
        by=by,
        act="give runs",
        subject=held,
        new={"first": str(first), "last": str(last), "every": every, "people": _told(parts)},
    )
    return runs


def _span(first: dt.date, last: dt.date, every: int) -> list[Reason]:
    if first < timezone.localdate():
        return [Reason(code="past", fact=_("That day is over."), next_text=_("Begin today or later"))]
    if last < first:
        return [Reason(code="span", fact=_("The last day is before the first."), next_text=_("Look at both days"))]
    if (last - first).days >= LONGEST_SPAN_DAYS:
        fact = _("At most %(n)d days go at once.") % {"n": LONGEST_SPAN_DAYS}
        return [Reason(code="span", fact=fact, next_text=_("Choose an earlier last day"))]
    if not 1 <= every <= 14:
        return [Reason(code="every", fact=_("A round is walked every day, or every so many days up to 14."))]
    return []


def _hold_run(run: RoundRun, by: Person, act: str) -> RoundRun:
    rows = RoundRun.objects.select_for_update(of=("self",)).select_related("round__season", "round__group")
    held = rows.get(pk=run.pk)
    access.require(by, act, group_id=held.round.group_id)
    if held.round.season.is_closed:
        raise refuse("closed", _("Season %(year)s is closed.") % {"year": held.round.season.year})
    return held


@transaction.atomic
def say(*, run: RoundRun, by: Person, answer: str) -> RunPerson:
    """ "I come", or "I can't", of a run one is on. Somebody who stands by says whether they could be called."""
    held = _hold_run(run, by, "collection.log")
    mine = held.people.filter(person=by).first()
    if mine is None:
        raise refuse("not-on", _("You are not on this run."), _("Ask the group lead to put you on it"))
    if held.date < timezone.localdate():
        raise refuse("past", _("That day is over."))
    if mine.answer != answer:
        record(by=by, act="answer run", subject=held, group_id=held.round.group_id, new={"answer": answer})
        mine.answer, mine.said_at = answer, timezone.now()
        mine.save(update_fields=["answer", "said_at"])
    return mine


@transaction.atomic
def leave_run(*, run: RoundRun, person: Person, by: Person) -> None:
    """Take somebody off one run: a gap shows, and those who stand by can be called.

    Raises Refused while somebody under 18 stays on it who would be left without two screened adults.
    """
    held = _hold_run(run, by, "round.plan")
    if needed := crew.why_needed(held, person):
        raise Refused(needed)
    gone, _rows = held.people.filter(person=person).delete()
    if gone:
        record(by=by, act="take off run", subject=held, group_id=held.round.group_id, old={"person": person.pk})


@transaction.atomic
def call_standby(*, run: RoundRun, by: Person, person: Person) -> RunPerson:
    """Call somebody who stands by: from now on the run is theirs to walk. The same press again changes nothing.

    Nothing is sent: the page shows the words to send. person: whom the page offered, so that a second press, or a
    second lead, does not call the next one too.
    """
    held = _hold_run(run, by, "round.plan")
    if held.state != RunState.PLANNED:
        raise refuse("state", _("This run is %(state)s.") % {"state": held.get_state_display()})
    there = held.people.filter(person=person).first()
    if there is not None and there.part == Part.WALKS:
        return there
    offered = crew.next_standby(held)
    if offered is None or offered.person_id != person.pk:
        fact = _("%(who)s does not stand by for this run any more.") % {"who": person}
        raise refuse("standby", fact, _("Look at the board again"))
    called = there or RunPerson(run=held, person=person)
    called.part, called.called_at, called.called_by = Part.WALKS, timezone.now(), by
    called.save()
    record(by=by, act="call standby", subject=held, group_id=held.round.group_id, new={"person": person.pk})
    return called


def standby_words(run: RoundRun, person: Person, *, left: int, link: str) -> str:
    """What to send to somebody who stands by, ready to copy. left: trees not visited yet."""
    trees = ngettext("%(n)d tree", "%(n)d trees", left) % {"n": left}
    return _(
        "%(who)s, nobody has started “%(round)s” on %(day)s: %(trees)s, latest start %(time)s. Can you walk it? "
        "Please answer here: %(link)s"
    ) % {
        "who": person.display_name.split()[0],
        "round": run.round.name,
        "day": date_format(run.date, "l j F"),
        "trees": trees,
        "time": time_format(run.round.latest_start, "H:i"),
        "link": link,
    }


@transaction.atomic
def finish(*, run: RoundRun, by: Person, left_out: dict[str, str], note: str = "") -> RoundRun:
    """Say that a run is over although not every tree was visited.

    left_out: tag and reason of each tree nobody came to. A second press keeps the first one's words.
    """
    held = _hold_run(run, by, "collection.log")
    if held.state == RunState.FINISHED:
        return held
    if held.state == RunState.CALLED_OFF:
        raise refuse("state", _("This run is called off."))
    if held.date > timezone.localdate():
        raise refuse("ahead", _("That day has not come yet."))
    unsaid = [code for code, why in left_out.items() if not why.strip()]
    if unsaid:
        raise refuse("why", _("Say why nobody came to %(codes)s.") % {"codes": ", ".join(unsaid)})
    held.state, held.finished_at, held.finished_by = RunState.FINISHED, timezone.now(), by
    held.left_out = [{"code": code, "why": why.strip()[:120]} for code, why in left_out.items()]
    held.note = note.strip()[:300]
    held.save()
    record(
        by=by,
        act="finish run",
        subject=held,
        group_id=held.round.group_id,
        reason=note,
        new={"left_out": held.left_out},
    )
    return held


@transaction.atomic
def call_off(*, run: RoundRun, by: Person, reason: str) -> RoundRun:
    """Call a run off, with a reason everybody sees."""
    held = _hold_run(run, by, "round.plan")
    if held.state == RunState.CALLED_OFF:
        return held
    if held.state == RunState.FINISHED:
        raise refuse("state", _("This run is finished."))
    if not reason.strip():
        raise refuse("reason", _("Write why, in a sentence."))
    held.state, held.off_reason = RunState.CALLED_OFF, reason.strip()[:200]
    held.save()
    record(by=by, act="call off run", subject=held, reason=reason, group_id=held.round.group_id)
    return held


@transaction.atomic
def open_again(*, run: RoundRun, by: Person) -> RoundRun:
    """A run that was finished or called off by mistake is planned again."""
    held = _hold_run(run, by, "round.plan")
    if held.state == RunState.PLANNED:
        return held
    old = {"state": held.state, "reason": held.off_reason, "left_out": held.left_out}
    held.state, held.off_reason, held.left_out = RunState.PLANNED, "", []
    held.finished_at = held.finished_by = None
    held.save()
    record(by=by, act="open run again", subject=held, old=old, group_id=held.round.group_id)
    return held
