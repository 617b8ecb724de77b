"""Keying a round sheet: what is half typed, what is asked about, and the entries it becomes. Once."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.formats import date_format, time_format
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.gathering import doubts
from sugarbush.gathering.models import Collection, CollectionState, Outcome, Source
from sugarbush.gathering.models_rounds import Part, RoundRun
from sugarbush.gathering.rounds import day_span
from sugarbush.gathering.visits import Told, Visit, log_visits
from sugarbush.papers.models import RoundSheet
from sugarbush.papers.sheet_lines import CannotRead, read_line
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.parts.wording import volume_words
from sugarbush.taps.facts import read_facts
from sugarbush.trees.models import Tree
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

NAMESPACE = uuid.UUID("5f1d4a52-4c0e-4f6e-9a53-8f2b6a1f0c77")
A_TREE = dt.timedelta(minutes=2)
"""Entries of a sheet have no time of their own: they stand two minutes apart, in its order."""


@dataclass
class Line:
    """One line of the sheet on its way into the book."""

    nth: int
    code: str
    place: str = ""
    typed: str = ""
    note: str = ""
    agreed: bool = False
    visit: Visit | None = None
    wrong: str = ""
    questions: list[str] = field(default_factory=list)

    @property
    def open_question(self) -> bool:
        return bool(self.questions) and not (self.agreed and self.note.strip())


def sheets_for(person: Person) -> QuerySet[RoundSheet]:
    """The sheets whose group's rounds the person may see."""
    reach = access.scope(person, "round.see").filter("run__round__group")
    rows = RoundSheet.objects.filter(reach)
    return rows.select_related("document", "run__round__group", "run__round__season", "keyed_by", "walked_by")


def why_not_key(person: Person, sheet: RoundSheet) -> str:
    """Why this person may not key the sheet, or an empty string."""
    if sheet.run.round.season.is_closed:
        return _("The season is closed.")
    return access.why_not(person, "collection.log", group_id=sheet.run.round.group_id)


def walkers(person: Person, sheet: RoundSheet) -> list[Person]:
    """In whose hands the sap of the sheet may be: those of the run; for a volunteer only they themselves."""
    of_run = [one.person for one in sheet.run.people.filter(part=Part.WALKS).select_related("person")]
    if access.why_not(person, "round.plan", group_id=sheet.run.round.group_id):
        return [person]
    return list(dict.fromkeys([*of_run, person]))


def lines_of(sheet: RoundSheet, typed: Mapping[str, Any] | None = None) -> list[Line]:
    """The sheet's lines in its order, with what was typed so far. One query."""
    typed = sheet.typed if typed is None else typed
    places = {tree.code: tree.place for tree in Tree.objects.filter(code__in=sheet.codes)}
    return [
        Line(
            nth=n,
            code=code,
            place=places.get(code, ""),
            typed=str(typed.get(f"sap-{n}", ""))[:40],
            note=str(typed.get(f"note-{n}", ""))[:400],
            agreed=typed.get(f"agreed-{n}") == "yes",
        )
        for n, code in enumerate(sheet.codes)
    ]


def keep_typed(sheet: RoundSheet, typed: Mapping[str, str], by: Person) -> None:
    """Keep what is half typed, so that no fault and no closed window loses it."""
    kept = {name: value[:400] for name, value in typed.items() if value}
    RoundSheet.objects.filter(pk=sheet.pk, keyed_at=None).update(typed=kept, typed_by=by, typed_at=timezone.now())
    sheet.typed = kept


def moment_of(sheet: RoundSheet, begun: dt.time, nth: int) -> dt.datetime:
    """When the tree of a line was visited: counted from the start, never later than now."""
    start = dt.datetime.combine(sheet.run.date, begun, tzinfo=timezone.get_current_timezone())
    return min(start + nth * A_TREE, timezone.now())


