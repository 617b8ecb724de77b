"""What is counted for the public: the season as it stood at midnight, and areas that change once a week.

Held against somebody who looks every day, or lays two looks over each other:
- The figures are those of the last midnight. They are counted once a day, so no single delivery or walk can be told.
- Areas are counted once a week, on Monday, and once more for a new season. A tree counts from its first hole to the
  end of the season, so that no cell loses a tree within it.
- Trees of a cell are told in bands, without a sum over the cells; private and public trees are one count; nothing is
  told by group, species or owner, so there is nothing to take away from one another.
- Litres and people are told for the whole only, and nothing at all while fewer than three trees are tapped.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable
from math import cos, radians
from typing import Any

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from sugarbush.core.areas import LEAST_TREES, Area, area_of, band_of, shown_areas
from sugarbush.core.rounds import Place
from sugarbush.desk.models import PublicFigures
from sugarbush.seasons.models import Season
from sugarbush.taps.models import Tap
from sugarbush.trees.models import StreetLine

HELD_FOR = dt.timedelta(minutes=2)
MOST_STREETS = 1_500
MAP_WIDTH = 640.0
PARTS = ("totals", "weeks", "areas")
"""What is switched on and shown; totals and weeks are counted together."""

Body = dict[str, Any]


def season_shown() -> Season | None:
    """The season the page is about: the newest that has been begun."""
    begun = Season.objects.exclude(state__in=("draft", "open"))
    return begun.order_by("-year").first()


def midnight(now: dt.datetime) -> dt.datetime:
    """The last local midnight."""
    return timezone.make_aware(dt.datetime.combine(timezone.localdate(now), dt.time()))


def monday(now: dt.datetime) -> dt.datetime:
    """The midnight with which this week began."""
    day = timezone.localdate(now)
    return timezone.make_aware(dt.datetime.combine(day - dt.timedelta(days=day.weekday()), dt.time()))


def figures(season: Season, part: str, now: dt.datetime | None = None) -> Body:
    """The figures of a part: those kept while they are good, else counted by whoever comes first.

    part: "counted" (totals and weeks) or "areas". {} while the first are being counted.
    """
    now = now or timezone.now()
    row = PublicFigures.objects.filter(season=season, part=part).first()
    if row is not None and row.good_until is not None and now < row.good_until:
        return dict(row.body)
    if row is None:
        row, _made = PublicFigures.objects.get_or_create(season=season, part=part)
    free = PublicFigures.objects.filter(pk=row.pk).filter(Q(held_until=None) | Q(held_until__lt=now))
    if not free.update(held_until=now + HELD_FOR):
        return dict(row.body)
    body, good_until = COUNT[part](season, now)
    with transaction.atomic():
        PublicFigures.objects.filter(pk=row.pk).update(
            body=body, counted_at=now, good_until=good_until, held_until=None
        )
    return body


def counted(season: Season, now: dt.datetime) -> tuple[Body, dt.datetime]:
    """Totals and weeks, as the season stood at the last midnight."""
    from sugarbush.review import shown, totals  # a page few ask for

    until = midnight(now)
    whole = totals.totals_of(season)[0] if season.is_closed else totals.count(season, until).totals
    body: Body = {"until": until.isoformat(), "year": season.year}
    if whole.trees_with_taps >= LEAST_TREES:
        body["totals"] = {
            "trees": whole.trees_with_taps,
            "taps": whole.holes,
            "sap_ml": whole.sums.out_ml,
            "syrup_ml": whole.syrup_ml,
            "people": whole.people if whole.people >= LEAST_TREES else None,
        }
        body["weeks"] = [
            {"first": week.first.isoformat(), "last": week.last.isoformat(), "sap_ml": week.sums.out_ml}
            for week in shown.weeks(whole.days)
        ]
    return body, until + dt.timedelta(days=1, hours=1)


def areas(season: Season, now: dt.datetime) -> tuple[Body, dt.datetime]:
    """The cells with tapped trees, as they stood on Monday, and the street lines among them."""
    since = monday(now)
    rows = Tap.objects.filter(season=season, placed_at__lt=since).order_by()
    # An entry that was merged into another is that other tree, not one more.
    columns = rows.values_list("tree_id", "tree__merged_into_id", "tree__longitude", "tree__latitude")
    places = {merged or tree: (longitude, latitude) for tree, merged, longitude, latitude in columns.iterator()}
    trees = Counter(area_of(Place(longitude_deg=x, latitude_deg=y)) for x, y in places.values())
    # In the order of the grid: the order of the rows must not tell which cell was counted, or filled, first.
    cells = dict(sorted(shown_areas(dict(sorted(trees.items()))).items()))
    body: Body = {"week": timezone.localdate(since).isoformat(), "year": season.year}
    body["areas"] = [
        {
            "south": round(cell.south_deg, 6),
            "west": round(cell.west_deg, 6),
            "north": round(cell.north_deg, 6),
            "east": round(cell.east_deg, 6),
            "trees_from": band_of(count)[0],
            "trees_to": band_of(count)[1],
        }
        for cell, count in cells.items()
    ]
    body["map"] = drawn(list(cells)) if cells else {}
    return body, since + dt.timedelta(days=7, hours=1)


COUNT: dict[str, Callable[[Season, dt.datetime], tuple[Body, dt.datetime]]] = {"counted": counted, "areas": areas}


def drawn(cells: list[Area]) -> Body:
    """Cells and streets as figures of a drawing, a cell's breadth of margin around; streets only where they are few."""
    margin_x = max(cell.east_deg - cell.west_deg for cell in cells)
    margin_y = cells[0].north_deg - cells[0].south_deg
    west, east = min(c.west_deg for c in cells) - margin_x, max(c.east_deg for c in cells) + margin_x
    south, north = min(c.south_deg for c in cells) - margin_y, max(c.north_deg for c in cells) + margin_y
    per_x = MAP_WIDTH / (east - west)
    per_y = per_x / max(0.01, cos(radians((south + north) / 2)))

    def at(longitude: float, latitude: float) -> tuple[float, float]:
        return round((longitude - west) * per_x, 1), round((north - latitude) * per_y, 1)

    lines = StreetLine.objects.filter(west__lte=east, east__gte=west, south__lte=north, north__gte=south)
    found = list(lines.values_list("points", flat=True)[: MOST_STREETS + 1])
    streets = [
        "M" + "L".join("{:g} {:g}".format(*at(x, y)) for x, y in points)
        for points in (found if len(found) <= MOST_STREETS else ())
    ]
    boxes = []
    for cell in cells:
        (x, y), (right, low) = at(cell.west_deg, cell.north_deg), at(cell.east_deg, cell.south_deg)
        boxes.append({"x": x, "y": y, "width": round(right - x, 1), "height": round(low - y, 1)})
    height = round((north - south) * per_y, 1)
    return {"width": MAP_WIDTH, "height": height, "streets": streets, "boxes": boxes}
