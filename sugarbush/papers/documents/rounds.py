"""The sheet of a round: its trees in walking order with boxes to fill, for a day without a phone."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db.models import QuerySet
from django.http import Http404
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format, time_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.gathering.models import Collection, CollectionState, Outcome
from sugarbush.gathering.models_rounds import Part as Walks
from sugarbush.gathering.models_rounds import RoundRun, RoundStop, RunState
from sugarbush.gathering.way import live_stops, with_spout
from sugarbush.papers.kinds import Asked, Kind, Part, register
from sugarbush.papers.models import Document, RoundSheet
from sugarbush.papers.numbers import digest_of
from sugarbush.papers.sheet_lines import LETTERS
from sugarbush.papers.squares import square_drawn
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.parts.wording import volume_words
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

A_SHEET = 40
"""As many trees as somebody keys at one go."""
MOST_RUNS = 60


def runs_for(person: Person) -> QuerySet[RoundRun]:
    """The runs whose sheets a person may print and look at."""
    reach = access.scope(person, "round.see").filter("round__group")
    return RoundRun.objects.filter(reach).select_related("round__season", "round__group")


def runs_asked(asked: Asked) -> list[RoundRun]:
    keys = [int(key) for key in asked.choices.get("runs", []) if str(key).isdecimal()][:MOST_RUNS]
    found = list(runs_for(asked.person).filter(pk__in=keys).order_by("date", "round__latest_start", "pk"))
    if not found or len(found) != len(set(keys)):
        raise Http404
    return found


def size(asked: Asked) -> int:
    return RoundStop.objects.filter(round__runs__in=[run.pk for run in runs_asked(asked)], off_at=None).count()


def gather(asked: Asked) -> Sequence[Part]:
    """A part for each sheet of up to forty trees."""
    runs = runs_asked(asked)
    stops: dict[int, list[RoundStop]] = {}
    for stop in live_stops({run.round_id for run in runs}).select_related("tree"):
        stops.setdefault(stop.round_id, []).append(stop)
    trees = {stop.tree_id for found in stops.values() for stop in found}
    last, spouts = last_volumes(trees), with_spout(trees)
    parts: list[Part] = []
    for done, run in enumerate(runs, start=1):
        whole = stops.get(run.round_id, [])
        for at in range(0, len(whole), A_SHEET):
            parts.append(_part(asked, run, whole[at : at + A_SHEET], at, len(whole), last, spouts))
        asked.progress(done, len(runs))
    if not parts:
        raise Refused([Reason(code="empty", fact=_("No tree is on this round. Plan its way first."))])
    return parts


def last_volumes(tree_ids: set[int]) -> dict[int, tuple[int, Any]]:
    """(mL, when) of each tree's newest entry that counts; one query for five hundred trees."""
    found: dict[int, tuple[int, Any]] = {}
    keys = sorted(tree_ids)
    for at in range(0, len(keys), 500):
        rows = Collection.objects.filter(
            tree__in=keys[at : at + 500],
            state=CollectionState.COUNTED,
            outcome__in=(Outcome.SAP, Outcome.EMPTY, Outcome.FROZEN),
        ).order_by("happened_at")
        found.update({tree: (ml, when) for tree, ml, when in rows.values_list("tree_id", "volume_ml", "happened_at")})
    return found


def _part(
    asked: Asked,
    run: RoundRun,
    stops: Sequence[RoundStop],
    before: int,
    whole: int,
    last: dict[int, tuple[int, Any]],
    spouts: set[int],
) -> Part:
    nth = before // A_SHEET + 1
    codes = [stop.tree.code for stop in stops]
    rows = []
    for n, stop in enumerate(stops, start=before + 1):
        ml, when = last.get(stop.tree_id, (None, None))
        rows.append(
            {
                "n": str(n),
                "code": stop.tree.code,
                "place": stop.tree.place or _("no address"),
                "way": stop.tree.access_note,
                "last": _("%(volume)s on %(day)s")
                % {"volume": volume_words(ml, asked.units), "day": date_format(timezone.localdate(when), "j M")}
                if ml is not None
                else _("none yet"),
                "spout": stop.tree_id in spouts,
            }
        )
    names = [
        one.person.display_name
        for one in run.people.filter(part=Walks.WALKS).exclude(answer="no").select_related("person")
    ]
    content: dict[str, Any] = {
        "round": run.round.name,
        "group": run.round.group.name,
        "day": date_format(run.date, "l j F Y"),
        "walks": ", ".join(names),
        "rows": rows,
        "unit": "gal" if asked.units == "us" else "L",
        "letters": [{"letter": letter.upper(), "words": str(words)} for letter, words in LETTERS.items()],
        "codes": codes,
        "run": run.pk,
        "nth": nth,
        "words": {
            "title": run.round.name,
            "of": _("sheet %(n)d of %(of)d") % {"n": nth, "of": -(-whole // A_SHEET)} if whole > A_SHEET else "",
            "walks": _("Walks it"),
            "begun": _("Begun at"),
            "ended": _("Ended at"),
            "start": _("Latest start %(time)s") % {"time": time_format(run.round.latest_start, "H:i")},
            "tag": _("Tag"),
            "where": _("Where"),
            "last": _("Last"),
            "sap": _("Sap"),
            "letter": _("Letter"),
            "note": _("Note"),
            "no_spout": _("no spout in it"),
            "number": _("Number of this sheet"),
            "how": _("Write the sap of each pail, or a letter. Leave empty where nobody went."),
            "back": _("Bring it back today: somebody keys it in under this number, once."),
            "sum": _("Sap of this sheet"),
        },
    }
    subject = f"run:{run.pk}:{nth}:{digest_of(codes)[:12]}"
    title = _("Round sheet %(day)s") % {"day": date_format(run.date, "j F Y")}
    return Part(subject=subject, title=title, content=content)


def with_square(asked: Asked, document: Document) -> dict[str, Any]:
    """A scan of the sheet opens the page on which it is keyed in."""
    return {"square": square_drawn(asked.address(reverse("paper-sheet", args=[document.number])), quick=True)}


def keep(asked: Asked, part: Part, document: Document) -> None:
    """Remember what stands on the sheet, in its order."""
    RoundSheet.objects.get_or_create(
        document=document,
        defaults={
            "run_id": part.content["run"],
            "nth": part.content["nth"],
            "codes": part.content["codes"],
            "units": asked.units,
        },
    )


def open_runs(person: Person, first: Any, last: Any) -> QuerySet[RoundRun]:
    """Runs of these days that are still to be walked."""
    rows = runs_for(person).filter(date__gte=first, date__lte=last).exclude(state=RunState.CALLED_OFF)
    return rows.order_by("date", "round__latest_start", "pk")


ROUND_SHEET = register(
    Kind(
        key="round-sheet",
        label=gettext_lazy("Round sheets"),
        layout="round.typ",
        version="1",
        gather=gather,
        size=size,
        long_above=150,
        may=runs_asked,
        after=keep,
        numbered=with_square,
        form="RunsForm",
        file_name="round-sheets",
        note=gettext_lazy(
            "The trees in walking order, forty on a sheet, with a number at the head. Whoever keys it in later types "
            "that number; a sheet counts once."
        ),
    )
)
