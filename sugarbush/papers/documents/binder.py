"""The handover binder: what the next coordinator has to know, on paper, when nobody is there to ask."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from django.conf import settings
from django.db.models import Count, Q
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from sugarbush.boils.models import BoilDay
from sugarbush.gathering.models_rounds import Round
from sugarbush.kit.models import Container, Depot
from sugarbush.lots.models import Lot
from sugarbush.owners.models import Permission, PermissionState
from sugarbush.papers import blocks as b
from sugarbush.papers.documents.returns import season_asked
from sugarbush.papers.kinds import Asked, Kind, Part, register
from sugarbush.papers.models import RoundSheet
from sugarbush.parts.wording import diameter_words, volume_words
from sugarbush.seasons.models import Season
from sugarbush.taps.models import Tap
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Group, Membership

MOST_ROWS = 600
ACT = "programme.change"


def may(asked: Asked) -> None:
    access.require(asked.person, ACT, anywhere=True)


def gather(asked: Asked) -> Sequence[Part]:
    """One document: the programme, its people, places and permits, the season as it stands, and the year ahead."""
    may(asked)
    season = season_asked(asked)
    chapters = (_programme, _rules, _people, _places, _rounds, _permits, _open, _lots, _year)
    made: list[b.Block] = [
        b.title(_("Handover binder")),
        b.para(asked.programme.name, size=14, bold=True),
        b.para(
            _("How things stand on %(day)s, for whoever takes over. How to reach owners stands in the programme.")
            % {"day": date_format(asked.on, "j F Y")}
        ),
        b.blank_lines(_("Handed over by"), _("Taken over by"), _("Day")),
    ]
    for n, chapter in enumerate(chapters, start=1):
        made += chapter(asked, season)
        asked.progress(n, len(chapters))
    return [Part(subject=f"binder:{season.year}", title=_("Handover binder"), content={"blocks": made})]


def _programme(asked: Asked, season: Season) -> list[b.Block]:
    one = asked.programme
    return [
        b.heading(_("The programme")),
        b.pairs(
            [
                (_("Town"), one.place),
                (_("Telephone"), one.phone or _("none")),
                (_("Address of its pages"), settings.PUBLIC_URL or asked.base),
                (_("Time zone"), one.time_zone),
                (_("Letters on the tags"), one.tag_prefix),
                (_("What local rules say"), one.local_rules),
            ]
        ),
        b.para(
            _("Two people should hold the keys of the server and of the data folder. They are:"),
        ),
        b.blank_lines(_("First"), _("Second"), _("Where the copies lie")),
    ]


def _rules(asked: Asked, season: Season) -> list[b.Block]:
    units = asked.units
    return [
        b.heading(_("The season %(year)d and its rules") % {"year": season.year}),
        b.pairs(
            [
                (_("State"), season.get_state_display()),
                (
                    _("Tapping"),
                    f"{date_format(season.tapping_from, 'j F Y')} – {date_format(season.tapping_to, 'j F Y')}",
                ),
                (_("First tap from"), diameter_words(season.first_tap_um, units)),
                (_("Second tap from"), diameter_words(season.second_tap_um, units) or _("never")),
                (
                    _("A health check counts"),
                    ngettext("%(n)d day", "%(n)d days", season.check_good_days) % {"n": season.check_good_days},
                ),
                (_("Sap keeps at most"), _("%(n)d hours") % {"n": season.keep_limit_h}),
                (_("Syrup finished at"), f"{season.syrup_brix}\u00a0°Brix"),
            ]
        ),
    ]


def _people(asked: Asked, season: Season) -> list[b.Block]:
    live = Membership.objects.live(asked.on).select_related("person", "group")
    rows = [
        [one.person.display_name, one.get_role_display(), one.group.name if one.group else _("all groups")]
        for one in live.exclude(role="volunteer").order_by("role", "group__name", "person__display_name")[:MOST_ROWS]
    ]
    groups = Group.objects.annotate(
        people=Count("memberships", filter=Q(memberships__in=live.values("pk"))),
    ).order_by("name")
    return [
        b.heading(_("Who does what")),
        b.table([_("Name"), _("Role"), _("Where")], rows, widths=[2, 1.5, 1.5]),
        b.space(2),
        b.table(
            [_("Group"), _("Roles held today")],
            [[group.name, str(group.people)] for group in groups[:MOST_ROWS]],
            align=["left", "right"],
        ),
    ]


def _places(asked: Asked, season: Season) -> list[b.Block]:
    depots = [[one.name, one.place, one.hours, one.keyholder] for one in Depot.objects.order_by("name")[:MOST_ROWS]]
    pails = Container.objects.aggregate(all=Count("pk"), out=Count("pk", filter=Q(held_by__isnull=False)))
    return [
        b.heading(_("Depots and kit")),
        b.table([_("Depot"), _("Place"), _("Open"), _("Who has the key")], depots, widths=[1.5, 2, 1.5, 1.5]),
        b.para(_("%(all)d pails and drums on the list, %(out)d with somebody.") % pails),
    ]


def _rounds(asked: Asked, season: Season) -> list[b.Block]:
    found = Round.objects.filter(season=season, ended_at=None).select_related("group")
    found = found.annotate(trees=Count("stops", filter=Q(stops__off_at=None)))
    rows = [[one.name, one.group.name, str(one.trees)] for one in found[:MOST_ROWS]]
    return [
        b.heading(_("Rounds")),
        b.table([_("Round"), _("Group"), _("Trees")], rows, widths=[2, 2, 0], align=["left", "left", "right"]),
    ]


def _permits(asked: Asked, season: Season) -> list[b.Block]:
    slips = Permission.objects.filter(state=PermissionState.GRANTED, date_to__gte=asked.on)
    slips = slips.annotate(trees_named=Count("trees")).order_by("date_to", "number")
    columns = ("public_number", "number", "owner__name", "trees_named", "date_to", "insurance_to")
    rows = [
        [public or number, owner, str(trees), _day(ends), _day(insured)]
        for public, number, owner, trees, ends, insured in slips.values_list(*columns)[:MOST_ROWS]
    ]
    return [
        b.heading(_("Permissions that count, the first to end first")),
        b.table(
            [_("Number"), _("Owner"), _("Trees"), _("Ends"), _("Insurance until")],
            rows,
            widths=[1.3, 2.4, 0, 1, 1],
            align=["left", "left", "right", "left", "left"],
        ),
    ]


def _day(day: dt.date | None) -> str:
    return date_format(day, "j M Y") if day else ""


def _open(asked: Asked, season: Season) -> list[b.Block]:
    """What somebody has begun and nobody ended."""
    spouts = Tap.objects.filter(out_at=None).count()
    lines = [
        ngettext("%(n)d spout is in a tree.", "%(n)d spouts are in trees.", spouts) % {"n": spouts},
        _("%(n)d slips wait for an answer.")
        % {"n": Permission.objects.filter(state__in=(PermissionState.DRAFT, PermissionState.ASKED)).count()},
        _("%(n)d round sheets are out and not keyed in.")
        % {"n": RoundSheet.objects.filter(keyed_at=None, run__round__season=season).count()},
    ]
    days = BoilDay.objects.filter(day__gte=asked.on).order_by("day")[:20]
    lines += [
        _("Boiling day on %(day)s at %(site)s, led by %(who)s.")
        % {"day": date_format(day.day, "j F Y"), "site": day.site, "who": day.lead.display_name}
        for day in days.select_related("lead")
    ]
    return [b.heading(_("Not finished yet")), b.ticks((False, line) for line in lines)]


def _lots(asked: Asked, season: Season) -> list[b.Block]:
    lots = Lot.objects.filter(season=season).order_by("code")[:MOST_ROWS]
    if not lots:
        return []
    rows = [[one.code, one.get_state_display(), volume_words(one.drawn_ml, asked.units)] for one in lots]
    return [
        b.heading(_("Lots of syrup")),
        b.table([_("Lot"), _("State"), _("Syrup")], rows, widths=[1, 2, 1], align=["left", "left", "right"], code=0),
    ]


def _year(asked: Asked, season: Season) -> list[b.Block]:
    return [
        b.heading(_("The year of a programme")),
        b.ticks(
            (False, words)
            for words in (
                _("Late summer: kinds told by the leaf, trees looked at, owners asked."),
                _("Autumn: slips signed, permits and insurance renewed, insecticide asked about."),
                _("Early winter: health checks, groups and rounds, trainings and waivers, pails counted."),
                _("Before tapping: tags printed and hung, the season opened, its rules read once more."),
                _("While it runs: rounds, deliveries, boiling days; entries to review settled the same day."),
                _("At its end: every spout out, holes left open, pails back and washed."),
                _("After: lots released, shares final, jars handed out, returns to the town, thanks to owners."),
                _("Last: the season closed, its report printed, a whole copy of the data put away."),
            )
        ),
    ]


BINDER = register(
    Kind(
        key="binder",
        label=gettext_lazy("Handover binder"),
        layout="report.typ",
        version="1",
        gather=gather,
        may=may,
        size=lambda _asked: 9,
        long_above=0,
        form="SeasonForm",
        note=gettext_lazy(
            "For the next coordinator: people, places, permits, what is not finished, and the year ahead. It is made "
            "in the background."
        ),
    )
)
