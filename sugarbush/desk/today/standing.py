"""How the day stands: what waits for somebody, the sap of the last days, the weather."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

from django.db.models import Count, Q, Sum
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.boils.models import BoilDay, BoilState, Delivery, DeliveryState
from sugarbush.boils.views_depot import carrying
from sugarbush.desk.today.messages_waiting import messages_waiting
from sugarbush.desk.today.sap_waiting import sap_waiting
from sugarbush.desk.today.waiting import Waiting
from sugarbush.gathering.board import board, runs_planned
from sugarbush.gathering.filling import FullFirst, full_first
from sugarbush.gathering.models import Collection, CollectionState, Outcome
from sugarbush.gathering.rounds import day_span
from sugarbush.gathering.run_state import Standing as Stage
from sugarbush.parts.wording import volume_words
from sugarbush.seasons.models import Season
from sugarbush.taps.models import Tap, TapState
from sugarbush.trees.duplicates import count_of_pairs
from sugarbush.trees.models import Shown, Tree
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person
from sugarbush.weather import outlook
from sugarbush.weather.models import WeatherDay

ORDER = (
    Shown.PULL,
    Shown.TAPPED,
    Shown.READY,
    Shown.ALLOWED,
    Shown.ASKED,
    Shown.CONSIDERED,
    Shown.RESTING,
    Shown.NOT,
    Shown.FELLED,
)


@dataclass
class Day:
    """What the first page shows about today."""

    waiting: list[Waiting] = field(default_factory=list)
    states: list[tuple[Shown, int]] = field(default_factory=list)
    gathered: list[tuple[dt.date, int, int]] = field(default_factory=list)
    weather: list[WeatherDay] = field(default_factory=list)
    boil_days: list[BoilDay] = field(default_factory=list)
    tomorrow: outlook.Tomorrow | None = None
    endings: outlook.Endings | None = None
    full_first: FullFirst | None = None


def states_in_reach(person: Person) -> list[tuple[Shown, int]]:
    """How many of the programme's trees show each state; one query by the state's own index."""
    reach = access.scope(person, "trees.see").filter()
    rows = Tree.objects.filter(reach, shown_state__in=[int(state) for state in ORDER], merged_into=None)
    counts = dict(rows.values_list("shown_state").annotate(n=Count("pk")).order_by())
    return [(state, counts[state]) for state in ORDER if counts.get(state)]


def gathered(person: Person, season: Season, today: dt.date, days: int = 7) -> list[tuple[dt.date, int, int]]:
    """Sap out of trees and visits on each of the last days, newest first; one query."""
    reach = access.scope(person, "collection.see").filter()
    rows = Collection.objects.filter(reach, season=season, state=CollectionState.COUNTED)
    spans = {f"d{n}": day_span(today - dt.timedelta(days=n)) for n in range(days)}
    ask: dict[str, Count | Sum] = {}
    for name, (start, end) in spans.items():
        here = Q(happened_at__gte=start, happened_at__lt=end)
        ask[name] = Sum("volume_ml", filter=here, default=0)
        ask[f"{name}n"] = Count("pk", filter=here)
    first = day_span(today - dt.timedelta(days=days - 1))[0]
    found = rows.filter(happened_at__gte=first).aggregate(**ask)
    return [(today - dt.timedelta(days=n), found[f"d{n}"], found[f"d{n}n"]) for n in range(days)]


def late_rounds(person: Person, season: Season) -> list[Waiting]:
    """Rounds of today that are late, or soon will be; one query on a day without runs."""
    if not access.holds(person, "round.board") or not runs_planned(person, season, timezone.localdate()):
        return []
    counts = board(person, season).counts
    late, soon = counts.get(Stage.LATE, 0), counts.get(Stage.SOON, 0)
    url, found = reverse("board"), []
    if late:
        fact = ngettext("%(n)d round is late.", "%(n)d rounds are late.", late) % {"n": late}
        found.append(Waiting(fact=fact, next_text=_("Call somebody"), url=url, urgent=True))
    if soon:
        fact = ngettext("%(n)d round is soon late.", "%(n)d rounds are soon late.", soon) % {"n": soon}
        found.append(Waiting(fact=fact, next_text=_("Look at the board"), url=url))
    return found


def waiting(person: Person, season: Season, units: str) -> list[Waiting]:
    """What this person could do something about now."""
    found: list[Waiting] = list(late_rounds(person, season))
    trees = Tree.objects.filter(access.scope(person, "trees.see").filter(), merged_into=None)
    pull = trees.filter(shown_state=Shown.PULL).count()
    if pull and access.holds(person, "tap.pull"):
        fact = ngettext("%(n)d tree is to pull.", "%(n)d trees are to pull.", pull) % {"n": pull}
        found.append(Waiting(fact=fact, next_text=_("See the taps still in"), url=reverse("taps-in"), urgent=True))
    settle = Tap.objects.filter(access.scope(person, "tap.settle").filter("tree__group"), state=TapState.TO_SETTLE)
    if access.holds(person, "tap.settle") and (count := settle.count()):
        fact = ngettext("%(n)d tap is to settle.", "%(n)d taps are to settle.", count) % {"n": count}
        found.append(Waiting(fact=fact, next_text=_("Settle"), url=reverse("taps-settle"), urgent=True))
    review = Collection.objects.filter(
        access.scope(person, "collection.see").filter(), season=season, state=CollectionState.REVIEW
    ).count()
    if review:
        fact = ngettext("%(n)d entry is to look at.", "%(n)d entries are to look at.", review) % {"n": review}
        found.append(Waiting(fact=fact, next_text=_("Look at them"), url=reverse("review-list")))
    gone = Collection.objects.filter(
        access.scope(person, "collection.see").filter(), season=season, outcome=Outcome.GONE
    ).exclude(state=CollectionState.VOID)
    if access.holds(person, "collection.settle") and (count := gone.count()):
        fact = ngettext("%(n)d pail was found gone.", "%(n)d pails were found gone.", count) % {"n": count}
        found.append(Waiting(fact=fact, next_text=_("See the taps"), url=reverse("taps-in")))
    if access.holds(person, "delivery.accept"):
        ahead = Delivery.objects.filter(season=season, state=DeliveryState.AHEAD).count()
        if ahead:
            fact = ngettext(
                "%(n)d delivery waits for its entries.", "%(n)d deliveries wait for their entries.", ahead
            ) % {"n": ahead}
            found.append(Waiting(fact=fact, next_text=_("Close them"), url=reverse("deliveries") + "?state=ahead"))
        hands = carrying(season)
        if hands:
            total = sum(ml for _person, ml in hands)
            fact = _("%(volume)s is in people’s hands.") % {"volume": volume_words(total, units)}
            found.append(Waiting(fact=fact, next_text=_("Accept a delivery"), url=reverse("deliveries")))
    found += sap_waiting(person, season)
    look = trees.filter(needs_look=True).count()
    if look and access.holds(person, "tree.change"):
        fact = ngettext("%(n)d tree needs a look.", "%(n)d trees need a look.", look) % {"n": look}
        found.append(Waiting(fact=fact, next_text=_("See them"), url=reverse("trees") + "?flag=look"))
    if access.holds(person, "tree.merge") and (pairs := count_of_pairs(person)):
        fact = ngettext("%(n)d pair looks like one tree twice.", "%(n)d pairs look like one tree twice.", pairs) % {
            "n": pairs
        }
        found.append(Waiting(fact=fact, next_text=_("Likely doubles"), url=reverse("tree-doubles")))
    return found + messages_waiting(person)


def day_for(person: Person, season: Season, today: dt.date) -> Day:
    """All of it; a fixed number of queries."""
    week = today - dt.timedelta(days=3)
    weather = list(
        WeatherDay.objects.filter(day__gte=week, day__lte=today + dt.timedelta(days=4)).select_related("entered_by")
    )
    return Day(
        waiting=waiting(person, season, person.units),
        states=states_in_reach(person),
        gathered=gathered(person, season, today),
        weather=weather,
        tomorrow=outlook.tomorrow(today, person.units, rows=weather),
        endings=outlook.endings(today),
        full_first=full_first(person, season, units=person.units),
        boil_days=list(
            BoilDay.objects.filter(
                season=season, state__in=(BoilState.PLANNED, BoilState.CALLED, BoilState.LIT)
            ).order_by("day")[:5]
        ),
    )
