"""Work out anew what trees show on the map and in lists."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from sugarbush.taps.tasks import refresh_states


class Command(BaseCommand):
    help = "Work out anew what trees show: those whose day has passed, or all in the programme's sights."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--all", action="store_true", dest="everything", help="all trees in the programme's sights")

    def handle(self, *, everything: bool = False, **options: Any) -> None:
        count = refresh_states(everything=everything)
        self.stdout.write(f"{count} tree{'' if count == 1 else 's'} looked at.")
