"""A closed season's totals are still what its rows said on the day it closed."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import Any

from django.utils.translation import gettext as _

from sugarbush.review.recount.rows import Book, Finding, ml_words
from sugarbush.sap.models import Cause, Movement
from sugarbush.seasons.models import Season

AT_THE_TREE = {"out_of_tree": "out_ml", "rain_kept": "rain_ml", "discarded": "tipped_ml"}


def kept_totals(season: Season, book: Book) -> Iterator[Finding]:
    """The kept chain cause by cause, and each kept table, against every movement recorded until the season closed."""
    if season.closed_at is None or not season.frozen_totals:
        return
    whole: dict[str, int] = defaultdict(int)
    counted: dict[str, int] = defaultdict(int)
    moved = Movement.objects.filter(season=season, recorded_at__lte=season.closed_at).order_by("seq")
    rows: Iterator[Any] = moved.values_list(
        "cause", "volume_ml", "reverses_id", "act__standing", "act__origin_kind"
    ).iterator(chunk_size=5_000)
    for cause, ml, back, standing, origin in rows:
        whole[cause] += ml if back is None else -ml
        if cause in AT_THE_TREE and standing == "counted" and origin == "collection":
            counted[AT_THE_TREE[cause]] += ml if back is None else -ml
    was: dict[str, int] = defaultdict(int)
    for flow in season.frozen_totals.get("flows", []):
        was[flow["cause"]] += flow["ml"]
    for cause in sorted({*was, *whole} - {"moved"}):
        if was[cause] != whole[cause]:
            yield _differs(season, _("“%(cause)s”") % {"cause": Cause(cause).label}, was[cause], whole[cause])
    tables = {"days": _("the days"), "groups": _("the groups"), "species": _("the kinds of tree")}
    words = {"out_ml": _("out of trees"), "rain_ml": _("rain kept"), "tipped_ml": _("tipped out")}
    for table, name in tables.items():
        for field, what in words.items():
            sum_ml = sum(row["sums"][field] for row in season.frozen_totals.get(table, []))
            if sum_ml != counted[field]:
                yield _differs(
                    season, _("%(what)s in %(table)s") % {"what": what, "table": name}, sum_ml, counted[field]
                )


def _differs(season: Season, what: str, was: int, now: int) -> Finding:
    return Finding(
        "kept",
        _("Season %(year)d closed with %(was)s %(what)s; counted again it is %(now)s.")
        % {"year": season.year, "what": what, "was": ml_words(was), "now": ml_words(now)},
    )
