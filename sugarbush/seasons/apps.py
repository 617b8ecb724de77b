from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from django.apps import AppConfig

if TYPE_CHECKING:
    from django.http import HttpRequest


class SeasonsConfig(AppConfig):
    name = "sugarbush.seasons"
    label = "seasons"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from sugarbush.parts import context
        from sugarbush.seasons import access  # noqa: F401  # fills the table of who may do what
        from sugarbush.volunteers import cards, codes

        context.register("programme", lambda request: getattr(request, "programme", None))
        context.register("default_units", _default_units)
        cards.register_season_end(_season_end)
        codes.register_programme_name(_programme_name)


def _season_end() -> dt.date | None:
    from sugarbush.seasons.models import Season

    season = Season.current()
    return season.tapping_to if season else None


def _programme_name() -> str:
    from sugarbush.seasons.models import Programme

    programme = Programme.current()
    return programme.name if programme else ""


def _default_units(request: HttpRequest) -> str:
    programme = getattr(request, "programme", None)
    return str(programme.default_units) if programme else ""
