"""A ZIP file that is sent while it is written: what both kinds of spreadsheet are packed in."""

from __future__ import annotations

import struct
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from typing import IO, cast

PIECE = 64 * 1024
"""Bytes gathered before they are sent on."""
QUICK = 4
"""How hard zlib works: half the time of its usual 6, for a file a few hundredths larger."""


class Outbox:
    """A file that only takes: what was written waits until it is taken and sent."""

    def __init__(self) -> None:
        self._waiting = bytearray()
        self._sent = 0

    def write(self, data: bytes) -> int:
        self._waiting += data
        return len(data)

    def tell(self) -> int:
        return self._sent + len(self._waiting)

    def flush(self) -> None:
        """Nothing lies behind it."""

    def take(self, at_least: int = 0) -> bytes:
        """What waits, once it is so much; else nothing."""
        if len(self._waiting) < at_least:
            return b""
        data = bytes(self._waiting)
        self._waiting.clear()
        self._sent += len(data)
        return data


def zipped(parts: Iterable[tuple[str, Iterable[str]]], *, kind: str = "") -> Iterator[bytes]:
    """The bytes of a ZIP file. parts: name and text of each file in it, the text in pieces, read as they are sent.

    kind: a media type to stand uncompressed at the very front, as OpenDocument asks (ODF 1.3, part 2, 3.3). It is
    written by hand, with its length ahead of it, because a reader looks for it there without reading the ZIP's index.
    """
    outbox = Outbox()
    first = _at_the_front(outbox, kind) if kind else None
    # It is written to, asked where it stands, and flushed; nothing else is asked of a file that cannot go back.
    with zipfile.ZipFile(cast(IO[bytes], outbox), "w", zipfile.ZIP_DEFLATED, compresslevel=QUICK) as archive:
        if first is not None:
            archive.filelist.append(first)
        for name, pieces in parts:
            info = zipfile.ZipInfo(name)
            info.compress_type = zipfile.ZIP_DEFLATED
            info._compresslevel = QUICK  # type: ignore[attr-defined]
            with archive.open(info, "w") as part:
                for piece in pieces:
                    part.write(piece.encode("utf-8", "replace"))
                    if data := outbox.take(PIECE):
                        yield data
    yield outbox.take()


def _at_the_front(outbox: Outbox, kind: str) -> zipfile.ZipInfo:
    text, name = kind.encode("ascii"), b"mimetype"
    info = zipfile.ZipInfo(name.decode())
    info.CRC, info.file_size, info.compress_size, info.header_offset = zlib.crc32(text), len(text), len(text), 0
    sizes = (info.CRC, len(text), len(text), len(name), 0)
    # PKZIP's own note, 4.3.7: version 2.0, no flags, stored, the first day a ZIP can name.
    outbox.write(struct.pack("<4s5H3L2H", b"PK\x03\x04", 20, 0, 0, 0, 0x21, *sizes) + name + text)
    return info
