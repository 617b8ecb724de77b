"""What an archive says of itself: its manifest, and the named steps by which an older one is read."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from django.db import DEFAULT_DB_ALIAS, connections
from django.db.migrations.recorder import MigrationRecorder
from django.db.models import Count, Sum
from django.utils.translation import gettext as _

FORMAT = "sugarbush archive"
VERSION = 1
MANIFEST, README, TABLES, UPLOADS = "manifest.json", "README.txt", "tables/", "uploads/"


class CannotRestore(Exception):  # noqa: N818  (named as it is said)
    """The archive is not taken in; `sentence` says why and what to do. Nothing of it is left then."""

    def __init__(self, sentence: str) -> None:
        self.sentence = sentence
        super().__init__(sentence)


@dataclass(frozen=True)
class Upgrade:
    """How an archive of one format version becomes one of the next.

    manifest: changes what the manifest says.  row: changes one row; it is given the table's name and the row.
    """

    name: str
    manifest: Callable[[dict[str, Any]], dict[str, Any]] = lambda said: said
    row: Callable[[str, dict[str, Any]], dict[str, Any]] = lambda _table, row: row


UPGRADES: dict[int, Upgrade] = {}
"""By the version they begin with: {1: Upgrade("from 1 to 2: ...")} once there is a version 2."""


def upgrades_from(version: int) -> list[Upgrade]:
    """The steps from this version to ours. Raises CannotRestore where the archive is newer, or a step is missing."""
    if version > VERSION:
        raise CannotRestore(
            _(
                "This archive has format version %(its)d, and this program reads up to version %(ours)d. Update the "
                "program first, then restore again."
            )
            % {"its": version, "ours": VERSION}
        )
    missing = [number for number in range(version, VERSION) if number not in UPGRADES]
    if missing or version < 1:
        raise CannotRestore(_("No step is known from format version %(its)d on.") % {"its": version})
    return [UPGRADES[number] for number in range(version, VERSION)]


@dataclass
class Ledger:
    """The sums of the ledger, by season and cause: "2026/out_of_tree" in millilitres."""

    acts: int = 0
    movements: int = 0
    volume_ml: int = 0
    by_cause_ml: dict[str, int] = field(default_factory=dict)

    @classmethod
    def now(cls) -> Ledger:
        from sugarbush.sap.models import Act, Movement

        sums = Movement.objects.order_by("season__year", "cause").values_list("season__year", "cause")
        found = cls(acts=Act.objects.count())
        for year, cause, moves, ml in sums.annotate(Count("pk"), Sum("volume_ml")):
            found.movements += moves
            found.volume_ml += ml
            found.by_cause_ml[f"{year}/{cause}"] = ml
        return found

    def as_json(self) -> dict[str, Any]:
        return dict(vars(self))


def migrations_now() -> dict[str, list[str]]:
    """The migrations this database has run, by app: what shape its tables have. Only our own apps."""
    from django.apps import apps

    own = {config.label for config in apps.get_app_configs() if config.name.startswith("sugarbush.")}
    found: dict[str, list[str]] = {}
    for app, name in sorted(MigrationRecorder(connections[DEFAULT_DB_ALIAS]).applied_migrations()):
        if app in own:
            found.setdefault(app, []).append(name)
    return found


def moment(at: dt.datetime) -> str:
    return at.astimezone(dt.UTC).replace(tzinfo=None).isoformat(timespec="seconds") + "Z"
