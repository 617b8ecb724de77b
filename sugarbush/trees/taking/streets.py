"""Street lines on their way into the base map."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path

from sugarbush.trees.files import ImportRun, StreetLine
from sugarbush.trees.reading.streets import StreetFile, StreetRefused, StreetRow
from sugarbush.trees.taking.rows import insert_problems, pieces
from sugarbush.trees.taking.work import Tally, box_of


def digest_of(row: StreetRow) -> str:
    """What a line is told by: its name and its places."""
    return hashlib.sha256(json.dumps([row.name, row.points], ensure_ascii=True).encode()).hexdigest()


class StreetWork:
    """A town's street file. Raises CannotRead."""

    def __init__(self, run: ImportRun) -> None:
        self._file = StreetFile(Path(run.path))
        self._box = box_of(run)
        self.look_up = True

    @property
    def read_bytes(self) -> int:
        return self._file.read_bytes

    def items(self) -> Iterator[StreetRow | StreetRefused]:
        return self._file.rows(box=self._box)

    def keep(self, run: ImportRun, items: Sequence[StreetRow | StreetRefused]) -> Tally:
        refused = [found for found in items if type(found) is StreetRefused]
        # A line that stands twice in the file is one line of the map.
        lines = {digest_of(found): found for found in items if type(found) is StreetRow}
        here: set[str] = set()
        for part in pieces(lines):
            here.update(StreetLine.objects.filter(digest__in=part).values_list("digest", flat=True))
        new = [_line(row, digest) for digest, row in lines.items() if digest not in here]
        StreetLine.objects.bulk_create(new, batch_size=500, ignore_conflicts=True)
        insert_problems(run.pk, ((found.row, 0, "", found.reason_code, found.values) for found in refused))
        return Tally(
            taken=len(new),
            same=len(items) - len(refused) - len(new),
            refused=len(refused),
            reasons=Counter(found.reason_code for found in refused),
        )

    def finish(self, run: ImportRun) -> None:
        """Lines the file no longer has stay: a town hands its streets out in several files."""


def _line(row: StreetRow, digest: str) -> StreetLine:
    easts, norths = [east for east, _ in row.points], [north for _, north in row.points]
    return StreetLine(
        name=row.name,
        kind=row.kind or "street",
        points=row.points,
        west=min(easts),
        south=min(norths),
        east=max(easts),
        north=max(norths),
        digest=digest,
    )
