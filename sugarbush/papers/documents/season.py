"""The season on paper: a report for the programme with its balance, and one for everybody without places or people."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from sugarbush.lots.sizes import size_words
from sugarbush.papers import blocks as b
from sugarbush.papers.documents.returns import season_asked
from sugarbush.papers.kinds import Asked, Kind, Part, register
from sugarbush.parts.wording import volume_words
from sugarbush.review import chain, totals
from sugarbush.review.shown import headline, span
from sugarbush.seasons.models import Season
from sugarbush.volunteers import access

NBSP = "\u00a0"
MOST_BARS = 60
LEAST_TREES = 3
"""With fewer tapped trees a sum is one neighbour's own figure: then nothing is told to everybody."""


def may(asked: Asked) -> Season:
    access.require(asked.person, "season.totals", anywhere=True)
    return season_asked(asked)


def report(asked: Asked) -> Sequence[Part]:
    """For the programme: every sum of the season's page, the account that has to close, losses, groups, kinds, days."""
    season = may(asked)
    kept, _counted = totals.totals_of(season)
    whole = chain.whole(kept)
    made = [
        *_head(asked, season, kept, _("Season %(year)d")),
        *_balance(asked, whole),
        *_losses(asked, kept),
        b.heading(_("By group")),
        _rows(asked, [(row.name or _("no group"), row.sums.out_ml) for row in kept.groups], _("Group")),
        *_kinds(asked, kept),
        *_days(asked, kept, weeks=False),
        *_jars(kept),
        b.para(
            _("The season is closed; these are the figures kept on that day.")
            if season.is_closed
            else _("The season is still open; figures may change until it closes."),
            soft=True,
        ),
    ]
    title = _("Season report %(year)d") % {"year": season.year}
    return [Part(subject=f"season:{season.year}", title=title, content={"blocks": made})]


def public_report(asked: Asked) -> Sequence[Part]:
    """For everybody: sums of the whole and by week, nothing to take away from one another. No kind, place or name."""
    season = may(asked)
    kept = _as_at_midnight(asked, season)
    made = _head(asked, season, kept, _("Our season %(year)d")) if kept.trees_with_taps >= LEAST_TREES else []
    if made:
        made += [*_days(asked, kept, weeks=True), *_jars(kept)]
    else:
        made = [
            b.title(_("Our season %(year)d") % {"year": season.year}),
            b.para(_("Too few trees were tapped to tell sums without telling of single trees.")),
        ]
    made += [
        b.space(4),
        b.para(
            _(
                "All trees were tapped with the permission of whoever they belong to. Thank you to them, and to all "
                "who carried."
            ),
            size=11.5,
        ),
        b.para(
            ", ".join(one for one in (asked.programme.name, asked.programme.place, asked.programme.phone) if one),
            bold=True,
        ),
    ]
    title = _("Season report for everybody %(year)d") % {"year": season.year}
    return [Part(subject=f"season-public:{season.year}", title=title, content={"blocks": made})]


def _head(asked: Asked, season: Season, kept: totals.Totals, name: str) -> list[b.Block]:
    units = asked.units
    per_tap = kept.sap_per_tap_ml
    ratio = f"{kept.ratio:.1f}" if kept.ratio else ""
    return [
        b.title(name % {"year": season.year}),
        b.para(headline(kept, units), size=14, bold=True),
        b.para(span(kept), soft=True),
        b.space(2),
        b.pairs(
            [
                (_("Sap out of trees"), volume_words(kept.sums.out_ml, units, exact=True)),
                (_("Syrup"), volume_words(kept.syrup_ml, units, exact=True)),
                (_("Sap for one of syrup"), ratio),
                (_("Trees with taps"), str(kept.trees_with_taps)),
                (_("Taps"), str(kept.holes)),
                (_("Sap from each tap"), volume_words(per_tap, units) if per_tap else ""),
                (_("People who carried"), str(kept.people)),
                (_("Freeze-thaw days"), str(kept.freeze_thaw_days) if kept.days else ""),
            ]
        ),
    ]


def _balance(asked: Asked, whole: chain.Account) -> list[b.Block]:
    """The one account from trunk to jar; nothing may be left over."""
    rows = []
    for line in whole.lines:
        rows.append([("+ " if line.head else "") + line.label, volume_words(line.ml, asked.units, exact=True)])
        rows += [[f"    {words}", volume_words(ml, asked.units, exact=True)] for words, ml in line.parts]
    closes = (
        _("Closes to the millilitre.")
        if whole.closes
        else _("Does not close: %(ml)s are not accounted for.")
        % {"ml": volume_words(whole.left_ml, "metric", exact=True)}
    )
    return [
        b.heading(_("From trunk to jar")),
        b.table(
            [_("What became of it"), _("How much")],
            rows,
            widths=[3, 1],
            align=["left", "right"],
            total=[_("Came in, all of it"), volume_words(whole.came_ml, asked.units, exact=True)],
        ),
        b.para(closes, bold=True),
    ]


