"""The whole programme into one file."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from sugarbush.archive.jobs import make
from sugarbush.archive.manifest import CannotRestore
from sugarbush.archive.tables import LEFT_OUT


class Command(BaseCommand):
    help = "Write the whole programme, with photos and scans, into one archive. The server may go on meanwhile."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", metavar="FILE", help="where to; it must not be there yet")

    def handle(self, *, file: str, **options: Any) -> None:
        path = Path(file)
        try:
            manifest, sha256 = make(path)
        except FileExistsError:
            raise CommandError(f"{path} is there already. Give another name.") from None
        except OSError as why:
            raise CommandError(f"{path} could not be written: {why.strerror}.") from None
        except CannotRestore as why:
            raise CommandError(why.sentence) from None
        tables = manifest["tables"]
        self.stdout.write(
            f"{path}: {path.stat().st_size / 1e6:.1f} MB, {sum(table['rows'] for table in tables)} rows of "
            f"{len(tables)} tables, {len(manifest['uploads'])} photos and scans, "
            f"{manifest['ledger']['volume_ml']} mL in {manifest['ledger']['movements']} movements."
        )
        for name in manifest["uploads_missing"]:
            self.stdout.write(f"  not there any more, so not in it: {name}")
        self.stdout.write(f"SHA-256 {sha256}")
        self.stdout.write("Left out: " + "; ".join(str(why) for why in LEFT_OUT.values()) + ".")
        self.stdout.write("It holds names, addresses and telephone numbers. Keep it where only few can read it.")
