"""What a phone takes along for a round without signal: small, and nothing of owners or of other groups."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import Any

from django.db.models import OuterRef, Q, Subquery
from django.utils import timezone

from sugarbush.boils.models import BoilDay, BoilState, Delivery
from sugarbush.core.rounds import MOST_STOPS, Place, walking_order
from sugarbush.core.sugar import mass_kg
from sugarbush.gathering import doubts, rounds
from sugarbush.gathering.models import Collection, CollectionState, Outcome
from sugarbush.gathering.models_rounds import Round
from sugarbush.gathering.run_state import cut_off
from sugarbush.gathering.views_phone import STEP_ML
from sugarbush.phone import streets, tree_photos
from sugarbush.seasons.models import Programme, Season, SeasonState
from sugarbush.taps import holes
from sugarbush.taps.facts import TreeFacts, read_facts
from sugarbush.taps.gate import gate
from sugarbush.taps.gate_place import given_to
from sugarbush.taps.models import Assignment, AssignmentState, Tap
from sugarbush.trees.models import Shown, Tree
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Group, Person

FORMAT = 1
GOOD_DAYS = 7  # design choice: after a week without contact the round is put away
AHEAD = dt.timedelta(days=14)
# A can of sap weighs what water with two per cent sugar weighs near freezing; the core's own density.
SAP_G_L = round(1000 * mass_kg(volume_ml=1_000, brix=2, temperature_c=4))
# Reasons that say why a spout has to come out, as against those about drilling one more.
WHY_PULL = {"permission", "treated", "resting", "excluded", "felled", "land", "owner", "season", "merged"}


def ms(moment: dt.datetime) -> int:
    return int(moment.timestamp() * 1000)


def make(person: Person, group_id: str = "") -> dict[str, Any]:
    """Everything the round needs for this person and one of their groups. Raises LookupError for another's group."""
    season, programme = Season.current(), Programme.current()
    groups = list(rounds.groups_of(person))
    group = next((g for g in groups if str(g.pk) == group_id), None)
    if group_id and group is None:
        raise LookupError(group_id)
    group = group or (groups[0] if groups else None)
    day = timezone.localdate()
    own = rounds.rounds_today(person, season, group, day) if season and group else []
    first = [code for _round, codes in own for code in codes]
    trees = _trees(person, season, group, day, first) if season and group else []
    return {
        "format": FORMAT,
        "good_days": GOOD_DAYS,
        "day": day.isoformat(),
        "zone": programme.time_zone if programme else "UTC",
        "person": _person(person),
        "ended": not access.roles_of(person),
        "group": _group(group),
        "groups": [_group(one) for one in groups],
        "season": _season(season),
        "rules": {
            "step_ml": STEP_ML[person.units],
            "fullest": float(doubts.FULLEST),
            "least_brix": float(doubts.LEAST_BRIX),
            "most_brix": float(doubts.MOST_BRIX),
            "deepest_mm": holes.MOST_DEPTH_MM,
            "sap_g_l": SAP_G_L,
        },
        "runs": [_run(one, codes, day) for one, codes in own],
        "trees": trees,
        "streets": streets.around(tree["at"] for tree in trees),
        "entries": _entries(person, season, day) if season else [],
        "emptied_ms": _emptied(person, season, day) if season else None,
        "boil_days": _boil_days(season, day) if season and not person_is_out(person) else [],
    }


def person_is_out(person: Person) -> bool:
    return not access.holds(person, "collection.log")


def _person(person: Person) -> dict[str, Any]:
    return {
        "key": str(person.key),
        "name": person.display_name,
        "units": person.units,
        "language": person.language,
        "carry_limit_g": person.carry_limit_g,
    }


def _group(group: Group | None) -> dict[str, Any] | None:
    return {"id": group.pk, "name": group.name} if group else None


