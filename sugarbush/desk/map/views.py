"""The map page, and what its script asks for: trees by tile, streets, the card of one tree, tags of the chosen."""

from __future__ import annotations

from typing import Any, NamedTuple

import orjson
from django.conf import settings
from django.contrib.humanize.templatetags.humanize import intcomma
from django.db.models import Count, Max, QuerySet
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.gzip import gzip_page
from django.views.decorators.http import require_GET, require_POST

from sugarbush.desk.map import rows
from sugarbush.desk.map.answers import answer, not_understood
from sugarbush.desk.map.arrays import tile_answer
from sugarbush.desk.map.boxes import Box
from sugarbush.desk.map.find import find
from sugarbush.desk.map.forms import FLAG, KEY_ORDER, WantedForm, groups_for
from sugarbush.desk.map.words import words_for_script
from sugarbush.parts.paging import page_of
from sugarbush.parts.places import PLACES
from sugarbush.parts.reasons import Reason
from sugarbush.taps.gate import gate, names_for
from sugarbush.trees.models import Shown, StreetLine, Tree
from sugarbush.trees.tiles import SIDE, ZOOM
from sugarbush.trees.views.listing import trees_taken
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Group, Membership, Person
from sugarbush.volunteers.taking_home import wants_file
from sugarbush.volunteers.views_help import SignedInRequest, member

CHOOSE_AT_ONCE = 500
"""Without script "choose all" puts so many trees on one page."""
COARSEST = 8


def _form(request: SignedInRequest) -> WantedForm:
    return WantedForm(request.GET, person=request.user)


@require_GET
@member
def map_page(request: SignedInRequest) -> HttpResponseBase:
    """The map, its key and the list of the same trees; `fragment=list` gives the list alone."""
    access.require(request.user, "trees.see", anywhere=True)
    fragment = request.GET.get("fragment") == "list"
    if fragment:  # ways to other pages of the list lead to whole pages
        asked_for = request.GET.copy()
        del asked_for["fragment"]
        request.GET = QueryDict(asked_for.urlencode())
    form = _form(request)
    if wants_file(request, *PLACES):
        return trees_taken(request, "trees-in-view", _in_view(request, form, form.box or rows.whole_town())[1])
    asked = request.GET.get("q", "").strip()
    hits = find(rows.seen_by(request.user), asked) if asked else []
    if len(hits) == 1:
        return redirect(f"{reverse('map')}?{hits[0].query}")
    whole = rows.whole_town()
    box = form.box or whole
    context = {"asked": asked, "hits": hits, "form": form, "box": box, **_list(request, form, box)}
    if fragment:
        return render(request, "desk/map/list.html", context)
    context |= _page(request, box, whole)
    status = 422 if form.errors else 200
    return render(request, "desk/map.html", context, status=status)


def _in_view(request: SignedInRequest, form: WantedForm, box: Box | None) -> tuple[QuerySet[Tree], QuerySet[Tree]]:
    """All trees of the box, and the wanted ones among them."""
    trees = rows.seen_by(request.user)
    trees = rows.in_box(trees, box) if box else trees.none()
    return trees, rows.those(trees, form.wanted)


def _list(request: SignedInRequest, form: WantedForm, box: Box | None) -> dict[str, Any]:
    trees, wanted = _in_view(request, form, box)
    counts = rows.counts_by_state(rows.those(trees, form.wanted, all_states=True))
    total = wanted.count()
    choose_all = request.GET.get("choose") == "all"
    many = total > rows.MANY
    page = page_of(rows.in_list_order(wanted, many=many), request, CHOOSE_AT_ONCE if choose_all else 50)
    shown = [ListedTree(tree, _square(box, tree)) for tree in rows.in_full(list(page.object_list))]
    query = request.GET.copy()
    for name in ("choose", "open", "q"):
        query.pop(name, None)
    return {
        "page": page,
        "listed": shown,
        "total": total,
        "heading": ngettext("%(n)s tree in view", "%(n)s trees in view", total) % {"n": intcomma(total)},
        "counts": counts,
        "key": _key(form, counts),
        "choose_all": choose_all,
        "many": many,
        "query": query.urlencode(),
        "open_code": request.GET.get("open", ""),
    }


class ListedTree(NamedTuple):
    """A row of the list: the tree, and its square on the sheet."""

    tree: Tree
    square: str


def _square(box: Box | None, tree: Tree) -> str:
    return box.square(longitude_deg=tree.longitude, latitude_deg=tree.latitude) if box else ""


def _key(form: WantedForm, counts: dict[str, int]) -> list[tuple[str, int, bool]]:
    on = {state.mark for state in Shown if int(state) in form.wanted.states} | (
        {FLAG} if form.wanted.flagged else set()
    )
    return [(name, counts[name], name in on) for name in KEY_ORDER]


def _page(request: SignedInRequest, box: Box | None, whole: Box | None) -> dict[str, Any]:
    person = request.user
    to_give = groups_for(person, "assign")
    to_move = access.holds(person, "tree.change")
    return {
        "to_give": to_give,
        "people": _people(to_give) if to_give else [],
        "to_move": to_move,
        "may_ask": access.holds(person, "permission.draft"),
        "may_scout": access.holds(person, "tree.scout"),
        "card": _card(request, code=request.GET["open"].upper()) if request.GET.get("open") else None,
        "about": _about(person, box, whole),
    }


