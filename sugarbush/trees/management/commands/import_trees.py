"""Takes a town's tree file in, here and now: the same reading as on the page."""

from __future__ import annotations

from argparse import ArgumentParser
from dataclasses import fields
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from sugarbush.parts.reasons import Refused
from sugarbush.parts.shown import in_words
from sugarbush.seasons.models import Programme
from sugarbush.trees.files import ImportRun
from sugarbush.trees.reading.files import open_table
from sugarbush.trees.reading.mapping import CHOICES, Mapping
from sugarbush.trees.reading.place import Box
from sugarbush.trees.taking import acts, commands, preview
from sugarbush.trees.taking.words import reason_words, remark_words
from sugarbush.trees.taking.work import mapping_of

FIELDS = [one.name for one in fields(Mapping) if one.name != "unsure"]


class Command(BaseCommand):
    help = "Take a town’s tree file (CSV or GeoJSON) into the list. The same file again adds nothing."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", help="the CSV or GeoJSON file")
        parser.add_argument("--list", default="", metavar="NAME", help="name of the list; numbers count within it")
        parser.add_argument(
            "--set",
            action="append",
            default=[],
            metavar="FIELD=COLUMN",
            help=f"which column says what; an empty column means none. Fields: {', '.join(FIELDS)}",
        )
        parser.add_argument("--unit", choices=CHOICES["size_unit"], help="unit of sizes without one")
        parser.add_argument("--girth", action="store_true", help="sizes are girths, not diameters")
        parser.add_argument("--preview", action="store_true", help="only say what would be taken")
        parser.add_argument("--problems", default="", metavar="FILE", help="write the rows to look at as CSV")

    def handle(self, **options: Any) -> None:
        say = self._say
        run = commands.bring(options["file"], kind=ImportRun.Kind.TREES)
        try:
            mapping = self._mapping(run, options)
            box = self._box(run, mapping)
            source = " ".join(options["list"].split())[:60] or run.source
            run = acts.choose(run=run, mapping=mapping, box=box, source=source)
            for notice in run.report["notices"]:
                say(notice)
            say(f"List: {run.source}")
            self._tell_columns(mapping)
            if options["preview"]:
                self._preview(run)
        except (CommandError, Refused):
            commands.forget(run)
            raise
        if options["preview"]:
            commands.forget(run)
            return
        try:
            run = commands.read(run, say)
        except Refused as why:
            commands.forget(run)
            raise CommandError(" ".join(str(reason) for reason in why.reasons)) from None
        if options["problems"]:
            programme = Programme.current()
            commands.write_problems(
                run.pk, options["problems"], units=programme.default_units if programme else "metric"
            )
            say(f"Rows to look at: {options['problems']}")
        commands.tell(run, say)

    def _say(self, line: str) -> None:
        self.stdout.write(line)
        self.stdout.flush()

    def _mapping(self, run: ImportRun, options: dict[str, Any]) -> Mapping:
        changes: dict[str, str] = {}
        for pair in options["set"]:
            name, sign, column = pair.partition("=")
            if not sign or name not in FIELDS:
                raise CommandError(f"--set {pair}: write FIELD=COLUMN, with one of {', '.join(FIELDS)}.")
            changes[name] = column
        if options["unit"]:
            changes["size_unit"] = options["unit"]
        if options["girth"]:
            changes["size_kind"] = "girth"
        try:
            mapping = mapping_of(run).with_changes(**changes)
        except ValueError as why:
            raise CommandError(f"--set: {why}.") from None
        columns = open_table(run.path).columns
        if problems := mapping.problems(columns):
            raise CommandError(f"{problems[0]} Use --set. The columns are: {', '.join(columns)}.")
        return mapping

    def _box(self, run: ImportRun, mapping: Mapping) -> Box | None:
        programme = Programme.current()
        if programme is not None and programme.box is not None:
            return Box(*programme.box)
        run.mapping = {one.name: getattr(mapping, one.name) for one in fields(mapping)}
        corners = preview.drawn_box(run)
        return Box(*corners) if corners else None

    def _tell_columns(self, mapping: Mapping) -> None:
        for name in FIELDS:
            if value := getattr(mapping, name):
                look = "   (please look: guessed)" if name in mapping.unsure else ""
                self._say(f"  {name}: {value}{look}")

    def _preview(self, run: ImportRun) -> None:
        found = preview.preview_of(run)
        for row in found.shown:
            size = in_words("diameter", row.diameter_um, "metric") if row.diameter_um else "not measured"
            told = row.refused or ", ".join((row.species, row.as_given or size, row.place))
            self._say(f"row {row.row}, number {row.number or 'none'}: {told}")
        whole = "the whole file" if found.whole else f"the first {found.read} rows"
        self._say(f"Of {whole}: {found.new} new, {found.listed} listed here before, {found.refused} not taken.")
        for code, count in sorted(found.reasons.items()):
            self._say(f"  not taken, {reason_words(code)}: {count}")
        for code, count in sorted(found.remarks.items()):
            self._say(f"  {remark_words(code)}: {count}")
        if found.problems:
            raise CommandError(found.problems[0])
        self._say("Nothing was taken in: this was a preview.")
