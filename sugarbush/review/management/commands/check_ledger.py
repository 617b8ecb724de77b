"""Count the sap ledger again and name what does not add up."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.review import recount
from sugarbush.sap.models import Movement
from sugarbush.seasons.models import Season


class Command(BaseCommand):
    help = "Count the sap of every season again and name what does not add up. Ends with 1 where something does not."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--season", type=int, metavar="YEAR", help="only this season")

    def handle(self, *args: Any, **options: Any) -> None:
        seasons = Season.objects.order_by("year")
        if options["season"] is not None:
            seasons = seasons.filter(year=options["season"])
            if not seasons:
                raise CommandError(_("There is no season %(year)d.") % {"year": options["season"]})
        wrong = 0
        for season in seasons:
            found = 0
            for finding in recount.findings(season):
                found += 1
                self.stdout.write(finding.sentence)
            if not found:
                moves = Movement.objects.filter(season=season).count()
                words = ngettext(
                    "Season %(year)d adds up to the millilitre: %(n)d movement.",
                    "Season %(year)d adds up to the millilitre: %(n)d movements.",
                    moves,
                )
                self.stdout.write(words % {"year": season.year, "n": moves})
            wrong += found
        if wrong:
            raise CommandError(
                ngettext("%(n)d thing does not add up.", "%(n)d things do not add up.", wrong) % {"n": wrong}
            )