def _people(groups: list[Group]) -> list[Person]:
    """People who work in these groups, each once."""
    live = Membership.objects.live(access.today()).filter(group__in=groups)
    people = Person.objects.filter(is_active=True, pk__in=live.values("person"))
    return list(people.order_by("display_name", "pk"))


def _about(person: Person, box: Box | None, whole: Box | None) -> dict[str, Any]:
    """What the script needs to know, as plain values."""
    return {
        "box": _corners(box),
        "whole": _corners(whole),
        "tiles": settings.TILE_URL,
        "credit": settings.TILE_ATTRIBUTION,
        "many": rows.MANY,
        "states": {int(state): state.mark for state in Shown if state != Shown.FELLED},
        "areas": [{"name": group.name, "area": group.area} for group in groups_for(person, "trees.see") if group.area],
        "urls": {
            "trees": reverse("map-trees"),
            "streets": reverse("map-streets"),
            "codes": reverse("map-codes"),
            "find": reverse("map-find"),
            "page": reverse("map"),
            "card": reverse("map") + "tree/",
        },
        "words": words_for_script(),
    }


def _corners(box: Box | None) -> list[float] | None:
    return [box.west, box.south, box.east, box.north] if box else None


def _number(request: HttpRequest, name: str) -> int:
    text = request.GET.get(name, "")
    return int(text) if text.isascii() and text.isdigit() and len(text) <= 6 else -1


@gzip_page
@require_GET
@member
def trees_json(request: SignedInRequest) -> HttpResponse:
    """Trees of one tile as short rows, or counts when they are many. Only what this person may see."""
    zoom, column, row = (_number(request, name) for name in ("z", "x", "y"))
    if not COARSEST <= zoom <= ZOOM or not 0 <= column < SIDE >> (ZOOM - zoom) or not 0 <= row < SIDE >> (ZOOM - zoom):
        return not_understood(_("There is no such tile."))
    form = _form(request)
    if form.errors:
        return not_understood(_("The filter could not be read."))
    return answer(request, tile_answer(request.user, form.wanted, zoom=zoom, column=column, row=row))


@gzip_page
@require_GET
@member
def streets_json(request: SignedInRequest) -> HttpResponse:
    """The town's own lines: [name, kind, points]. They change only when a street file is brought in."""
    newest = StreetLine.objects.aggregate(count=Count("pk"), last=Max("pk"))
    lines = StreetLine.objects.order_by("pk").values_list("name", "kind", "points")
    return answer(request, lambda: {"lines": list(lines)}, mark=f"streets {newest['count']} {newest['last']}")


@require_POST
@member
def codes_json(request: SignedInRequest) -> HttpResponse:
    """Tags of trees chosen on the map: a list of numbers in, [number, tag] out."""
    try:
        ids = orjson.loads(request.body)
    except orjson.JSONDecodeError:
        ids = None
    if not isinstance(ids, list) or len(ids) > rows.MANY or not all(type(n) is int and 0 < n < 2**63 for n in ids):
        return not_understood(_("Choose at most %(many)d trees at once.") % {"many": rows.MANY})
    response = HttpResponse(
        orjson.dumps(rows.codes_of(rows.seen_by(request.user), ids)), content_type="application/json"
    )
    response["Cache-Control"] = "private, no-store"
    return response


@require_GET
@member
def find_places(request: SignedInRequest) -> HttpResponse:
    """Places that fit the words, as a list of ways to them on the map."""
    asked = request.GET.get("q", "").strip()
    return render(request, "desk/map/hits.html", {"asked": asked, "hits": find(rows.seen_by(request.user), asked)})


@require_GET
@member
def tree_card(request: SignedInRequest, code: str) -> HttpResponse:
    """The card of one tree, for beside the map."""
    return _shown_card(request, code=code.upper())


@require_GET
@member
def tree_card_by_number(request: SignedInRequest, number: int) -> HttpResponse:
    """The same for a mark pressed on the map, which knows the tree by number only."""
    return _shown_card(request, pk=number)


def _shown_card(request: SignedInRequest, **which: Any) -> HttpResponse:
    card = _card(request, **which)
    if card is None:
        raise Http404
    return render(request, "desk/map/card.html", {"card": card})


def _card(request: SignedInRequest, **which: Any) -> dict[str, Any] | None:
    found = rows.seen_by(request.user).select_related("species", "group").filter(**which).first()
    if found is None:
        return None
    reasons = [] if found.shown_state == Shown.TAPPED else _reasons(found, request.user)
    return {
        "tree": found,
        "reasons": reasons,
        "title": _title(found, len(reasons)),
        "asks_gate": found.shown_state != Shown.TAPPED,
    }


def _reasons(tree: Tree, person: Person) -> list[Reason]:
    return gate(tree, "assign", units=person.units, group=tree.group, names=names_for(person, tree))


def _title(tree: Tree, count: int) -> str:
    if tree.shown_state == Shown.TAPPED:
        return _("%(code)s carries a spout") % {"code": tree.code}
    if not count:
        return _("%(code)s can be given out for this season") % {"code": tree.code}
    return ngettext(
        "%(code)s can’t be given out yet: %(count)d thing", "%(code)s can’t be given out yet: %(count)d things", count
    ) % {"code": tree.code, "count": count}
