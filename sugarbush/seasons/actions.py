"""Opening the programme, preparing seasons, changing their rules, and leading them from draft to closed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.seasons import changed, closing, guidelines
from sugarbush.seasons.models import Programme, Season, SeasonState
from sugarbush.volunteers import access
from sugarbush.volunteers.changing import change
from sugarbush.volunteers.models import Person

NEXT: dict[str, str] = {
    SeasonState.DRAFT: SeasonState.OPEN,
    SeasonState.OPEN: SeasonState.TAPPING,
    SeasonState.TAPPING: SeasonState.RUNNING,
    SeasonState.RUNNING: SeasonState.ENDING,
    SeasonState.ENDING: SeasonState.CLOSED,
    SeasonState.CLOSED: SeasonState.ENDING,
}
Box = tuple[float, float, float, float]


def _refuse(code: str, fact: str, *, detail: str = "", next_text: str, next_url: str = "") -> Refused:
    return Refused([Reason(code=code, fact=fact, detail=detail, next_text=next_text, next_url=next_url)])


@transaction.atomic
def open_programme(
    *,
    by: Person,
    name: str,
    place: str,
    time_zone: str,
    default_units: str,
    year: int,
    tapping_from: dt.date,
    tapping_to: dt.date,
    tag_prefix: str = "T",
    phone: str = "",
    local_rules: str = "",
    box: Box | None = None,
    **rules: Any,
) -> Programme:
    """Open the one programme of this install with its first season, a draft. `rules`: more columns of Season.

    The coordinator's own units become the programme's.  Raises Refused where a programme is open already.
    """
    access.require(by, "programme.change", anywhere=True)
    if Programme.objects.exists():
        raise _refuse(
            "programme-open",
            _("The programme is open already."),
            next_text=_("See it"),
            next_url=reverse("programme"),
        )
    west, south, east, north = box or (None, None, None, None)
    programme = Programme.objects.create(
        name=name,
        place=place,
        time_zone=time_zone,
        default_units=default_units,
        tag_prefix=tag_prefix,
        phone=phone,
        local_rules=local_rules,
        west=west,
        south=south,
        east=east,
        north=north,
    )
    record(by=by, act="open programme", subject=programme, new={"name": name, "place": place, "time_zone": time_zone})
    if by.units != default_units:
        by.units = default_units
        by.save(update_fields=["units"])
    prepare_season(by=by, year=year, tapping_from=tapping_from, tapping_to=tapping_to, **rules)
    return programme


def change_programme(*, by: Person, programme: Programme, values: Mapping[str, Any], seen: str) -> Programme:
    """Change what the programme says of itself. Raises MovedOn when somebody else just did."""
    access.require(by, "programme.change", anywhere=True)
    return change(row=programme, by=by, values=values, seen=seen, act="change programme")


def reasons_against_new() -> list[Reason]:
    """Why no further season may be prepared now: people work in one season at a time."""
    unfinished = Season.current()
    if unfinished is None:
        return []
    return [
        Reason(
            code="season-unfinished",
            fact=_("Season %(year)s is not closed yet.") % {"year": unfinished.year},
            detail=_("Two at once would leave entries in the wrong one."),
            next_text=_("See what it still needs"),
            next_url=reverse("season", args=[unfinished.year]),
        )
    ]


@transaction.atomic
def prepare_season(*, by: Person, year: int, tapping_from: dt.date, tapping_to: dt.date, **rules: Any) -> Season:
    """Make the draft of a season. `rules`: columns of Season; those not given follow the season before, if any."""
    access.require(by, "season.change", anywhere=True)
    if reasons := reasons_against_new():
        raise Refused(reasons)
    before = Season.objects.order_by("-year").first()
    carried = {} if before is None else {name: getattr(before, name) for name in before.rules()}
    season = Season(year=year, tapping_from=tapping_from, tapping_to=tapping_to, **(carried | rules))
    guidelines.guideline_of(season)
    season.save()
    record(by=by, act="prepare season", subject=season, new=season.rules())
    changed.announce(season)
    return season


@transaction.atomic
def change_season(*, by: Person, season: Season, values: Mapping[str, Any], seen: str, reason: str = "") -> Season:
    """Change a season's rules: freely while a draft, with a reason once open, never when closed.

    A rule that tightens pulls no tap by itself; the trees concerned then show that they need a look.
    Raises MovedOn, Refused, TooLoose.
    """
    access.require(by, "season.change", anywhere=True)
    fresh = Season.objects.select_for_update().get(pk=season.pk)
    if fresh.is_closed:
        raise _refuse(
            "season-closed",
            _("Season %(year)s is closed.") % {"year": fresh.year},
            next_text=_("Reopen it first"),
            next_url=reverse("season", args=[fresh.year]),
        )
    if fresh.frozen_at and not reason.strip():
        raise _refuse(
            "no-reason",
            _("The rules are frozen."),
            detail=_("People tapped by them."),
            next_text=_("Say why they change"),
        )
    for name in ("guideline_name", "first_tap_um", "second_tap_um"):
        if name in values:
            setattr(fresh, name, values[name])
    guidelines.guideline_of(fresh)
    done = change(row=fresh, by=by, values=values, seen=seen, act="change season", reason=reason)
    changed.announce(done)
    return done


@transaction.atomic
def step(*, by: Person, season: Season, to: str, reason: str = "") -> Season:
    """Lead the season one step on, or reopen a closed one to its ending, with a reason. The same step twice is one.

    Raises Refused with everything that stands in the way.
    """
    access.require(by, "season.step", anywhere=True)
    fresh = Season.objects.select_for_update().get(pk=season.pk)
    if fresh.state == to:
        return fresh
    if NEXT.get(fresh.state) != to:
        raise _refuse(
            "wrong-step",
            _("Season %(year)s is now: %(state)s.") % {"year": fresh.year, "state": fresh.get_state_display()},
            detail=_("A season goes one step at a time."),
            next_text=_("Look again"),
            next_url=reverse("season", args=[fresh.year]),
        )
    old = fresh.state
    if to == SeasonState.OPEN:
        _freeze(fresh)
    elif to == SeasonState.CLOSED:
        _close(fresh, by)
    elif old == SeasonState.CLOSED:
        _reopen(fresh, reason)
    fresh.state = to
    fresh.save()
    record(by=by, act="season step", subject=fresh, reason=reason, old={"state": old}, new={"state": to})
    changed.announce(fresh)
    return fresh


def _freeze(season: Season) -> None:
    known = changed.kinds()
    if known is not None:
        season.species_keys = sorted(kind.key for kind in known if kind.usual)
        if not season.species_keys:
            raise _refuse(
                "no-species",
                _("No kind of tree may be tapped yet."),
                detail=_("The season’s list is taken from the kinds marked for tapping."),
                next_text=_("Bring in the town’s trees or add the first one, then open the season"),
            )
    season.frozen_at = timezone.now()


def _close(season: Season, by: Person) -> None:
    if reasons := closing.reasons_against(season):
        raise Refused(reasons)
    season.frozen_totals = closing.totals_of(season)
    season.closed_at, season.closed_by = timezone.now(), by


def _reopen(season: Season, reason: str) -> None:
    if not reason.strip():
        raise _refuse(
            "no-reason",
            _("A closed season reopens only with a reason."),
            next_text=_("Say why"),
            next_url=reverse("season", args=[season.year]),
        )
    season.frozen_totals = season.closed_at = season.closed_by = None