def _season(season: Season | None) -> dict[str, Any] | None:
    if season is None:
        return None
    return {
        "year": season.year,
        "taps": season.takes_taps,
        "logs": season.takes_taps or season.state == SeasonState.ENDING,
        "from": season.tapping_from.isoformat(),
        "to": season.tapping_to.isoformat(),
    }


def _run(found: Round, codes: list[str], day: dt.date) -> dict[str, Any]:
    """A round the person walks today: its name, by when to begin, and its trees in order."""
    return {
        "id": found.pk,
        "name": found.name,
        "latest_ms": ms(cut_off(day, found.latest_start)),
        "codes": codes,
    }


def _trees(
    person: Person, season: Season, group: Group, day: dt.date, first: Sequence[str] = ()
) -> list[dict[str, Any]]:
    """The trees in walking order, those of the person's own runs first; a fixed number of queries."""
    ids = set(rounds.trees_on_round(person, season, group).values_list("pk", flat=True))
    if season.takes_taps:
        given = Assignment.objects.filter(season=season, group=group).exclude(state=AssignmentState.ENDED)
        given = given.filter(Q(person=None) | Q(person=person))
        ids |= set(given.values_list("tree_id", flat=True))
    facts = read_facts(ids, season)
    last, today = _last_sap(ids), _visits_today(ids, day)
    why_not = access.why_not(person, "tap.place", group_id=group.pk)
    rows = [
        _tree(one, day=day, by=person, why_not=why_not, last=last.get(pk), today=today.get(pk))
        for pk, one in facts.items()
    ]
    seen = tree_photos.newest(ids)
    for pk, row in zip(facts, rows, strict=True):
        if pk in seen:
            row["photo"] = seen[pk]
    own = {code: n for n, code in enumerate(first)}
    return [
        *sorted((row for row in rows if row["code"] in own), key=lambda row: own[row["code"]]),
        *_in_order([row for row in rows if row["code"] not in own]),
    ]


def _tree(
    facts: TreeFacts, *, day: dt.date, by: Person, why_not: str, last: Collection | None, today: Collection | None
) -> dict[str, Any]:
    tree = facts.tree
    row: dict[str, Any] = {
        "code": tree.code,
        "address": tree.address,
        "side": tree.side,
        "nth": tree.nth,
        "hint": tree.access_note,
        "at": [round(tree.longitude, 6), round(tree.latitude, 6)],
        "pull": tree.shown == Shown.PULL,
        "taps": [_tap(tap, by) for tap in facts.spouts_in],
    }
    if row["pull"]:
        row["why"] = _why_pull(facts, day)
    if last is not None:
        row["last"] = {"ml": last.volume_ml, "at_ms": ms(last.happened_at)}
    if today is not None:
        row["today"] = {"outcome": today.outcome, "at_ms": ms(today.happened_at), "mine": today.person_id == by.pk}
    if facts.season is not None and facts.season.takes_taps:
        row["gate"] = _gate(facts, day, by, why_not)
    return row


def _tap(tap: Tap, by: Person) -> dict[str, Any]:
    row: dict[str, Any] = {"id": str(tap.pk), "at_ms": ms(tap.placed_at), "ml": tap.container_ml}
    if tap.state == "to_settle":
        row["settle"] = {"by": "" if tap.by_id == by.pk else tap.by.display_name, "why": tap.settle_reasons}
    return row


def _why_pull(facts: TreeFacts, day: dt.date) -> list[str]:
    """Why the spout has to come out, in words that name no owner."""
    to_settle = [why for tap in facts.spouts_in if tap.state == "to_settle" for why in tap.settle_reasons]
    found = gate(facts.tree, "tap", day, facts=facts, names=False)
    return list(dict.fromkeys([*to_settle, *(r.fact for r in found if r.code in WHY_PULL)]))


