"""Who may take deliveries, keep tanks and boil."""

from django.utils.translation import gettext_lazy as _

from sugarbush.volunteers.access import COORDINATOR, EVERYONE, Entry, Reach, register
from sugarbush.volunteers.models import CredentialKind, Role

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