def judge(sheet: RoundSheet, lines: Sequence[Line], *, begun: dt.time, walker: Person) -> None:
    """Fill in what each line says, what cannot be read, and what looks odd. A fixed number of queries."""
    season = sheet.run.round.season
    trees = {tree.code: tree for tree in Tree.objects.filter(code__in=sheet.codes)}
    facts = read_facts([tree.pk for tree in trees.values()], season)
    there = _there_already(sheet, trees)
    for line in lines:
        try:
            line.visit = read_line(line.typed, units=sheet.units, note=line.note.strip())
        except CannotRead as why:
            line.wrong = str(why)
            continue
        tree = trees.get(line.code)
        if line.visit is None or tree is None or tree.pk not in facts:
            continue
        asked = doubts.odd_numbers(
            facts=facts[tree.pk],
            season=season,
            when=moment_of(sheet, begun, line.nth),
            volume_ml=line.visit.volume_ml,
            sugar_brix=None,
            units=sheet.units,
        )
        line.questions = [one.sentence for one in asked]
        if tree.pk in there:
            line.questions.append(_already_words(there[tree.pk], sheet.units))


def _there_already(sheet: RoundSheet, trees: Mapping[str, Tree]) -> dict[int, Collection]:
    """Entries of that day at these trees that came another way: by a phone, perhaps."""
    start, end = day_span(sheet.run.date)
    rows = Collection.objects.filter(
        tree__in=[tree.pk for tree in trees.values()], happened_at__gte=start, happened_at__lt=end
    ).exclude(state=CollectionState.VOID)
    return {entry.tree_id: entry for entry in rows.select_related("person").order_by("happened_at")}


def _already_words(entry: Collection, units: str) -> str:
    what = volume_words(entry.volume_ml, units) if entry.outcome == Outcome.SAP else entry.get_outcome_display()
    return _("%(who)s already logged %(what)s here at %(time)s. Count this as well?") % {
        "who": entry.person.display_name,
        "what": what,
        "time": time_format(timezone.localtime(entry.happened_at), "H:i"),
    }


def already_keyed(sheet: RoundSheet) -> str:
    """The sentence for a sheet that is in the book."""
    if sheet.keyed_at is None or sheet.keyed_by is None:
        return ""
    return _("Sheet %(number)s was keyed by %(who)s on %(at)s. It counts once.") % {
        "number": sheet.document.number,
        "who": sheet.keyed_by.display_name,
        "at": date_format(timezone.localtime(sheet.keyed_at), "j F, H:i"),
    }


@transaction.atomic
def key_sheet(
    *, sheet: RoundSheet, by: Person, walker: Person, begun: dt.time, lines: Sequence[Line]
) -> list[Collection]:
    """Write the sheet's lines into the book as visits of its walker, all or none. A second time it is refused.

    lines: judged, without anything unread or any question left open.
    """
    held = (
        RoundSheet.objects.select_for_update(of=("self",))
        .select_related("document", "run__round__season", "run__round__group", "keyed_by")
        .get(pk=sheet.pk)
    )
    if why := why_not_key(by, held):
        raise PermissionDenied(why)
    if held.keyed_at is not None:
        raise Refused([Reason(code="keyed", fact=already_keyed(held))])
    if walker not in walkers(by, held):
        raise PermissionDenied(_("Only who plans rounds keys in for somebody else."))
    said = [line for line in lines if line.visit is not None]
    if not said:
        raise Refused([Reason(code="empty", fact=_("Nothing is typed yet."))])
    trees = {tree.code: tree for tree in Tree.objects.filter(code__in=held.codes).select_related("group")}
    facts = read_facts([tree.pk for tree in trees.values()], held.run.round.season)
    told = [
        Told(
            tree=trees[line.code],
            visit=line.visit,
            happened_at=moment_of(held, begun, line.nth),
            entry_id=uuid.uuid5(NAMESPACE, f"{held.document.number}/{line.nth}"),
            source=Source.SHEET,
            confirmed=line.agreed,
            facts=facts[trees[line.code].pk],
        )
        for line in said
        if line.visit is not None and line.code in trees
    ]
    entries = log_visits(told, by=walker)
    held.keyed_at, held.keyed_by, held.walked_by, held.typed = timezone.now(), by, walker, {}
    held.save(update_fields=["keyed_at", "keyed_by", "walked_by", "typed"])
    # The first sheet of a run gives the run its number; those behind it are found by their own.
    RoundRun.objects.filter(pk=held.run_id, sheet_number=None).update(sheet_number=held.document.number)
    record(
        by=by,
        act="key round sheet",
        subject=held,
        group_id=held.run.round.group_id,
        new={"number": held.document.number, "entries": len(entries), "walked by": walker.pk},
    )
    return entries
