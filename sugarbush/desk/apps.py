from __future__ import annotations

from typing import TYPE_CHECKING

from django.apps import AppConfig

if TYPE_CHECKING:
    from django.http import HttpRequest


class DeskConfig(AppConfig):
    name = "sugarbush.desk"
    label = "desk"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from sugarbush.desk import seasonal
        from sugarbush.desk.nav import nav
        from sugarbush.desk.public import access  # noqa: F401  # fills the table of who may do what
        from sugarbush.parts import context
        from sugarbush.seasons import changed

        context.register("nav", nav)
        context.register("public_page", _public_page)
        changed.register_kinds(seasonal.kinds)
        changed.register(seasonal.look_again)
        from sugarbush.desk.map.holds import given_elsewhere
        from sugarbush.trees.group_actions import register_hold

        register_hold(given_elsewhere)


def _public_page(request: HttpRequest) -> bool:
    """Whether anybody may open the public page. Asked for only where a page uses it."""
    from sugarbush.desk.public.choosing import chosen

    return chosen().is_on
