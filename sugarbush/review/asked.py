"""Which movements somebody wants to see, as the address of the ledger's page says it."""

from __future__ import annotations

import datetime as dt
import uuid
from dataclasses import dataclass, field
from urllib.parse import urlencode

from django.db.models import Q, QuerySet
from django.http import Http404, QueryDict
from django.utils.translation import gettext as _

from sugarbush.review.counting import zone_of
from sugarbush.sap.models import ActKind, Cause, Movement, Standing, Vessel, VesselKind
from sugarbush.seasons.models import Season
from sugarbush.volunteers.models import Person

MANY = 200  # more people than this by one piece of a name are not meant


@dataclass(slots=True, kw_only=True)
class Asked:
    """What was asked, parsed. wrong: sentences about what could not be understood; then nothing is found.

    at: the movement to open the list at.  kept: only what stood when the season closed.
    """

    season: Season
    vessel: Vessel | None = None
    place: str = ""
    who: str = ""
    cause: str = ""
    kind: str = ""
    standing: str = ""
    detail: str | None = None
    day: dt.date | None = None
    act: uuid.UUID | None = None
    at: int | None = None
    kept: bool = False
    typed: dict[str, str] = field(default_factory=dict)
    wrong: list[str] = field(default_factory=list)
    people: list[int] = field(default_factory=list)

    @property
    def is_all(self) -> bool:
        return not any((self.vessel, self.place, self.who, self.cause, self.kind, self.standing, self.day, self.act))

    @property
    def only_vessel(self) -> bool:
        """Whether the vessel is all that narrows the list."""
        others = (self.place, self.who, self.cause, self.kind, self.standing, self.day, self.act)
        return self.vessel is not None and not any(others) and not self.kept

    def without(self, *names: str) -> str:
        """The address with some of it left out."""
        left = {name: value for name, value in self.typed.items() if name not in {*names, "page", "at"} and value}
        return urlencode(left)

    def rows(self) -> QuerySet[Movement]:
        """The movements, in the order of posting."""
        rows = Movement.objects.filter(season=self.season).order_by("seq")
        if self.wrong:
            return rows.none()
        if self.vessel is not None:
            # Both ends by their own index; together with the season SQLite would walk all of it.
            out = Movement.objects.filter(from_vessel=self.vessel).order_by().values("seq")
            into = Movement.objects.filter(to_vessel=self.vessel).order_by().values("seq")
            rows = Movement.objects.filter(seq__in=out.union(into, all=True)).order_by("seq")
        if self.place:
            rows = rows.filter(Q(from_vessel__kind=self.place) | Q(to_vessel__kind=self.place))
        if self.who:
            hands = Vessel.objects.filter(season=self.season, kind=VesselKind.HANDS, person__in=self.people)
            of = Q(act__person__in=self.people) | Q(act__author__in=self.people)
            rows = rows.filter(of | Q(from_vessel__in=hands) | Q(to_vessel__in=hands))
        for name, value in (("cause", self.cause), ("act__kind", self.kind), ("act__standing", self.standing)):
            if value:
                rows = rows.filter(**{name: value})
        if self.detail is not None:
            rows = rows.filter(detail=self.detail)
        if self.day is not None:
            begins = dt.datetime.combine(self.day, dt.time(), zone_of())
            ends = dt.datetime.combine(self.day + dt.timedelta(days=1), dt.time(), zone_of())
            rows = rows.filter(happened_at__gte=begins, happened_at__lt=ends)
        if self.act is not None:
            rows = rows.filter(act=self.act)
        if self.kept and self.season.closed_at is not None:
            rows = rows.filter(recorded_at__lte=self.season.closed_at)
        return rows


def read(season: Season, given: QueryDict) -> Asked:
    """Parse the address. An id nobody could have typed is not found; words that cannot be meant are said so."""
    names = ("vessel", "place", "who", "cause", "kind", "standing", "detail", "day", "act", "at", "kept", "year")
    typed = {name: str(given[name]).strip() for name in names if name in given}
    asked = Asked(season=season, typed=typed)
    asked.cause = _one_of(typed.get("cause", ""), Cause.values)
    asked.kind = _one_of(typed.get("kind", ""), ActKind.values)
    asked.place = _one_of(typed.get("place", ""), VesselKind.values)
    asked.standing = _one_of(typed.get("standing", ""), Standing.values)
    asked.detail = typed["detail"][:40] if "detail" in typed else None
    asked.kept = typed.get("kept") == "1"
    asked.act = _uuid(typed["act"]) if typed.get("act") else None
    at = typed.get("at", "")
    asked.at = int(at) if at.isascii() and at.isdigit() and len(at) <= 18 else None
    if typed.get("vessel"):
        _vessel(asked, typed["vessel"])
    if typed.get("who"):
        asked.who = typed["who"][:80]
        found = Person.objects.filter(display_name__icontains=asked.who).order_by("pk")
        asked.people = list(found.values_list("pk", flat=True)[:MANY])
        if not asked.people:
            asked.wrong.append(_("Nobody is called “%(name)s”. Write a part of the name.") % {"name": asked.who})
    if typed.get("day"):
        try:
            asked.day = dt.date.fromisoformat(typed["day"])
            if not dt.date.min < asked.day < dt.date(9000, 1, 1):
                raise ValueError
        except ValueError:
            asked.day = None
            asked.wrong.append(_("“%(day)s” is no day. Write it as 2025-03-08.") % {"day": typed["day"][:20]})
    return asked


def _one_of(text: str, known: list[str]) -> str:
    if text and text not in known:
        raise Http404
    return text


def _uuid(text: str) -> uuid.UUID:
    try:
        return uuid.UUID(text)
    except ValueError:
        raise Http404 from None


def _vessel(asked: Asked, text: str) -> None:
    """A vessel by its id, as links name it, or by its code, as people type it."""
    rows = Vessel.objects.filter(season=asked.season).select_related("person")
    try:
        asked.vessel = rows.filter(pk=uuid.UUID(text)).first()
        if asked.vessel is None:
            raise Http404
    except ValueError:
        asked.vessel = rows.filter(code__iexact=text[:40]).exclude(kind=VesselKind.HANDS).first()
        if asked.vessel is None:
            asked.wrong.append(
                _("No tank, pan or lot has the code “%(code)s”. For somebody’s hands, write the name under Who.")
                % {"code": text[:40]}
            )
