"""What each kind of entry brings about, through the same actions as the pages with signal."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from django.db import connection
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.gathering.actions import AskAgain, Told, Visit, change_visit, log_visits
from sugarbush.gathering.models import Collection, CollectionState, Outcome
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.parts.wording import volume_words
from sugarbush.phone.forms import ChangeForm, EntryForm, TapForm, VisitForm
from sugarbush.phone.models import Kind
from sugarbush.sap.ledger import hands_of, lock
from sugarbush.seasons.models import Season
from sugarbush.taps.actions import place_tap, take_out
from sugarbush.taps.facts import TreeFacts, read_facts
from sugarbush.taps.models import Assignment, Tap, TapState
from sugarbush.trees.models import Tree
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

APART = dt.timedelta(hours=2)  # design.md, section 5: the second of two phones at one tree


class Known:
    """What is read once for a whole batch: the season, and the trees it is about with their facts.

    A visit is judged by facts that may be a moment old, as if it had come that moment earlier. Whatever changes a tree
    makes them be read anew.
    """

    def __init__(self, codes: Iterable[str]) -> None:
        self.season = Season.current()
        wanted = list({code.upper() for code in codes if "\x00" not in code})
        rows = Tree.objects.select_related("merged_into").filter(code__in=wanted)
        self.trees = {row.code: row.merged_into or row for row in rows}
        ids = [tree.pk for tree in self.trees.values()]
        self._facts = read_facts(ids, self.season)
        self._doubles: dict[int, list[int]] = {pk: [pk] for pk in ids}
        for double in Tree.objects.filter(merged_into__in=ids).only("pk", "merged_into_id"):
            self._doubles[double.merged_into_id or double.pk].append(double.pk)

    def facts(self, tree: Tree) -> TreeFacts:
        if tree.pk not in self._facts:
            self._facts |= read_facts([tree.pk], self.season)
        return self._facts[tree.pk]

    def ids(self, tree: Tree) -> list[int]:
        """The tree and every second entry of it."""
        return self._doubles[tree.pk]

    def forget(self, tree: Tree) -> None:
        self._facts.pop(tree.pk, None)


@dataclass(kw_only=True)
class Entry:
    """One entry being taken: who, when, what; its doubts before, and what came of it after."""

    id: uuid.UUID
    kind: str
    form: EntryForm
    by: Person
    at: dt.datetime
    doubts: list[str]
    known: Known
    to_review: bool = False
    reasons: list[str] = field(default_factory=list)

    @property
    def note(self) -> str:
        return str(self.form.cleaned_data["note"])


def keep(kind: str, entries: Sequence[Entry]) -> None:
    """Do what these entries of one kind and one person say, all or none.

    Raises Refused where there is nothing that one of them could be kept as.
    """
    KEEPERS[kind](entries)


def one_by_one(keeper: Callable[[Entry], None]) -> Callable[[Sequence[Entry]], None]:
    def each(entries: Sequence[Entry]) -> None:
        for entry in entries:
            keeper(entry)

    return each


def _visits(entries: Sequence[Entry]) -> None:
    """Visits are read, judged and written together."""
    trees = [_tree_of(entry) for entry in entries]
    by, season = entries[0].by, entries[0].known.season
    told = []
    if season is not None:
        _hold(by, season, trees)
    visits = [entry.form.visit() for entry in entries if isinstance(entry.form, VisitForm)]
    others = _of_others(entries, visits, trees, season)
    for entry, tree, visit in zip(entries, trees, visits, strict=True):
        if visit.outcome == Outcome.SAP:
            entry.doubts += [*_another_phone(entry, others[tree.pk]), *_pulled_since(entry, tree)]
        told.append(_told(entry, tree, visit))
    for entry, made in zip(entries, log_visits(told, by=by), strict=True):
        _came_of_it(entry, made)


def _told(entry: Entry, tree: Tree, visit: Visit, tap: Tap | None = None) -> Told:
    return Told(
        tree=tree,
        visit=visit,
        happened_at=entry.at,
        entry_id=entry.id,
        confirmed=bool(entry.form.cleaned_data.get("sure")),
        tap=tap,
        doubted=entry.doubts,
        facts=entry.known.facts(tree),
    )


def _came_of_it(entry: Entry, made: Collection) -> None:
    entry.to_review = made.state == CollectionState.REVIEW
    entry.reasons = list(made.review_reasons)


def _hold(by: Person, season: Season, trees: Sequence[Tree]) -> None:
    """Two phones at one tree come one after the other, or neither would see the other's pail.

    Always hands before trees, and trees in one order. SQLite has one writer anyway.
    """
    if connection.features.has_select_for_update:
        lock([hands_of(by, season)])
        ids = {tree.pk for tree in trees}
        list(Tree.objects.select_for_update(no_key=True).filter(pk__in=ids).order_by("pk").values_list("pk"))


def _tap(entry: Entry) -> None:
    assert isinstance(entry.form, TapForm)  # noqa: S101
    said, tree = entry.form.cleaned_data, _tree_of(entry)
    entry.known.forget(tree)
    tap = place_tap(
        tree=tree,
        by=entry.by,
        hole=entry.form.hole(),
        shavings=said["shavings"],
        placed_at=entry.at,
        drilled=True,
        container_ml=said["holds_ml"],
        tap_id=entry.id,
        note=entry.note[:300],
        doubted=[Reason(code="phone", fact=why) for why in entry.doubts],
    )
    entry.to_review = tap.state == TapState.TO_SETTLE
    if entry.to_review:
        entry.reasons = [*tap.settle_reasons, _("The hole is kept, to settle. Please do not drill again.")]


def _pull(entry: Entry) -> None:
    tree, said = _tree_of(entry), entry.form.cleaned_data
    tap = Tap.objects.filter(pk=said["tap"], tree_id__in=tree.all_ids).first()
    if tap is None:
        raise Refused([Reason(code="no-tap", fact=_("That spout is not in the books of this tree."))])
    if not tap.spout_in:
        entry.reasons = [_("The spout was out already.")]
        return
    entry.known.forget(tree)
    if said["lost"]:
        take_out(tap=tap, by=entry.by, lost=True, reason=entry.note, out_at=max(entry.at, tap.placed_at))
        return
    removal = _told(entry, tree, Visit(outcome=Outcome.REMOVAL, note=entry.note), tap)
    _came_of_it(entry, log_visits([removal], by=entry.by)[0])
    entry.known.forget(tree)


def _change(entry: Entry) -> None:
    assert isinstance(entry.form, ChangeForm)  # noqa: S101
    try:
        change_visit(
            entry=_own_entry(entry), by=entry.by, visit=entry.form.visit(), reason=_reason(entry), confirmed=True
        )
    except AskAgain as asked:
        raise Refused(
            [
                Reason(code=q.code, fact=q.sentence, next_text=_("Write why it is right, and send it again"))
                for q in asked.questions
            ]
        ) from None


def _undo(entry: Entry) -> None:
    found = _own_entry(entry)
    if found.state == CollectionState.VOID:
        entry.reasons = [_("It was taken back already.")]
        return
    change_visit(entry=found, by=entry.by, visit=None, reason=_reason(entry))


# Visits stand beside each other; the rest may rest on what came before, and is taken one by one.
TOGETHER = {Kind.VISIT}
KEEPERS: dict[str, Callable[[Sequence[Entry]], None]] = {
    Kind.VISIT: _visits,
    Kind.TAP: one_by_one(_tap),
    Kind.PULL: one_by_one(_pull),
    Kind.CHANGE: one_by_one(_change),
    Kind.UNDO: one_by_one(_undo),
}


def _reason(entry: Entry) -> str:
    at = date_format(timezone.localtime(entry.at), "j F, H:i")
    return entry.note or _("on the phone, %(time)s") % {"time": at}


def _own_entry(entry: Entry) -> Collection:
    found = Collection.objects.filter(pk=entry.form.cleaned_data["of"], person=entry.by).first()
    if found is None:
        raise Refused([Reason(code="no-entry", fact=_("The entry it is about is not among yours."))])
    return found


def _tree_of(entry: Entry) -> Tree:
    """The tree, if it is or then was the person's to work on; doubts where it no longer is."""
    code = entry.form.cleaned_data["tree"].upper()
    tree, season = entry.known.trees.get(code), entry.known.season
    if tree is not None:
        groups = {tree.group_id}
        if not access.why_not(entry.by, "collection.log", group_id=tree.group_id):
            return tree
        if season is not None:
            given = Assignment.objects.filter(tree=tree, season=season)
            groups |= set(given.values_list("group_id", flat=True))
        then, now = timezone.localdate(entry.at), access.today()
        was = [group for group in groups if not access.why_not(entry.by, "collection.log", group_id=group, on=then)]
        if any(not access.why_not(entry.by, "collection.log", group_id=group, on=now) for group in was):
            entry.doubts.append(_("The tree was given to another group before this came."))
            return tree
        if was:
            entry.doubts.append(
                _("%(person)s’s part in the programme had ended before this came.") % {"person": entry.by}
            )
            return tree
    # The same sentence for a tree of others as for none: nobody learns what other groups have.
    raise Refused(
        [
            Reason(
                code="not-yours",
                fact=_("%(code)s is not a tree of your groups.") % {"code": code},
                next_text=_("Show this to your group’s lead"),
            )
        ]
    )


