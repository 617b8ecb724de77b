"""An empty install filled from an archive."""

from __future__ import annotations

import hashlib
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from sugarbush.archive.loading import restore
from sugarbush.archive.manifest import CannotRestore
from sugarbush.archive.reading import Archive
from sugarbush.archive.tables import LEFT_OUT


class Command(BaseCommand):
    help = "Fill an empty install from an archive, and prove that it holds the same. Stop the server before."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", metavar="FILE")
        parser.add_argument("--sha256", metavar="SUM", default="", help="the sum that was told when it was made")

    def handle(self, *, file: str, sha256: str = "", **options: Any) -> None:
        executor = MigrationExecutor(connection)
        if executor.migration_plan(executor.loader.graph.leaf_nodes()):
            raise CommandError("The database has no tables yet, or old ones. Run manage.py migrate first.")
        path = Path(file)
        self._as_told(path, sha256)
        try:
            with Archive(path) as archive:
                done = restore(archive, say=self.stdout.write)
        except CannotRestore as why:
            raise CommandError(why.sentence) from None
        except OSError as why:
            raise CommandError(f"{why.filename or path}: {why.strerror}. Nothing was taken in.") from None
        said = archive.manifest
        self.stdout.write(
            f"“{said['programme']}” as of {said['made_at']}: {done.rows} rows of {done.tables} tables, {done.uploads} "
            f"photos and scans, {done.ledger.volume_ml} mL in {done.ledger.movements} movements. Rows, sums and hashes "
            "are those of the archive."
        )
        if done.filled_in:
            self.stdout.write("Columns that came later begin empty: " + ", ".join(done.filled_in) + ".")
        for name in said["uploads_missing"]:
            self.stdout.write(f"  was missing already when the archive was made: {name}")
        self._what_now()
        call_command("check_ledger", stdout=self.stdout)

    def _as_told(self, path: Path, sha256: str) -> None:
        if not sha256:
            return
        try:
            with path.open("rb") as held:
                found = hashlib.file_digest(held, "sha256").hexdigest()
        except OSError as why:
            raise CommandError(f"{path}: {why.strerror}.") from None
        if found != sha256.strip().lower():
            raise CommandError(f"{path} has the SHA-256 {found}, not the one you gave. Nothing was taken in.")

    def _what_now(self) -> None:
        self.stdout.write("Not in an archive: " + "; ".join(str(why) for why in LEFT_OUT.values()) + ".")
        self.stdout.write(
            "Cards to join by and calendar addresses depend on the signing key of the install they were made in: take "
            "that key along (SUGARBUSH_SECRET_KEY, or the file in the data folder), or make new ones. Passkeys open "
            "only under the host name they were made for. Owners’ links stay good where the address stays the same."
        )
        self.stdout.write("Come in with: manage.py sign_in_link")
