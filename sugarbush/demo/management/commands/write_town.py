"""Writes the invented town's files to a folder, as a town would hand them out."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from sugarbush.demo import town
from sugarbush.demo.replay.files import FEATURES_FILE, STREETS_FILE, TREES_FILE


class Command(BaseCommand):
    help = "Write the invented town’s tree list (CSV and GeoJSON) and street lines to a folder, to try them with."
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", help="where to; made if it is not there")
        parser.add_argument(
            "--seed", type=int, default=town.SEED, metavar="N", help="another number makes other trees (%(default)s)"
        )

    def handle(self, *, folder: str, seed: int = town.SEED, **options: Any) -> None:
        place = Path(folder)
        try:
            place.mkdir(parents=True, exist_ok=True)
            counts = {
                STREETS_FILE: f"{town.write_streets_geojson(place / STREETS_FILE)} street lines",
                TREES_FILE: f"{town.write_inventory_csv(place / TREES_FILE, seed=seed)} rows of trees",
                FEATURES_FILE: f"{town.write_inventory_geojson(place / FEATURES_FILE, seed=seed)} trees, the same list",
            }
        except OSError as why:
            named = why.filename or place
            raise CommandError(f"{named} could not be written: {why.strerror}. Give another folder.") from None
        for name, words in counts.items():
            self.stdout.write(f"{place / name}: {words}")
