"""Who may open, change and end what belongs to the whole programme."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from sugarbush.volunteers.access import COORDINATOR, EVERYONE, Entry, register

register(
    Entry(act="programme.change", label=_("open the programme, change its name, zone and rules"), reach=COORDINATOR),
    Entry(act="season.change", label=_("prepare a season, change its rules"), reach=COORDINATOR),
    Entry(act="season.step", label=_("open, run, close and reopen a season"), reach=COORDINATOR),
    Entry(act="season.totals", label=_("read a season’s rules and totals"), reach=EVERYONE),
)
