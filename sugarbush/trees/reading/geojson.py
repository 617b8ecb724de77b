"""GeoJSON features (RFC 7946, and one feature a line as in RFC 8142), one at a time."""

import codecs
import json
import re
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import IO, Any, NamedTuple

import ijson

from sugarbush.trees.reading.errors import CannotRead, CutShort, EmptyFile, OtherGrid, TooLarge, WrongKind
from sugarbush.trees.reading.kinds import encoding_of
from sugarbush.trees.reading.rows import Progress
from sugarbush.trees.reading.text_lines import text_lines

MOST_FEATURE_MB = 8
_CHUNK_BYTES = 1 << 16
_EDGE_BYTES = 1 << 16
_MOST_OPEN_BRACKETS = 1_000
_GRID = re.compile(r'"crs"\s*:\s*(\{.{0,400}?\}\s*\}|null)', re.DOTALL)
_GRID_NAME = re.compile(r'"(?:name|href|code)"\s*:\s*"?([^",}]+)')
# WGS 84 in longitude, latitude: RFC 7946 section 4, and the names older writers gave it.
_WGS84 = re.compile(r"(CRS:?84|EPSG:{1,2}(\d[\d.]*:)?4326|\A4326)\Z", re.IGNORECASE)


class Feature(NamedTuple):
    """One entry: its count from 1, its geometry (None when it has none) and its properties."""

    number: int
    geometry: dict[str, Any] | None
    properties: dict[str, Any]
    identifier: str | int | float | Decimal | None


class FeatureFile:
    """A GeoJSON file, opened: its form and grid are known to be ones we read."""

    def __init__(self, path: Path, head: bytes) -> None:
        self._path = path
        self._progress = Progress()
        self.size_bytes = path.stat().st_size
        self._encoding = encoding_of(head)
        self._by_line = self._find_form(head)
        if self._encoding == "utf-8" and not self._by_line and not _is_utf8(path):
            self._encoding = "cp1252"
        self._look_at_grid(head)

    @property
    def read_bytes(self) -> int:
        return self._progress.read_bytes

    def features(self) -> Iterator[Feature]:
        """Every feature in order. Raises CutShort where the file ends or breaks before its end."""
        self._progress = Progress()
        with self._path.open("rb") as stream:
            if self._by_line:
                yield from self._line_features(stream)
            else:
                yield from self._collection_features(stream)

    def _find_form(self, head: bytes) -> bool:
        """True for one feature a line. Refuses JSON that is no list of features."""
        text = head.decode(self._encoding, errors="replace").lstrip("\ufeff \t\r\n\x1e")
        first_line = text.split("\n", 1)[0].rstrip("\r ")
        try:
            first = json.loads(first_line)
        except (ValueError, RecursionError):
            first = None
        if isinstance(first, dict) and first.get("type") == "Feature":
            return True
        if '"features"' not in text and not text.startswith("["):
            if re.search(r'"type"\s*:\s*"Feature"', text[:2000]):
                return False
            # The list of features may stand after long other members; only a real look at the file tells.
            raise WrongKind("not_geojson")
        if re.search(r'"attributes"\s*:', text) and not re.search(r'"properties"\s*:', text):
            raise WrongKind("not_geojson")
        return False

    def _look_at_grid(self, head: bytes) -> None:
        """The old "crs" member stands before the features or after them."""
        before = head.decode(self._encoding, errors="replace").split('"features"', 1)[0]
        with self._path.open("rb") as stream:
            stream.seek(max(0, self.size_bytes - _EDGE_BYTES))
            after = stream.read().decode(self._encoding, errors="replace").rpartition("]")[2]
        for part in (before, after):
            if (found := _GRID.search(part)) and found[1] != "null":
                name = _GRID_NAME.findall(found[1])
                grid = name[-1].strip() if name else "?"
                if not _WGS84.search(grid):
                    raise OtherGrid("other_grid", grid=grid[:80])

    def _line_features(self, stream: IO[bytes]) -> Iterator[Feature]:
        number = 0
        for line in text_lines(stream, self._encoding, told=self._progress.add):
            text = line.strip("\x1e \t\r\n\ufeff")
            if not text:
                continue
            number += 1
            try:
                entry = json.loads(text)
            except (ValueError, RecursionError):
                raise CutShort("cut_short" if self._at_end() else "broken", row=number - 1) from None
            yield _feature(number, entry)

    def _at_end(self) -> bool:
        return self.read_bytes >= self.size_bytes

    def _collection_features(self, stream: IO[bytes]) -> Iterator[Feature]:
        source = _JsonBytes(stream, self._encoding, self._progress)
        number = 0
        try:
            for prefix in _prefixes(self._path, self._encoding):
                # Numbers stay decimals as written: as floats, a number of 20 figures would stop the reader.
                for entry in ijson.items(source, prefix, buf_size=_CHUNK_BYTES):
                    number += 1
                    source.next_feature()
                    yield _feature(number, entry)
        except ijson.common.IncompleteJSONError as fault:
            # ijson raises this one class for a file that stops and for one that breaks.
            stops = "premature" in str(fault) or "Incomplete" in str(fault) or self._at_end_of(source)
            raise CutShort("cut_short" if stops else "broken", row=number) from None
        except (ijson.JSONError, UnicodeDecodeError, OverflowError, ValueError, RecursionError) as fault:
            if isinstance(fault, CannotRead):
                raise
            raise CutShort("broken", row=number) from None
        if number == 0:
            raise EmptyFile("no_rows")

    @staticmethod
    def _at_end_of(source: "_JsonBytes") -> bool:
        return source.ended


