from __future__ import annotations

from typing import TYPE_CHECKING

from django.apps import AppConfig

if TYPE_CHECKING:
    from django.http import HttpRequest


class VolunteersConfig(AppConfig):
    name = "sugarbush.volunteers"
    label = "volunteers"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from sugarbush.parts import context
        from sugarbush.volunteers import devices, watching

        devices.listen()
        watching.listen()
        context.register("rules_to_read", _rules_to_read)


def _rules_to_read(request: HttpRequest) -> int:
    """The version of the house rules this reader is to be asked about; 0 for none."""
    from sugarbush.volunteers import waivers

    person = getattr(request, "user", None)
    if person is None or not person.is_authenticated:
        return 0
    return waivers.to_ask(person)
