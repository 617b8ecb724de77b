"""Who may write the weather down."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from sugarbush.volunteers.access import EVERYONE, Entry, register
from sugarbush.volunteers.models import Role

register(
    Entry(act="weather.see", label=_("see the weather"), reach=EVERYONE),
    Entry(
        act="weather.change",
        label=_("write the weather down"),
        reach={Role.COORDINATOR: "all", Role.LEAD: "own", Role.DEPOT_KEEPER: "own", Role.BOIL_LEAD: "own"},
    ),
)
