"""The way from an empty programme to the first tap, ticked off as it is walked."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext as _

from sugarbush.kit.models import Depot
from sugarbush.owners.models import Permission
from sugarbush.sap.models import Vessel, VesselKind
from sugarbush.seasons.models import Season, SeasonState
from sugarbush.taps.models import Assignment, Tap
from sugarbush.trees.models import HealthCheck, Shown, StreetLine, Tree
from sugarbush.volunteers.models import Group, Person


@dataclass(frozen=True, kw_only=True)
class Step:
    """One thing to do before the sap runs."""

    words: str
    why: str
    url: str
    done: bool


def steps(season: Season | None) -> list[Step]:
    """The steps in order; each asks whether one row exists."""
    year = season.year if season else 0
    past_open = season is not None and season.state != SeasonState.DRAFT
    tapping = past_open and season is not None and season.state != SeasonState.OPEN
    return [
        Step(
            words=_("Bring in the town’s streets"),
            why=_("The map draws them; a GeoJSON file of lines will do."),
            url=reverse("streets-new"),
            done=StreetLine.objects.exists(),
        ),
        Step(
            words=_("Bring in the town’s trees, or add the first one"),
            why=_("A CSV or GeoJSON file, with a look before anything is taken."),
            url=reverse("file-new"),
            done=Tree.objects.exists(),
        ),
        Step(
            words=_("Make a group"),
            why=_("A neighbourhood that walks its own round."),
            url=reverse("group-new"),
            done=Group.objects.exists(),
        ),
        Step(
            words=_("Add a second person"),
            why=_("Species, corrections and entries to review need a second look."),
            url=reverse("person-new"),
            done=Person.objects.filter(is_active=True).count() > 1,
        ),
        Step(
            words=_("Open the season"),
            why=_("That freezes its rules."),
            url=reverse("season", args=[year]) if season else reverse("season-new"),
            done=past_open,
        ),
        Step(
            words=_("Choose trees on the map and put them in a group"),
            why=_("They are then in the programme’s sights."),
            url=reverse("map"),
            done=Tree.objects.filter(group__isnull=False).exists(),
        ),
        Step(
            words=_("Ask for permission"),
            why=_("A public tree needs the public body’s permit; a private one its owner’s yes."),
            url=reverse("permission-new"),
            done=Permission.objects.exists(),
        ),
        Step(
            words=_("Check the trees’ health"),
            why=_("Crown, trunk, roots, and whether it was treated."),
            url=f"{reverse('trees')}?state={Shown.ALLOWED.value}",
            done=HealthCheck.objects.exists(),
        ),
        Step(
            words=_("Give trees to a group"),
            why=_("The gate says what is missing, tree by tree."),
            url=reverse("map"),
            done=Assignment.objects.exists(),
        ),
        Step(
            words=_("Start tapping"),
            why=_("From then on taps may be placed."),
            url=reverse("season", args=[year]) if season else reverse("season-new"),
            done=tapping,
        ),
        Step(
            words=_("Place the first tap"),
            why=_("Only on a tree whose gate is open."),
            url=f"{reverse('trees')}?state={Shown.READY.value}",
            done=Tap.objects.exists(),
        ),
        Step(
            words=_("Set up a depot and a tank"),
            why=_("Where the sap is brought and kept cold."),
            url=reverse("tanks") if Depot.objects.exists() else reverse("depots"),
            done=Vessel.objects.filter(kind=VesselKind.TANK).exists(),
        ),
    ]
