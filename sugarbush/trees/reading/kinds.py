"""What kind of file this is, told from its first bytes; what we cannot read is named."""

import codecs
from typing import Literal

from sugarbush.trees.reading.errors import CannotRead, EmptyFile, WrongKind

Kind = Literal["csv", "geojson"]

# Opening bytes of common formats that towns and offices hand out by mistake.
_OPENINGS: tuple[tuple[bytes, str], ...] = (
    (b"%PDF", "pdf"),
    (b"PK\x03\x04", "zip"),
    (b"PK\x05\x06", "zip"),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "old_workbook"),
    (b"\x1f\x8b", "gzip"),
    (b"\x00\x00\x27\x0a", "shapefile"),
    (b"SQLite format 3\x00", "database"),
    (b"\x89PNG", "picture"),
    (b"\xff\xd8\xff", "picture"),
    (b"GIF8", "picture"),
)
_XML_OPENINGS = ("<?xml", "<kml", "<gpx", "<gml", "<osm")


def encoding_of(head: bytes) -> str:
    """The encoding told by a byte order mark, or by the zero bytes of unmarked UTF-16; else UTF-8.

    What turns out not to be UTF-8 is read as Windows-1252 line by line (see text_lines), so one
    stray byte late in a file neither stops it nor spoils the rest.
    """
    if head.startswith((codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE)):
        return "utf-32"
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    first = head[:2000]
    half = len(first) // 2
    # Latin letters in UTF-16 have a zero in every other byte.
    if half >= 4 and first[1::2].count(0) > half * 0.7 and first[0::2].count(0) == 0:
        return "utf-16-le"
    if half >= 4 and first[0::2].count(0) > half * 0.7 and first[1::2].count(0) == 0:
        return "utf-16-be"
    return "utf-8"


def kind_of(head: bytes) -> Kind:
    """Table or GeoJSON. Raises CannotRead with a sentence for everything else."""
    for opening, code in _OPENINGS:
        if head.startswith(opening):
            raise WrongKind(code)
    encoding = encoding_of(head)
    # A stray zero byte happens in exports from old systems; a file full of them is no text.
    if encoding == "utf-8" and head.count(b"\x00") * 100 > len(head):
        raise WrongKind("binary")
    text = head.decode(encoding, errors="replace").lstrip("\ufeff \t\r\n\x1e")
    if not text:
        raise EmptyFile("empty")
    if text[0] in "{[":
        return "geojson"
    if text[0] == "<":
        raise WrongKind("xml" if text[:200].lower().startswith(_XML_OPENINGS) else "html")
    if _looks_binary(text[:4000]):
        raise WrongKind("binary")
    return "csv"


def _looks_binary(text: str) -> bool:
    odd = sum(1 for letter in text if letter < " " and letter not in "\t\r\n\x0b\x0c")
    return odd * 20 > len(text)


def unreadable(error: OSError) -> CannotRead:
    """The sentence for a file the machine will not open."""
    return CannotRead("missing" if isinstance(error, FileNotFoundError) else "not_open")
