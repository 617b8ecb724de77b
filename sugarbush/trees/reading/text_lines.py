"""Lines of a text file of unknown encoding, with memory that does not grow with the file."""

import codecs
import io
from collections.abc import Callable, Iterator
from typing import IO

from sugarbush.trees.reading.errors import TooLarge

CHUNK_BYTES = 1 << 18
MOST_LINE_BYTES = 1_000_000


def decode_stray(block: bytes) -> str:
    """Text of bytes that are not UTF-8 throughout: each line on its own, as UTF-8 or else Windows-1252."""
    return "".join(map(_decode_line, block.splitlines(keepends=True)))


def _decode_line(line: bytes) -> str:
    for encoding in ("utf-8", "cp1252"):
        try:
            return line.decode(encoding)
        except UnicodeDecodeError:
            continue
    return line.decode("latin-1")


def text_lines(
    stream: IO[bytes], encoding: str, *, newline: str = "\n", told: Callable[[int], None] | None = None
) -> Iterator[str]:
    """Each line with its line end as "\\n". Zero bytes are dropped: no database keeps them in a text.

    newline: "\\n", or "\\r" for files from very old machines.
    told: called with the number of bytes read so far, for a progress bar.
    Raises TooLarge at a line above MOST_LINE_BYTES, before holding more of it than that.
    """
    for block in _whole_lines(_decoded(stream, encoding, told), newline):
        if "\x00" in block:
            block = block.replace("\x00", "")
        if newline == "\r":
            block = block.replace("\r", "\n")
        elif "\r" in block:
            block = block.replace("\r\n", "\n").replace("\r", " ")
        yield from io.StringIO(block, newline="\n")


def _decoded(stream: IO[bytes], encoding: str, told: Callable[[int], None] | None) -> Iterator[str]:
    """Text in pieces. For encodings of single bytes they end at line ends, so that a stray line can be told apart."""
    if encoding not in ("utf-8", "cp1252"):
        decoder = codecs.getincrementaldecoder(encoding)(errors="replace")
        while chunk := _read(stream, told):
            yield decoder.decode(chunk)
        yield decoder.decode(b"", final=True)
        return
    rest = b""
    first = True
    while chunk := _read(stream, told):
        if first:
            chunk = chunk.removeprefix(codecs.BOM_UTF8)
            first = False
        cut = max(chunk.rfind(b"\n"), chunk.rfind(b"\r", 0, -1)) + 1
        if cut == 0 and len(rest) + len(chunk) <= MOST_LINE_BYTES:
            rest += chunk
            continue
        # A line longer than allowed is handed on in pieces; the reader of lines then refuses it.
        cut = cut or len(chunk)
        yield _text(rest + chunk[:cut], encoding)
        rest = chunk[cut:]
    yield _text(rest, encoding)


def _text(block: bytes, encoding: str) -> str:
    try:
        return block.decode(encoding)
    except UnicodeDecodeError:
        return decode_stray(block) if encoding == "utf-8" else block.decode("latin-1")


def _read(stream: IO[bytes], told: Callable[[int], None] | None) -> bytes:
    chunk = stream.read(CHUNK_BYTES)
    if told is not None and chunk:
        told(len(chunk))
    return chunk


def _whole_lines(pieces: Iterator[str], newline: str) -> Iterator[str]:
    rest = ""
    lines = 0
    for piece in pieces:
        cut = piece.rfind(newline) + 1
        if cut == 0:
            rest += piece
        else:
            block = rest + piece[:cut]
            lines += block.count(newline)
            yield block
            rest = piece[cut:]
        if len(rest) > MOST_LINE_BYTES:
            raise TooLarge("line_too_long", line=lines + 1)
    if rest:
        yield rest if rest.endswith(newline) else rest + newline