class _JsonBytes:
    """UTF-8 bytes for the JSON reader, whatever the file's encoding; stops at an entry without an end."""

    def __init__(self, stream: IO[bytes], encoding: str, progress: Progress) -> None:
        self._stream = stream
        self._progress = progress
        self._decoder = None if encoding == "utf-8" else codecs.getincrementaldecoder(encoding)(errors="replace")
        self._first = True
        self._features = 0
        self._since_feature = 0
        self._open_brackets = 0
        self.ended = False

    def next_feature(self) -> None:
        """The reader has finished one entry."""
        self._features += 1
        self._since_feature = 0
        self._open_brackets = 0

    def read(self, size: int = _CHUNK_BYTES) -> bytes:
        if size == 0:
            return b""
        chunk = self._stream.read(size)
        self._progress.add(len(chunk))
        self.ended = not chunk
        self._since_feature += len(chunk)
        if self._since_feature > MOST_FEATURE_MB * 1_000_000:
            raise TooLarge("entry_too_long", row=self._features + 1, limit=MOST_FEATURE_MB)
        # The time to read nested lists grows with the square of their depth; places need four.
        self._open_brackets += chunk.count(b"[") + chunk.count(b"{") - chunk.count(b"]") - chunk.count(b"}")
        if self._open_brackets > _MOST_OPEN_BRACKETS:
            raise ValueError("lists within lists, too deep for any place")
        if self._decoder is not None:
            while chunk and not (text := self._decoder.decode(chunk)):
                chunk = self._stream.read(size)
            chunk = text.encode("utf-8", errors="replace") if chunk else b""
        if self._first:
            self._first = False
            chunk = chunk.removeprefix(codecs.BOM_UTF8)
        return chunk


def _prefixes(path: Path, encoding: str) -> list[str]:
    """Where the features stand: in a collection, in a bare list, or the whole file is one feature."""
    with path.open("rb") as stream:
        text = stream.read(_EDGE_BYTES).decode(encoding, errors="replace").lstrip("\ufeff \t\r\n\x1e")
    if text.startswith("["):
        return ["item"]
    return ["features.item"] if '"features"' in text else [""]


def _feature(number: int, entry: object) -> Feature:
    if not isinstance(entry, dict):
        return Feature(number, None, {}, None)
    geometry = entry.get("geometry")
    properties = entry.get("properties")
    identifier = entry.get("id")
    return Feature(
        number,
        geometry if isinstance(geometry, dict) else None,
        properties if isinstance(properties, dict) else {},
        identifier if isinstance(identifier, str | int | float | Decimal) else None,
    )


def _is_utf8(path: Path) -> bool:
    decoder = codecs.getincrementaldecoder("utf-8")()
    with path.open("rb") as stream:
        try:
            while chunk := stream.read(1 << 20):
                decoder.decode(chunk)
        except UnicodeDecodeError:
            return False
    return True


def flat(value: object) -> str:
    """A property as the text of a cell.

    >>> flat(Decimal("12.0")), flat(12.5), flat(True), flat(None), flat(["a"])
    ('12', '12.5', 'true', '', '["a"]')
    """
    if isinstance(value, str):
        return _storable(value)
    if value is None:
        return ""
    if value is True or value is False:
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        value = Decimal(repr(value))
    if isinstance(value, Decimal):
        text = format(value, "f") if abs(value.adjusted()) < 40 else str(value)
        return text[:-2] if text.endswith(".0") else text
    try:
        return _storable(json.dumps(value, ensure_ascii=False, default=float))
    except (ValueError, RecursionError, TypeError):
        return ""


def _storable(text: str) -> str:
    """Without what a database cannot keep: zero bytes and halves of surrogate pairs."""
    if text.isascii():
        return text.replace("\x00", "") if "\x00" in text else text
    return text.replace("\x00", "").encode("utf-8", errors="replace").decode("utf-8")
