"""Takes a town's street lines in, here and now: the same reading as on the page."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from sugarbush.parts.reasons import Refused
from sugarbush.trees.files import ImportRun
from sugarbush.trees.taking import commands


class Command(BaseCommand):
    help = "Take a town’s street lines (GeoJSON) into the base map. The same file again adds nothing."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", help="the GeoJSON file")

    def handle(self, **options: Any) -> None:
        run = commands.bring(options["file"], kind=ImportRun.Kind.STREETS)
        try:
            run = commands.read(run, self._say)
        except Refused as why:
            commands.forget(run)
            raise CommandError(" ".join(str(reason) for reason in why.reasons)) from None
        commands.tell(run, self._say)

    def _say(self, line: str) -> None:
        self.stdout.write(line)
        self.stdout.flush()
