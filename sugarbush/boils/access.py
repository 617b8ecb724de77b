"""Who may take deliveries, keep tanks and boil."""

from __future__ import annotations

from collections.abc import Callable

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sugarbush.sap.models import Vessel, VesselKind
from sugarbush.volunteers.access import COORDINATOR, EVERYONE, Entry, Reach, register, scope
from sugarbush.volunteers.models import CredentialKind, Person, Role

DEPOT: dict[str, Reach] = {Role.COORDINATOR: "all", Role.DEPOT_KEEPER: "all", Role.BOIL_LEAD: "all"}
PAN: dict[str, Reach] = {Role.COORDINATOR: "all", Role.BOIL_LEAD: "all"}

register(
    Entry(act="delivery.see", label=_("see deliveries and tanks"), reach=EVERYONE),
    Entry(act="delivery.accept", label=_("accept a delivery, keep the tanks"), reach=DEPOT),
    Entry(
        act="correction.approve",
        label=_("approve a large correction"),
        reach=COORDINATOR,
        note=_("Never the person who explained it."),
    ),
    Entry(act="boil.plan", label=_("call a boiling day, keep a batch"), reach=PAN),
    Entry(
        act="pan.watch",
        label=_("look after the pan, log its readings"),
        reach=EVERYONE,
        note=_("On a day whose shifts they stand on."),
    ),
    Entry(act="boil.light", label=_("light the fire"), reach=PAN, credential=CredentialKind.FIRE, adult=True),
)


def sees_all_deliveries(person: Person) -> bool:
    """Whether somebody sees what everybody brought: depot people, coordinators, reviewers. Others see their own."""
    return scope(person, "delivery.accept").everything or scope(person, "delivery.see").everything


def vessel_words(person: Person) -> Callable[[Vessel | None], str]:
    """How this person reads the ends of a movement: hands have no name where what they brought is not seen."""
    all_seen = sees_all_deliveries(person)

    def words(vessel: Vessel | None) -> str:
        if vessel is None:
            return ""
        if vessel.kind == VesselKind.HANDS and not all_seen and vessel.person_id != person.pk:
            return gettext("hands of somebody else")
        return str(vessel)

    return words
