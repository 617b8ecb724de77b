"""What a working-out goes by, as plain values: who, what they brought, worked and let us tap; jars there are."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import Q
from django.utils import timezone

from sugarbush.boils.models import BoilState
from sugarbush.boils.models_pan import Shift
from sugarbush.lots.jars import jars_free
from sugarbush.owners.models import Capacity, Permission, PermissionState, PermissionTree, ShareWish
from sugarbush.seasons.models import Programme, Season
from sugarbush.shares import carried
from sugarbush.shares.carried import Weighed
from sugarbush.taps.models import Tap, TapState
from sugarbush.volunteers.models import Membership, Person, Role

EDITION = 1


def canonical(values: object) -> str:
    """The one way in which these values are written: keys sorted, no blanks."""
    return json.dumps(values, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def digest(values: object) -> str:
    """SHA-256 of the values as `canonical` writes them."""
    return hashlib.sha256(canonical(values).encode()).hexdigest()


@dataclass(frozen=True, kw_only=True)
class Figures:
    """Figures of a season. people, owners: rows of the inputs. entries: each person's own, by their id."""

    people: list[dict[str, Any]]
    owners: list[dict[str, Any]]
    entries: Mapping[int, list[Weighed]]
    programme_brix: str

    @property
    def sap_ml(self) -> int:
        return sum(row["sap_ml"] for row in self.people)


def of_season(season: Season, *, also: Iterable[int] = ()) -> Figures:
    """Gather the figures; a dozen queries, however long the season. also: people who must be among them."""
    entries, programme = carried.weighed(season)
    minutes = minutes_worked(season)
    members = set(
        Membership.objects.filter(date_from__lte=_last_day(season))
        .filter(Q(date_to=None) | Q(date_to__gte=season.tapping_from))
        .exclude(role=Role.REVIEWER)
        .values_list("person_id", flat=True)
    )
    ids = {*entries, *minutes, *members, *also}
    names = dict(Person.objects.filter(pk__in=ids).values_list("pk", "display_name"))
    people = []
    for pk in sorted(ids):
        rows = entries.get(pk, [])
        sources = [0, 0, 0, 0]
        for row in rows:
            sources[row.source] += row.ml
        people.append(
            {
                "id": pk,
                "name": names[pk],
                "sap_ml": sum(row.ml for row in rows),
                "sugar": format(carried.sugar_of(rows), "f"),
                "min": minutes.get(pk, 0),
                "took_part": bool(rows or minutes.get(pk)),
                "member": pk in members,
                "n": len(rows),
                "entries": digest(rows),
                "read_ml": dict(zip(carried.SOURCES, sources, strict=True)),
            }
        )
    return Figures(people=people, owners=owners_of(season), entries=entries, programme_brix=format(programme, "f"))


def _last_day(season: Season) -> dt.date:
    closed = season.closed_at and timezone.localdate(season.closed_at)
    return closed or max(season.tapping_to, timezone.localdate())


def minutes_worked(season: Season) -> dict[int, int]:
    """Minutes each person stood at the pan: finished shifts of days that were lit. Two shifts at once count once."""
    rows = (
        Shift.people.through.objects.filter(
            shift__boil_day__season=season,
            shift__boil_day__state__in=(BoilState.LIT, BoilState.OUT),
            shift__ends__lte=timezone.now(),
        )
        .order_by("person_id", "shift__begins")
        .values_list("person_id", "shift__begins", "shift__ends")
    )
    spans: dict[int, list[tuple[dt.datetime, dt.datetime]]] = defaultdict(list)
    for person_id, begins, ends in rows:
        before = spans[person_id]
        if before and begins <= before[-1][1]:
            before[-1] = (before[-1][0], max(ends, before[-1][1]))
        else:
            before.append((begins, ends))
    return {
        person_id: round(sum((ends - begins).total_seconds() for begins, ends in own) / 60)
        for person_id, own in spans.items()
    }


def owners_of(season: Season) -> list[dict[str, Any]]:
    """Owners with a tap in a tree this season, with what they wished for; those who wished for nothing are not in it.

    A tap counts for each owner whose slip covered its tree on the day it was drilled. Three queries.
    """
    zone = (Programme.current() or Programme()).zone
    taps = list(
        Tap.objects.filter(season=season, position__gt=0)
        .exclude(state=TapState.TO_SETTLE)
        .values_list("pk", "tree_id", "placed_at")
    )
    lines = (
        PermissionTree.objects.filter(
            tree__taps__season=season,
            permission__state__in=(PermissionState.GRANTED, PermissionState.SUSPENDED, PermissionState.REVOKED),
        )
        .exclude(permission__capacity=Capacity.OCCUPANT)
        .distinct()
        .values_list("tree_id", "permission_id")
    )
    by_tree: dict[int, set[int]] = defaultdict(set)
    for tree_id, permission_id in lines:
        by_tree[tree_id].add(permission_id)
    slips = Permission.objects.select_related("owner").in_bulk({pk for found in by_tree.values() for pk in found})
    rows: dict[int, dict[str, Any]] = {}
    trees: dict[int, set[int]] = defaultdict(set)
    for _tap, tree_id, placed_at in taps:
        day = placed_at.astimezone(zone).date()
        wishes: dict[int, str] = {}
        for slip in sorted((slips[pk] for pk in by_tree[tree_id]), key=lambda slip: slip.pk):
            inside = bool(slip.date_from and slip.date_to and slip.date_from <= day <= slip.date_to)
            if inside and (slip.ended_at is None or placed_at < slip.ended_at):
                wishes[slip.owner_id] = slip.share_wish  # the newest slip says what they wish for
                rows.setdefault(
                    slip.owner_id,
                    {"id": slip.owner_id, "name": slip.owner.name, "taps": 0, "trees": 0, "wish": ShareWish.DONATE},
                )
        for owner_id, wish in wishes.items():
            if wish == ShareWish.NONE:
                continue
            row = rows[owner_id]
            row["taps"] += 1
            trees[owner_id].add(tree_id)
            row["trees"] = len(trees[owner_id])
            if wish == ShareWish.JAR:
                row["wish"] = ShareWish.JAR
    return [{**row, "wish": str(row["wish"])} for pk, row in sorted(rows.items()) if row["taps"]]


def jars_now(season: Season) -> dict[str, dict[str, int]]:
    """Jars that stand here and may go out, by lot code and size."""
    return {
        lot.code: {str(size): count for size, count in sorted(sizes.items())}
        for lot, sizes in jars_free(season).items()
    }