def _of_others(
    entries: Sequence[Entry], visits: Sequence[Visit], trees: Sequence[Tree], season: Season | None
) -> dict[int, list[Collection]]:
    """Sap that others logged at these trees about that time, oldest first; one query. By tree, doubles with it."""
    found: dict[int, list[Collection]] = {tree.pk: [] for tree in trees}
    times = [entry.at for entry, visit in zip(entries, visits, strict=True) if visit.outcome == Outcome.SAP]
    if not times or season is None:
        return found
    known = entries[0].known
    main = {pk: tree.pk for tree in trees for pk in known.ids(tree)}
    rows = Collection.objects.filter(
        tree_id__in=main,
        season=season,
        outcome=Outcome.SAP,
        happened_at__gte=min(times) - APART,
        happened_at__lte=max(times) + APART,
    ).exclude(state=CollectionState.VOID)
    for row in rows.exclude(person=entries[0].by).select_related("person").order_by("happened_at"):
        found[main[row.tree_id]].append(row)
    return found


def _another_phone(entry: Entry, others: Sequence[Collection]) -> list[str]:
    """Sap of somebody else from the same tree within two hours: one of the two may be the same pail."""
    other = next((row for row in others if abs(row.happened_at - entry.at) <= APART), None)
    if other is None:
        return []
    minutes = round(abs((other.happened_at - entry.at).total_seconds()) / 60)
    return [
        ngettext(
            "%(who)s logged %(volume)s here at %(time)s, %(n)d minute apart.",
            "%(who)s logged %(volume)s here at %(time)s, %(n)d minutes apart.",
            minutes,
        )
        % {
            "who": other.person,
            "volume": volume_words(other.volume_ml, entry.by.units),
            "time": date_format(timezone.localtime(other.happened_at), "H:i"),
            "n": minutes,
        }
    ]


def _pulled_since(entry: Entry, tree: Tree) -> list[str]:
    """A spout that was in then, and out before the entry came: somebody should look whether the pail was emptied."""
    then = [tap for tap in entry.known.facts(tree).taps if tap.placed_at <= entry.at]
    if any(tap.spout_in for tap in then):
        return []
    gone = [tap for tap in then if tap.out_at is not None and tap.out_at >= entry.at]
    if not gone or gone[-1].out_at is None:
        return []
    at = date_format(timezone.localtime(gone[-1].out_at), "j F, H:i")
    return [_("The spout was taken out on %(time)s, before this came.") % {"time": at}]
