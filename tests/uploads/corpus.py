"""Files that nobody should send: each in its first bytes, its name or its size something else than it says."""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from collections.abc import Iterator

from PIL import Image

SCRIPT = b"<script>document.title='mine'</script>"
MARKS = (b"<script", b"<?php", b"onload=", b"/bin/sh", b"javascript:", b"<!ENTITY")


def photo(kind: str = "JPEG") -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (40, 30), "green").save(out, kind)
    return out.getvalue()


def pdf(inside: bytes = b"") -> bytes:
    return b"%PDF-1.4\n1 0 obj\n<<>>\nendobj\n" + inside + b"\ntrailer\n<<>>\n%%EOF\n"


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png_of_claimed_size(wide: int, high: int) -> bytes:
    """A PNG of a few bytes whose header claims any size (PNG specification, section 11.2.2)."""
    head = _chunk(b"IHDR", struct.pack(">IIBBBBB", wide, high, 8, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + _chunk(b"IDAT", zlib.compress(b"\0" * 1000)) + _chunk(b"IEND", b"")


def png_with_words(words: bytes) -> bytes:
    """A sound picture that carries a text chunk (PNG specification, section 11.3.4.3) with words of somebody's."""
    whole = photo("PNG")
    return whole[:33] + _chunk(b"tEXt", b"Comment\0" + words) + whole[33:]


def zip_of(*members: tuple[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as file:
        for name, content in members:
            file.writestr(name, content)
    return out.getvalue()


def bombs() -> Iterator[tuple[str, bytes]]:
    yield "wide.png", png_of_claimed_size(60_000, 60_000)
    yield "tall.jpg", photo().replace(b"\x00\x1e\x00\x28", b"\xff\xff\xff\xff", 1)
    yield "zeros.zip", zip_of(("trees.csv", b"\0" * 20_000_000))
    yield "sheet.xlsx", zip_of(("xl/worksheets/sheet1.xml", b"<row/>" * 2_000_000))


def polyglots() -> Iterator[tuple[str, bytes]]:
    """Two kinds of file in one."""
    yield "photo.html", photo() + SCRIPT
    yield "leaf.php", photo() + b"<?php system($_GET['c']); ?>"
    yield "leaf.jpg", b"\xff\xd8\xff\xe0" + SCRIPT
    yield "leaf.png", png_with_words(SCRIPT)
    yield "gif.jpg", b"GIF89a/*" + b"\0" * 20 + b"*/=1;alert(1)" + SCRIPT
    yield "slip.pdf", photo() + pdf()
    yield "both.zip", photo() + zip_of(("a.html", SCRIPT))


def pretenders() -> Iterator[tuple[str, bytes]]:
    """What a browser or a shell would run, whatever its name."""
    yield "leaf.svg", b'<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"><script>alert(1)</script></svg>'
    yield "leaf.jpg", b'<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"/>'
    yield "slip.pdf", b"<html>" + SCRIPT
    yield "slip.jpg", b"MZ\x90\x00" + b"\0" * 200
    yield "slip.png", b"#!/bin/sh\nrm -rf /\n"
    yield "x.xml", b'<!DOCTYPE a [<!ENTITY b SYSTEM "file:///a-file-of-the-server">]><a>&b;</a>'
    yield "empty.jpg", b""


NAMES = [
    "../../../etc/cron.d/x.jpg",
    "..\\..\\windows\\x.jpg",
    "/etc/passwd",
    "x.jpg\x00.html",
    "a" * 240 + ".jpg",
    'x".jpg\r\nContent-Type: text/html',
    "‮gpj.exe",
    ".htaccess",
    "con.jpg",
]
