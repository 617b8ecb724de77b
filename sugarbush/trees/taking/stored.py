"""Files on their way in: kept in the data folder under names nobody can guess, never served."""

from __future__ import annotations

import contextlib
import datetime as dt
import errno
import hashlib
import os
import uuid
from pathlib import Path
from typing import NamedTuple

from django.conf import settings
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.trees.files import ImportRun

MOST_BYTES = 500_000_000
GOOD_DAYS = 30
_PIECE_BYTES = 1 << 20
_FULL = {errno.ENOSPC, errno.EDQUOT}


class NotKept(Exception):  # noqa: N818  (named as it is said)
    """The file could not be kept; `sentence` says why and what to do."""

    def __init__(self, sentence: str) -> None:
        self.sentence = sentence
        super().__init__(sentence)


class Kept(NamedTuple):
    """A file that is kept: where, what it is told by, how large."""

    path: Path
    sha256: str
    size_bytes: int


def too_large() -> NotKept:
    """The sentence for a file beyond the limit."""
    return NotKept(
        _("This file is larger than %(most)d MB. Leave out columns nobody needs, or split it, then bring it again.")
        % {"most": MOST_BYTES // 1_000_000}
    )


def disk_full() -> NotKept:
    """The sentence for a machine without room."""
    return NotKept(_("The machine has no room left for this file. Make room on its disk, then bring the file again."))


class Keeper:
    """Writes one file as it comes in, piece by piece, and knows its sum at the end."""

    def __init__(self) -> None:
        folder = Path(settings.MEDIA_ROOT) / "imports"
        self._sum = hashlib.sha256()
        self.size_bytes = 0
        try:
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            self.path = folder / uuid.uuid4().hex
            self._file = os.fdopen(os.open(self.path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb")
        except OSError as why:
            raise _not_kept(why) from why

    def write(self, piece: bytes) -> None:
        """Raises NotKept when the file grows too large or the disk is full; nothing of it is left then."""
        self.size_bytes += len(piece)
        if self.size_bytes > MOST_BYTES:
            self.drop()
            raise too_large()
        self._sum.update(piece)
        try:
            self._file.write(piece)
        except OSError as why:
            self.drop()
            raise _not_kept(why) from why

    def finish(self) -> Kept:
        """The whole file is here."""
        try:
            self._file.close()
        except OSError as why:
            self.drop()
            raise _not_kept(why) from why
        return Kept(self.path, self._sum.hexdigest(), self.size_bytes)

    def drop(self) -> None:
        """Leave nothing behind."""
        with contextlib.suppress(OSError):  # what could not be written is being thrown away
            self._file.close()
        self.path.unlink(missing_ok=True)


def _not_kept(why: OSError) -> NotKept:
    if why.errno in _FULL:
        return disk_full()
    return NotKept(_("The file could not be kept on this machine. Look whether its data folder can be written to."))


def keep_copy(source: Path) -> Kept:
    """Keep a copy of a file of this machine, so that a reading cut off can go on even when it is moved.

    Raises NotKept, or OSError when the file cannot be opened.
    """
    with source.open("rb") as stream:
        keeper = Keeper()
        while piece := stream.read(_PIECE_BYTES):
            keeper.write(piece)
    return keeper.finish()


def let_go(path: str) -> None:
    """Remove a kept file that no run needs any more."""
    if not ImportRun.objects.filter(path=path).exists():
        Path(path).unlink(missing_ok=True)


def forget_old() -> None:
    """Remove kept files nobody has used for a month; what was taken in and the reports stay."""
    past = timezone.now() - dt.timedelta(days=GOOD_DAYS)
    at_rest = (ImportRun.State.UPLOADED, ImportRun.State.DONE, ImportRun.State.STOPPED)
    needed = set(
        (ImportRun.objects.exclude(state__in=at_rest) | ImportRun.objects.filter(added_at__gte=past)).values_list(
            "path", flat=True
        )
    )
    for path in ImportRun.objects.filter(state__in=at_rest, added_at__lt=past).values_list("path", flat=True):
        if path not in needed:
            Path(path).unlink(missing_ok=True)
