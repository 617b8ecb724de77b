"""The pressroom: a small program that sets documents with typst and knows nothing else.

It runs beside the app, is told what to set over a pipe and answers over another. It imports typst and the standard
library only: what typst keeps in memory goes when this process ends, and no page of the app pays for it. Everything it
sets is handed to it; it reads no file but fonts. A message is four bytes of length and then JSON; a document follows
its answer in a frame of its own.
"""

from __future__ import annotations

import base64
import json
import re
import resource
import struct
import sys
from pathlib import Path
from typing import Any, BinaryIO

import typst

STANDARD = "a-2b"
"""PDF for keeping: typst refuses to set in it what no font can show, which is how we know."""
NO_FONT = "could not be displayed with"
NOWHERE = str(Path(__file__).with_name("nothing"))
"""An empty folder as the root of every document: what one asks for and was not handed is not there."""
PROBE = b'#set page(width: 20cm, height: 20cm)\n#for one in json("probe.json") [#one ]'
RETIRE_BYTES = 200 * 1024 * 1024
RETIRE_PRINTS = 500
"""typst keeps what it has set before; above this much memory, or after so many prints where nothing tells the memory,
the process ends and a fresh one takes over."""
MOST_BYTES = 256 * 1024 * 1024


class Pressroom:
    """Sets documents, and knows which characters its fonts can show."""

    def __init__(self, fonts: list[str]) -> None:
        self.fonts = typst.Fonts(include_system_fonts=False, font_paths=list(fonts))
        self.compiler = typst.Compiler(
            root=NOWHERE,
            font_paths=self.fonts,
            ignore_system_fonts=True,
            package_path=NOWHERE,
            package_cache_path=NOWHERE,
        )
        self.known: dict[str, bool] = {}

    def families(self) -> list[str]:
        return self.fonts.families()

    def set(self, files: dict[str, bytes], *, standard: bool) -> bytes:
        """The document main.typ of these files, as PDF."""
        standards: list[Any] = [STANDARD] if standard else []
        made = self.compiler.compile(input=files, format="pdf", pdf_standards=standards, timestamp=0)  # type: ignore[type-var]  # a dict is taken, too
        return made if isinstance(made, bytes) else b"".join(made or [])

    def missing(self, characters: str) -> str:
        """Those of the characters that no font can show, in their order."""
        unknown = [one for one in dict.fromkeys(characters) if one not in self.known]
        if unknown and self._shows(unknown):
            self.known.update(dict.fromkeys(unknown, True))
        else:
            self.known.update({one: self._shows([one]) for one in unknown})
        return "".join(one for one in dict.fromkeys(characters) if not self.known[one])

    def _shows(self, characters: list[str]) -> bool:
        try:
            self.set({"main.typ": PROBE, "probe.json": json.dumps(characters).encode()}, standard=True)
        except typst.TypstError as why:
            if NO_FONT in str(why):
                return False
            raise
        return True

    def answer(self, asked: dict[str, Any]) -> tuple[dict[str, Any], bytes]:
        """What came of one message: the answer, and the document if there is one."""
        if asked["do"] == "missing":
            return {"missing": self.missing(asked["characters"])}, b""
        if asked["do"] == "families":
            return {"families": self.families()}, b""
        files = {name: text.encode() for name, text in asked["texts"].items()}
        # The library takes texts alone: a picture goes in as its numbers, and base.typ makes bytes of them again.
        for name, kept in asked["pictures"].items():
            files[f"{name}.json"] = json.dumps(list(base64.b64decode(kept))).encode()
        try:
            return {}, self.set(files, standard=True)
        except typst.TypstError as why:
            if NO_FONT not in str(why):
                return {"error": f"{why.message} {why.diagnostic}"[:2000]}, b""
            if not asked["anyway"]:
                return {"missing": "".join(re.findall(r"the text `\"(.*)\"` could", str(why)))}, b""
        return {}, self.set(files, standard=False)


def read(source: BinaryIO) -> bytes | None:
    """One frame; None at the end of the line."""
    head = source.read(4)
    if len(head) < 4:
        return None
    (length,) = struct.unpack(">I", head)
    if length > MOST_BYTES:
        return None
    body = source.read(length)
    return body if len(body) == length else None


def write(sink: BinaryIO, body: bytes) -> None:
    sink.write(struct.pack(">I", len(body)))
    sink.write(body)


def memory_bytes() -> int:
    """What this process holds now; 0 where the system does not say. (ru_maxrss would count what its parent held.)"""
    try:
        pages = Path("/proc/self/statm").read_text().split()[1]
    except OSError:
        return 0
    return int(pages) * resource.getpagesize()


def main(fonts: list[str]) -> int:
    source, sink = sys.stdin.buffer, sys.stdout.buffer
    room, prints = Pressroom(fonts), 0
    while (body := read(source)) is not None:
        broken = False
        try:
            said, made = room.answer(json.loads(body))
        except BaseException as why:  # a panic of the library is no Exception
            said, made, broken = {"error": f"{type(why).__name__}: {why}"[:2000]}, b"", True
        prints += 1
        said["leaves"] = leaves = broken or memory_bytes() > RETIRE_BYTES or prints > RETIRE_PRINTS
        write(sink, json.dumps(said).encode())
        write(sink, made)
        sink.flush()
        if leaves:
            break
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
