"""The ways at the head of each page: only those that are there and open to this person."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest
from django.urls import NoReverseMatch, get_script_prefix, reverse
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from sugarbush.volunteers import access


@dataclass(frozen=True)
class Way:
    """names: pages by name, the first that exists is taken. act: what the person has to hold; empty is any role.

    under: the beginnings of the addresses that belong here, besides the page's own.
    """

    label: Promise
    names: tuple[str, ...]
    act: str = ""
    under: tuple[str, ...] = ()


WAYS = (
    Way(_("Today"), ("today",)),
    Way(_("Map"), ("map",), "trees.see"),
    Way(_("Trees"), ("trees",), "trees.see", ("/files/", "/taps/")),
    Way(_("Permissions"), ("permissions",), "permission.see", ("/owners/",)),
    Way(_("Log"), ("round",), "collection.log", ("/log/", "/look-at/")),
    Way(_("Rounds"), ("board",), "round.board"),
    Way(_("Sap"), ("tanks", "deliveries"), "delivery.see", ("/deliveries/", "/tanks/")),
    Way(_("Boil days"), ("boil-days",), "delivery.see", ("/batches/",)),
    Way(_("Syrup"), ("lots",), "lot.see", ("/recalls/", "/trace/")),
    Way(_("Shares"), ("shares",), "share.own", ("/my-share/", "/hand-out/")),
    Way(_("Season"), ("season-review", "seasons"), "season.totals", ("/seasons/",)),
    Way(_("People"), ("people",), "people.see", ("/groups/", "/cards/", "/messages/")),
    Way(_("Paper"), ("paper",), "round.board"),
    Way(_("Programme"), ("programme",), "programme.change", ("/containers/", "/depots/", "/weather/")),
)


def nav(request: HttpRequest) -> list[tuple[str, str, bool]]:
    """(address, words, whether the reader is there now) of each way open to the person; none before the programme."""
    person = getattr(request, "user", None)
    if person is None or not person.is_authenticated or getattr(request, "programme", None) is None:
        return []
    known = {entry.act for entry in access.table()}
    ways = []
    for way in WAYS:
        if way.act in known and not access.holds(person, way.act):
            continue
        url = _first(way.names)
        if url:
            ways.append((url, str(way.label), _is_here(request.path_info, url, way)))
    return ways


def _first(names: tuple[str, ...]) -> str:
    for name in names:
        try:
            return reverse(name)
        except NoReverseMatch:
            continue
    return ""


def _is_here(path: str, url: str, way: Way) -> bool:
    """path: without the path all pages lie under.  url: with it."""
    url = f"/{url.removeprefix(get_script_prefix())}"
    return path == url if url == "/" else path.startswith((url, *way.under))