def _losses(asked: Asked, kept: totals.Totals) -> list[b.Block]:
    found = chain.losses(kept)
    if not found:
        return [b.heading(_("Losses")), b.para(_("None: every litre reached a pan or stands in a tank."))]
    return [
        b.heading(_("Losses by cause")),
        b.bars([(words, ml, volume_words(ml, asked.units, exact=True), True) for words, ml in found]),
        b.para(_("Together %(sum)s.") % {"sum": volume_words(sum(ml for _w, ml in found), asked.units, exact=True)}),
    ]


def _as_at_midnight(asked: Asked, season: Season) -> totals.Totals:
    """What everybody may read: the last midnight's figures, so that no single walk can be told by two papers."""
    if season.is_closed:
        return totals.totals_of(season)[0]
    midnight = dt.datetime.combine(asked.on, dt.time(), tzinfo=timezone.get_current_timezone())
    return totals.count(season, until=midnight).totals


def _kinds(asked: Asked, kept: totals.Totals) -> list[b.Block]:
    rows = [(row.name or _("kind not known"), row.sums.out_ml) for row in kept.species if row.sums.out_ml]
    return [b.heading(_("By kind of tree")), _rows(asked, rows, _("Kind"))]


def _rows(asked: Asked, rows: Sequence[tuple[str, int]], head: str) -> b.Block:
    whole = sum(ml for _name, ml in rows)
    return b.table(
        [head, _("Sap"), _("Share")],
        [
            [name, volume_words(ml, asked.units, exact=True), f"{100 * ml / whole:.0f}{NBSP}%" if whole else ""]
            for name, ml in rows
        ],
        widths=[3, 1, 0],
        align=["left", "right", "right"],
        total=[_("Together"), volume_words(whole, asked.units, exact=True), ""],
    )


def _days(asked: Asked, kept: totals.Totals, *, weeks: bool) -> list[b.Block]:
    """Sap as bars with their numbers: by day, or by week for everybody and for long seasons."""
    days = [row for row in kept.days if row.sums.out_ml]
    if not days:
        return []
    weeks = weeks or len(days) > MOST_BARS
    found: dict[dt.date, int] = {}
    for row in days:
        start = row.day - dt.timedelta(days=row.day.weekday()) if weeks else row.day
        found[start] = found.get(start, 0) + row.sums.out_ml
    form = _("week of %(day)s") if weeks else "%(day)s"
    bars = [
        (form % {"day": date_format(day, "j M")}, ml, volume_words(ml, asked.units), False)
        for day, ml in sorted(found.items())
    ]
    return [b.heading(_("Sap by week") if weeks else _("Sap by day")), b.bars(bars)]


def _jars(kept: totals.Totals) -> list[b.Block]:
    if not kept.jars:
        return []
    rows = [[size_words(row.size_ml), str(row.filled), str(row.out), str(row.here)] for row in kept.jars]
    filled = sum(row.filled for row in kept.jars)
    return [
        b.heading(_("Jars")),
        b.table(
            [_("Size"), _("Filled"), _("Handed out"), _("Here")],
            rows,
            align=["left", "right", "right", "right"],
            total=[
                ngettext("%(n)d jar", "%(n)d jars", filled) % {"n": filled},
                str(filled),
                str(sum(row.out for row in kept.jars)),
                str(sum(row.here for row in kept.jars)),
            ],
        ),
    ]


REPORT = register(
    Kind(
        key="season-report",
        label=gettext_lazy("Season report"),
        layout="report.typ",
        version="1",
        gather=report,
        may=may,
        form="SeasonForm",
        note=gettext_lazy(
            "For the programme: every sum, the account from trunk to jar, losses by cause, groups, kinds, days."
        ),
    )
)
PUBLIC = register(
    Kind(
        key="season-public",
        label=gettext_lazy("Season report for everybody"),
        layout="report.typ",
        version="1",
        gather=public_report,
        may=may,
        form="SeasonForm",
        file_name="season",
        note=gettext_lazy(
            "Sums of the whole season and by week, as at midnight. It names no place, owner, group or person."
        ),
    )
)
