"""What a coordinator prints this week: what is due, by right, with its way to the printer."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from urllib.parse import urlencode

from django.db.models import Count
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.boils.models import BoilDay, BoilState
from sugarbush.lots.models import Lot, LotState
from sugarbush.owners.models import PermissionState
from sugarbush.owners.queries import permissions_for
from sugarbush.papers.documents.rounds import open_runs
from sugarbush.papers.documents.tags import trees_without_tag
from sugarbush.papers.keying import sheets_for
from sugarbush.papers.models import Document, PrintJob
from sugarbush.seasons.models import Season
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

AHEAD = dt.timedelta(days=6)
BACK = dt.timedelta(days=14)
SHOWN = 12
SLIPS_AT_ONCE = 25


@dataclass(kw_only=True)
class Due:
    """One kind of paper that is due: how much of it, the act that prints it, and its single pieces.

    rows: (words, address, what is said beside it).
    """

    head: str
    said: str
    act: str = ""
    address: str = ""
    rows: list[tuple[str, str, str]] = field(default_factory=list)
    more: int = 0


def way(kind: str, **choices: str) -> str:
    """The page that prints a kind, with its choices made already."""
    address = reverse("paper-print", args=[kind])
    return f"{address}?{urlencode(choices)}" if choices else address


def due(person: Person, on: dt.date) -> list[Due]:
    """What is due in the seven days from today, most urgent first. A fixed number of queries."""
    found = [
        _runs(person, on),
        _sheets_out(person, on),
        _tags(person, on),
        _slips(person),
        _days(person, on),
        _lots(person),
    ]
    return [one for one in found if one is not None]


def _runs(person: Person, on: dt.date) -> Due | None:
    if not access.holds(person, "round.see"):
        return None
    runs = list(open_runs(person, on, on + AHEAD).annotate(printed=Count("sheets"))[: SHOWN * 5])
    if not runs:
        return Due(head=_("Round sheets"), said=_("No run is planned in the next seven days."))
    said = ngettext("%(n)d run in the next seven days.", "%(n)d runs in the next seven days.", len(runs))
    rows = [
        (
            f"{date_format(run.date, 'D j M')}, {run.round.name}",
            way("round-sheet", runs=str(run.pk)),
            _("printed") if run.printed else run.round.group.name,
        )
        for run in runs[:SHOWN]
    ]
    return Due(
        head=_("Round sheets"),
        said=said % {"n": len(runs)},
        act=_("Print these sheets"),
        address=way("round-sheet"),
        rows=rows,
        more=len(runs) - len(rows),
    )


def _sheets_out(person: Person, on: dt.date) -> Due | None:
    if not access.holds(person, "collection.log"):
        return None
    out = sheets_for(person).filter(keyed_at=None, run__date__gte=on - BACK, run__date__lte=on)
    sheets = list(out.order_by("run__date", "document__seq")[: SHOWN + 1])
    if not sheets:
        return None
    count = out.count() if len(sheets) > SHOWN else len(sheets)
    return Due(
        head=_("Sheets to key in"),
        said=ngettext("%(n)d sheet is out and not keyed in.", "%(n)d sheets are out and not keyed in.", count)
        % {"n": count},
        rows=[
            (
                f"{sheet.document.number}, {sheet.run.round.name}",
                reverse("paper-sheet", args=[sheet.document.number]),
                date_format(sheet.run.date, "D j M"),
            )
            for sheet in sheets[:SHOWN]
        ],
        more=count - min(count, SHOWN),
    )


def _tags(person: Person, on: dt.date) -> Due | None:
    if not access.holds(person, "assign"):
        return None
    count = trees_without_tag(person, Season.current(), on).count()
    if not count:
        return Due(
            head=_("Tags"),
            said=_("Every tree that is given out has its tag."),
            act=_("Print tags again"),
            address=way("tags", which="all"),
        )
    return Due(
        head=_("Tags"),
        said=ngettext("%(n)d tree has no tag yet.", "%(n)d trees have no tag yet.", count) % {"n": count},
        act=_("Print the missing tags"),
        address=way("tags", which="missing"),
    )


def _slips(person: Person) -> Due | None:
    if not access.holds(person, "permission.draft"):
        return None
    slips = permissions_for(person).filter(state=PermissionState.DRAFT).order_by("number")
    numbers = list(slips.values_list("number", flat=True)[:SLIPS_AT_ONCE])
    if not numbers:
        return Due(head=_("Permission forms"), said=_("No slip waits to be asked."))
    count = slips.count() if len(numbers) == SLIPS_AT_ONCE else len(numbers)
    return Due(
        head=_("Permission forms"),
        said=ngettext("%(n)d slip is written and not asked yet.", "%(n)d slips are written and not asked yet.", count)
        % {"n": count},
        act=_("Print the forms"),
        address=way("permission", numbers=", ".join(numbers)),
        rows=[(number, reverse("permission", args=[number]), "") for number in numbers[:SHOWN]],
        more=count - min(count, SHOWN),
    )


def _days(person: Person, on: dt.date) -> Due | None:
    if not access.holds(person, "delivery.see"):
        return None
    days = BoilDay.objects.filter(day__gte=on, day__lte=on + AHEAD, state__in=(BoilState.PLANNED, BoilState.CALLED))
    found = list(days.order_by("day")[:SHOWN])
    if not found:
        return None
    rows = []
    for day in found:
        when = date_format(day.day, "D j M")
        rows.append(
            (_("Plan, batch sheet, safety card: %(day)s") % {"day": when}, way("boil-day", day=str(day.pk)), day.site)
        )
        if access.holds(person, "boil.plan"):
            rows.append((_("Notice for the neighbours: %(day)s") % {"day": when}, way("notice", day=str(day.pk)), ""))
    said = ngettext(
        "%(n)d boiling day in the next seven days.", "%(n)d boiling days in the next seven days.", len(found)
    )
    return Due(head=_("Boiling"), said=said % {"n": len(found)}, rows=rows)


def _lots(person: Person) -> Due | None:
    if not access.holds(person, "lot.see"):
        return None
    lots = list(Lot.objects.filter(state__in=(LotState.PACKED, LotState.RELEASED)).order_by("-packed_at")[: SHOWN * 2])
    subjects = Document.objects.filter(kind="bottle-labels").values_list("subject", flat=True)
    labelled = {subject.split(":")[1] for subject in subjects.filter(subject__startswith="bottles:")[:500]}
    found = [lot for lot in lots if lot.pk.hex not in labelled]
    if not found:
        return None
    return Due(
        head=_("Labels"),
        said=ngettext("%(n)d lot has no bottle labels yet.", "%(n)d lots have no bottle labels yet.", len(found))
        % {"n": len(found)},
        rows=[
            (
                _("Bottle labels of %(lot)s") % {"lot": lot.code},
                way("bottle-labels", lot=lot.code),
                lot.get_state_display(),
            )
            for lot in found[:SHOWN]
        ],
        more=len(found) - min(len(found), SHOWN),
    )


def others(person: Person) -> list[tuple[str, str]]:
    """(words, address) of every other paper this person may print."""
    ways = [
        (_("Round sheets"), way("round-sheet"), "round.see"),
        (_("Permission forms"), way("permission"), "permission.draft"),
        (_("Permit cards for the rounds"), way("permit-card"), "permission.see"),
        (_("Return for each permit"), way("permit-return"), "permission.see"),
        (_("Thanks and receipts for owners"), way("thanks"), "owners.see"),
        (_("Tags for trees"), way("tags"), "assign"),
        (_("Scout sheet of a street"), way("scout-sheet"), "trees.see"),
        (_("Papers of a boiling day"), way("boil-day"), "delivery.see"),
        (_("Notice for the neighbours"), way("notice"), "boil.plan"),
        (_("Bottle labels"), way("bottle-labels"), "lot.see"),
        (_("Labels of a lot"), way("lot-labels"), "lot.see"),
        (_("Season report"), way("season-report"), "season.totals"),
        (_("Season report for everybody"), way("season-public"), "season.totals"),
        (_("Share statements"), way("share-statements"), "share.see"),
        (_("Hand-out list"), way("hand-out-list"), "share.see"),
        (_("Handover binder"), way("binder"), "programme.change"),
        (_("Labels for pails and drums"), reverse("container-labels"), "kit.see"),
        (_("Labels for tanks"), reverse("tank-labels"), "delivery.see"),
        (_("Cards to join by"), reverse("groups"), "cards.make"),
    ]
    return [(words, address) for words, address, act in ways if access.holds(person, act)]


def waiting(person: Person) -> list[PrintJob]:
    """This person's long prints of the last day."""
    return list(PrintJob.objects.filter(by=person).order_by("-asked_at")[:5])