def _gate(facts: TreeFacts, day: dt.date, by: Person, why_not: str) -> dict[str, Any]:
    """The gate's answer now, to be shown later as what it was. An empty list of reasons is yes."""
    reasons = gate(facts.tree, "tap", day, facts=facts, units=by.units, names=False)
    reasons += given_to(facts, by)
    whys = [r.fact for r in reasons] + ([why_not] if why_not else [])
    return {"left": facts.allowance(day).left, "why": list(dict.fromkeys(whys))}


def _last_sap(ids: Iterable[int]) -> dict[int, Collection]:
    newest = Collection.objects.filter(tree=OuterRef("pk"), outcome=Outcome.SAP).exclude(state=CollectionState.VOID)
    keys = Tree.objects.filter(pk__in=ids).annotate(last=Subquery(newest.order_by("-happened_at").values("pk")[:1]))
    found = Collection.objects.filter(pk__in=[pk for pk in keys.values_list("last", flat=True) if pk])
    return {row.tree_id: row for row in found.only("tree_id", "volume_ml", "happened_at")}


def _visits_today(ids: Iterable[int], day: dt.date) -> dict[int, Collection]:
    start, end = rounds.day_span(day)
    rows = Collection.objects.filter(tree_id__in=ids, happened_at__gte=start, happened_at__lt=end)
    rows = rows.exclude(state=CollectionState.VOID).order_by("happened_at")
    return {row.tree_id: row for row in rows.only("tree_id", "outcome", "happened_at", "person_id")}


def _entries(person: Person, season: Season, day: dt.date) -> list[dict[str, Any]]:
    """The person's own entries of today, newest first, whatever became of them."""
    start, end = rounds.day_span(day)
    mine = Collection.objects.filter(person=person, season=season).select_related("tree")
    of_today = Q(happened_at__gte=start, happened_at__lt=end) | Q(recorded_at__gte=start, recorded_at__lt=end)
    rows = mine.filter(of_today).order_by("-happened_at")[:100]
    return [
        {
            "id": str(row.pk),
            "tree": row.tree.code,
            "address": row.tree.address,
            "outcome": row.outcome,
            "ml": row.volume_ml,
            "net_ml": row.net_ml,
            "look": row.look,
            "at_ms": ms(row.happened_at),
            "state": row.state,
            "why": row.review_reasons if row.state == CollectionState.REVIEW else [],
        }
        for row in rows
    ]


def _emptied(person: Person, season: Season, day: dt.date) -> int | None:
    """When this person last brought sap to a depot today: from then on the hands count from nothing."""
    start, end = rounds.day_span(day)
    brought = Delivery.objects.filter(person=person, season=season, happened_at__gte=start, happened_at__lt=end)
    newest = brought.order_by("-happened_at").values_list("happened_at", flat=True).first()
    return ms(newest) if newest else None


def _boil_days(season: Season, day: dt.date) -> list[dict[str, Any]]:
    rows = BoilDay.objects.filter(season=season, day__gte=day, day__lte=day + AHEAD).exclude(state=BoilState.OUT)
    return [
        {
            "id": row.pk,
            "day": row.day.isoformat(),
            "site": row.site,
            "starts_ms": ms(row.starts_at) if row.starts_at else None,
            "off": row.state == BoilState.CALLED_OFF,
        }
        for row in rows.order_by("day", "pk")[:5]
    ]


def _in_order(rows: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """By street and number to find the start, then the order of the core for walking; too many trees keep the first."""
    rows = sorted(rows, key=lambda row: (rounds.natural(row["address"]), row["code"]))
    if not 2 < len(rows) <= MOST_STOPS:
        return rows
    return [rows[n] for n in _walk(tuple(tuple(row["at"]) for row in rows))]


@lru_cache(maxsize=64)
def _walk(points: tuple[tuple[float, float], ...]) -> list[int]:
    places = [Place(longitude_deg=longitude, latitude_deg=latitude) for longitude, latitude in points]
    order = list(walking_order(places, start=places[0]))
    # The core's way comes home, so it may as well be walked from its other end: the start comes first.
    return order[::-1] if order[-1] == 0 else order
