"""Django's `flush`, on a database whose triggers refuse to be emptied."""

from __future__ import annotations

from typing import Any

from django.core.management.commands import flush

from sugarbush.sap import append_only


class Command(flush.Command):
    def handle(self, **options: Any) -> None:
        with append_only.lifted(options["database"]):
            super().handle(**options)
