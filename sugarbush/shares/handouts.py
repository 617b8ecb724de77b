"""Handing out the jars of final shares: ticked off, declined, given on, taken back. Each jar names its taker."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import NoReturn

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.lots.jars import issue_jars, jars_free, still_out, take_back
from sugarbush.lots.models import Lot, LotState
from sugarbush.owners.models import ShareWish
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.seasons.models import Season
from sugarbush.shares import runs
from sugarbush.shares.models import Party, RunState, Share, ShareRun, Taken
from sugarbush.shares.terms import jars_words
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

PURPOSE = "share"
GIVEN_ON = "given on"


@dataclass(frozen=True, kw_only=True)
class Pick:
    """Jars of one size to take from one lot."""

    lot: Lot
    size_ml: int
    count: int


def pick(due: Mapping[int, int], free: Mapping[Lot, Mapping[int, int]]) -> list[Pick]:
    """Which jars to take, the oldest lot first. Raises Refused where there are too few."""
    picks, missing = [], {}
    for size, count in sorted(due.items(), reverse=True):
        left = count
        for lot, sizes in free.items():
            part = min(left, sizes.get(size, 0))
            if part:
                picks.append(Pick(lot=lot, size_ml=size, count=part))
                left -= part
        if left:
            missing[size] = left
    if missing:
        raise Refused(
            [
                Reason(
                    code="too-few",
                    fact=_("The released lots are short of %(jars)s.") % {"jars": jars_words(missing, "metric")},
                    detail=_("They broke, went elsewhere, or their lot is held or called back."),
                    next_text=_("Look at the lots, then work out the shares again"),
                )
            ]
        )
    return picks


def preview(dues: Mapping[int, Mapping[int, int]], season: Season) -> dict[int, list[Pick]]:
    """Which jars each of these shares gets if it is the next to be handed out; none where too few stand here."""
    free = jars_free(season)
    found: dict[int, list[Pick]] = {}
    for pk, due in dues.items():
        try:
            found[pk] = pick(due, free)
        except Refused:
            found[pk] = []
    return found


def told(picks: Iterable[Pick]) -> str:
    """Which jars a page said to take, so that the books and the shelf agree."""
    return ",".join(f"{one.lot.code}:{one.size_ml}:{one.count}" for one in picks)


def _held(share: Share, by: Person) -> Share:
    access.require(by, "share.handout", anywhere=True)
    rows = Share.objects.select_for_update(of=("self",)).select_related("run__season", "person", "owner")
    held = rows.get(pk=share.pk)
    run = held.run
    if run.state != RunState.FINAL:
        raise Refused(
            [
                Reason(
                    code="state", fact=_("These shares are not final."), next_text=_("Look at the hand-out list again")
                )
            ]
        )
    if run.season.is_closed:
        raise Refused([Reason(code="closed", fact=_("Season %(year)d is closed.") % {"year": run.season.year})])
    if runs.underway_of(run.season) is not None:
        raise Refused(
            [
                Reason(
                    code="underway",
                    fact=_("The shares are being worked out again."),
                    detail=_("Handing out waits until that is final or dropped."),
                )
            ]
        )
    return held


def _issue(
    share: Share, by: Person, *, to_text: str, purpose: str, as_told: str | None = None, lot_code: str = ""
) -> list[Pick]:
    """Take the jars from the lots; every one of them names its taker, so that a recall finds it."""
    season = share.run.season
    list(
        Lot.objects.select_for_update().filter(season=season, state=LotState.RELEASED).order_by("pk").values_list("pk")
    )
    due = runs.still_due(share, runs.handed_out([share])[share.pk])
    free = jars_free(season)
    if lot_code:
        free = {lot: free[lot] for lot in sorted(free, key=lambda lot: lot.code != lot_code)}
    picks = pick(due, free)
    if as_told is not None and not lot_code and as_told != told(picks):
        raise Refused(
            [
                Reason(
                    code="other-jars",
                    fact=_("Somebody else took jars meanwhile, so these come from other lots now."),
                    next_text=_("Look at the lots below, and press once more"),
                )
            ]
        )
    for one in picks:
        issue = issue_jars(
            lot=one.lot,
            size_ml=one.size_ml,
            count=one.count,
            by=by,
            person=share.person if not to_text else None,
            owner=share.owner if not to_text else None,
            to_text=to_text or (share.name if share.party == Party.ASIDE else ""),
            purpose=purpose,
        )
        share.issues.add(issue)
    return picks


def _take(share: Share, by: Person, taken: Taken, note: str) -> None:
    share.taken, share.taken_at, share.taken_by, share.taken_note = taken, timezone.now(), by, note.strip()[:200]
    share.save(update_fields=["taken", "taken_at", "taken_by", "taken_note"])
    record(by=by, act=f"share {taken}", subject=share, reason=note, new={"jars": share.jars})


def _is(share: Share, taken: Taken) -> NoReturn:
    raise Refused(
        [
            Reason(
                code="taken",
                fact=_("%(name)s: %(state)s already.") % {"name": share.name, "state": Taken(taken).label},
                next_text=_("Take that back first"),
            )
        ]
    )


@transaction.atomic
def hand_out(*, share: Share, by: Person, note: str = "", as_told: str | None = None, lot_code: str = "") -> Share:
    """Tick off: the jars go to whoever they are for. Twice is once.

    as_told: the jars that the page said to take (`told`); where they are others by now, nothing is written.
    lot_code: the lot they really came from, as a paper list says; what it lacks comes from the oldest.
    """
    held = _held(share, by)
    if held.taken == Taken.COLLECTED:
        return held
    if held.taken != Taken.WAITING:
        _is(held, Taken(held.taken))
    _issue(held, by, to_text="", purpose=PURPOSE, as_told=as_told, lot_code=lot_code)
    _take(held, by, Taken.COLLECTED, note)
    return held


@transaction.atomic
def decline(*, share: Share, by: Person, note: str = "") -> Share:
    """They do not want their jars; the jars stay here, on the list of what to give on."""
    held = _held(share, by)
    if held.taken == Taken.DECLINED:
        return held
    if held.taken != Taken.WAITING:
        _is(held, Taken(held.taken))
    _take(held, by, Taken.DECLINED, note)
    return held


def to_give_on(run: ShareRun) -> list[Share]:
    """Shares whose jars go to others: declined, not collected in time, or an owner who wished it so; one query."""
    late = run.collect_by is not None and timezone.localdate() > run.collect_by
    rows = run.shares.filter(taken__in=(Taken.WAITING, Taken.DECLINED), given_ml__gt=0).exclude(party=Party.ASIDE)
    return [
        share
        for share in rows.order_by("name", "pk")
        if share.taken == Taken.DECLINED or late or share.working.get("wish") == ShareWish.DONATE
    ]


@transaction.atomic
def give_on(*, shares: Iterable[Share], by: Person, to_text: str) -> list[Share]:
    """Give the jars of these shares to somebody else, named in words. Those given on already stay so."""
    if not to_text.strip():
        raise Refused([Reason(code="to", fact=_("Say who gets the jars."))])
    done = []
    open_ones = {share.pk for run in {share.run for share in shares} for share in to_give_on(run)}
    for share in sorted(shares, key=lambda share: share.pk):
        held = _held(share, by)
        if held.taken == Taken.DONATED:
            continue
        if held.pk not in open_ones:
            raise Refused(
                [
                    Reason(
                        code="not-yet",
                        fact=_("%(name)s can still come for the jars.") % {"name": held.name},
                        next_text=_("Wait until the day they are kept for, or mark them declined"),
                    )
                ]
            )
        _issue(held, by, to_text=to_text.strip()[:120], purpose=GIVEN_ON)
        note = _("given to %(to)s") % {"to": to_text.strip()}
        _take(held, by, Taken.DONATED, f"{held.taken_note}; {note}" if held.taken_note else note)
        done.append(held)
    return done


@transaction.atomic
def undo(*, share: Share, by: Person, reason: str = "") -> Share:
    """Take the tick back: the jars come back to their lots. On a later day it needs a reason."""
    held = _held(share, by)
    if held.taken == Taken.WAITING:
        return held
    today = held.taken_at is not None and timezone.localdate(held.taken_at) == timezone.localdate()
    if not today and not reason.strip():
        raise Refused(
            [
                Reason(
                    code="reason",
                    fact=_("This was ticked on an earlier day."),
                    next_text=_("Write why the jars came back"),
                )
            ]
        )
    for issue in held.issues.filter(returns=None).select_related("lot", "person", "owner"):
        left = still_out(issue)
        if left:
            take_back(issue=issue, count=left, by=by, reason=reason.strip() or _("tick taken back"))
    old = held.taken
    held.taken, held.taken_at, held.taken_by, held.taken_note = Taken.WAITING, None, None, ""
    held.save(update_fields=["taken", "taken_at", "taken_by", "taken_note"])
    record(by=by, act="take back share", subject=held, reason=reason, old={"taken": old})
    return held
