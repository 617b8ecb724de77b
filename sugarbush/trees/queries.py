"""Trees as one person may see them, and what was recorded at them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from django.db.models import F, Q, QuerySet
from django.http import Http404

from sugarbush.core.health import COMMON_PRACTICE, HealthReason
from sugarbush.seasons.models import Season
from sugarbush.trees.models import HealthCheck, Land, Shown, Species, SpeciesSure, Treatment, Tree, TreeObservation
from sugarbush.trees.records import TreatmentAnswer
from sugarbush.volunteers.access import scope
from sugarbush.volunteers.models import Person


def trees_for(person: Person) -> QuerySet[Tree]:
    """Every tree this person may see, without second entries of one tree."""
    return Tree.objects.standing_alone().filter(scope(person, "trees.see").filter("group"))


def may_see(person: Person, tree: Tree) -> bool:
    return scope(person, "trees.see").covers(tree.group_id)


def find_tree(person: Person, code: str) -> Tree:
    """The tree with this code, or the one it was merged into. Http404 for a code that is not there or not theirs."""
    tree = (
        Tree.objects.select_related("species", "inventory_species", "group", "merged_into")
        .filter(code=code.upper())
        .first()
    )
    if tree is not None and tree.merged_into is not None:
        tree = tree.merged_into
    if tree is None or not may_see(person, tree):
        raise Http404
    return tree


def in_conflict() -> Q:
    """Trees whose species nobody has settled: in dispute, or named otherwise by the town's list."""
    return Q(species_sure=SpeciesSure.DISPUTED) | (
        Q(species_sure=SpeciesSure.UNCONFIRMED, inventory_species__isnull=False, species__isnull=False)
        & ~Q(inventory_species=F("species"))
    )


def first_tap_um() -> int:
    """How wide a trunk has to be for one tap in the season people work in."""
    season = Season.current()
    return season.first_tap_um if season else int(Season._meta.get_field("first_tap_um").default)


def filtered(
    trees: QuerySet[Tree],
    *,
    q: str = "",
    states: Iterable[int] = (),
    group: int | None = None,
    no_group: bool = False,
    tappable: bool = False,
    big: bool = False,
    land: str = "",
    flag: str = "",
) -> QuerySet[Tree]:
    """The trees that fit. `q` looks in tag, address and the town's number; `flag` is "look" or "species"."""
    states = list(states)
    if q:
        trees = trees.filter(_words(q))
    if states:
        trees = trees.filter(shown_state__in=states)
    if group is not None:
        trees = trees.filter(group_id=group)
    elif no_group:
        trees = trees.filter(group=None)
    if tappable:
        # Some twenty numbers instead of a join: the list stays one walk along an index.
        trees = trees.filter(species_id__in=list(Species.objects.filter(tappable=True).values_list("pk", flat=True)))
    if big:
        trees = trees.filter(diameter_um__gte=first_tap_um())
    if land in Land.values:
        trees = trees.filter(land=land)
    if flag:
        # A tree somebody has looked at is in the programme's sights; the town's other trees need no reading here.
        trees = trees.filter(shown_state__gt=Shown.LISTED).filter(
            in_conflict() if flag == "species" else Q(needs_look=True) | in_conflict()
        )
    return trees


def _words(q: str) -> Q:
    q = " ".join(q.split())[:120]
    found = Q(address__icontains=q) | Q(inventory_number=q) | Q(code=q.upper())
    if "-" in q or q.isdigit():
        found |= Q(code__startswith=q.upper()) | Q(code__endswith=f"-{q.zfill(4)}")
    return found


# What was recorded --------------------------------------------------------------------


def looks_at(tree: Tree) -> list[TreeObservation]:
    """Every look at the tree, newest first."""
    return list(tree.observations.select_related("by", "species").order_by("-date", "-pk"))


def checks_of(tree: Tree) -> list[HealthCheck]:
    """Every health check of the tree, newest first."""
    return list(tree.checks.select_related("checker").order_by("-date", "-pk"))


def treatments_of(tree: Tree) -> list[Treatment]:
    """Every answer about insecticide, newest first."""
    return list(tree.treatments.select_related("recorded_by", "cleared_by").order_by("-date", "-pk"))


def uncleared(answers: Iterable[Treatment]) -> list[Treatment]:
    """Answers "yes" that no coordinator has cleared: each of them stops the tree."""
    return [one for one in answers if one.answer == TreatmentAnswer.YES and one.cleared_at is None]


def reasons_of(check: HealthCheck) -> list[HealthReason]:
    """The reasons kept with a check, as the core gave them; `.sentence(gettext)` says them."""
    return [
        HealthReason(
            code=kept["code"],
            verdict=kept["verdict"],
            text=kept["text"],
            standing=kept.get("standing", COMMON_PRACTICE),
            values=tuple(kept.get("values", {}).items()),
        )
        for kept in check.reasons
    ]


def check_stands_until(check: HealthCheck) -> dt.date | None:
    """The last day a check counts by the season's rules; None where no season is open."""
    season = Season.current()
    return check.counts_until(season.check_good_days) if season else None


IN_THE_PROGRAMME = tuple(state for state in Shown if state not in {Shown.LISTED, Shown.NOT, Shown.FELLED})


def kinds_worked_with() -> list[tuple[str, str]]:
    """Botanical and common name of each kind the programme has a tree of, to be tapped one day. One query."""
    seen = Tree.objects.standing_alone().filter(shown_state__in=IN_THE_PROGRAMME, species__isnull=False)
    kinds = Species.objects.filter(tappable=True, pk__in=seen.values("species"))
    return list(kinds.values_list("botanical", "common"))
