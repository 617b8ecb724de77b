"""Who may keep the list of pails, drums and depots."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from sugarbush.volunteers.access import COORDINATOR, EVERYONE, Entry, register
from sugarbush.volunteers.models import Role

register(
    Entry(act="kit.see", label=_("see pails, drums and depots"), reach=EVERYONE),
    Entry(
        act="kit.change",
        label=_("keep the list of pails and drums"),
        reach={Role.COORDINATOR: "all", Role.LEAD: "own", Role.DEPOT_KEEPER: "own"},
    ),
    Entry(act="depot.change", label=_("add and change depots"), reach=COORDINATOR),
)
