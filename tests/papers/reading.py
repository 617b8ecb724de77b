"""Reading a PDF back as paper would be: its words, where they stand, and the squares a camera sees."""

from __future__ import annotations

import re
import subprocess
from html import unescape
from pathlib import Path

POINTS = {"a4": (595.276, 841.89), "us-letter": (612.0, 792.0)}
UNSEEN = "\u200b"


def run(*command: str) -> str:
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def words(pdf: bytes, folder: Path) -> str:
    """All words in reading order, with single spaces, without the places where a long word may break."""
    return " ".join(pages(pdf, folder))


def flat(text: str) -> str:
    """Without any space: a name broken over two lines is the same name."""
    return re.sub(r"\s|\u200b", "", text)


def pages(pdf: bytes, folder: Path, *, by_label: bool = False) -> list[str]:
    """The words of each page, line by line; by_label: in the order they were set, one label after the other."""
    path = folder / "read.pdf"
    path.write_bytes(pdf)
    read = run("pdftotext", "-raw" if by_label else "-layout", str(path), "-").replace(UNSEEN, "")
    return [" ".join(page.split()) for page in read.split("\f")[:-1]]


def placed(pdf: bytes, folder: Path, paper: str, edge: float = 6.0) -> tuple[list[str], list[str]]:
    """(all words, those that stand beyond the paper or nearer to its edge than a printer reaches). edge: points."""
    path = folder / "read.pdf"
    path.write_bytes(pdf)
    seen = run("pdftotext", "-bbox", str(path), "-")
    wide, tall = POINTS[paper]
    for size in re.findall(r'<page width="([\d.]+)" height="([\d.]+)"', seen):
        assert {round(float(one)) for one in size} == {round(wide), round(tall)}
    words, beyond = [], []
    for x0, y0, x1, y1, word in re.findall(
        r'<word xMin="(-?[\d.]+)" yMin="(-?[\d.]+)" xMax="(-?[\d.]+)" yMax="(-?[\d.]+)">(.*?)</word>', seen
    ):
        words.append(unescape(word))
        if float(x0) < edge or float(y0) < edge or float(x1) > wide - edge or float(y1) > tall - edge:
            beyond.append(word)
    return words, beyond


def outside(pdf: bytes, folder: Path, paper: str, edge: float = 6.0) -> list[str]:
    """The words that stand beyond the paper, or nearer to its edge than a printer reaches."""
    return placed(pdf, folder, paper, edge)[1]


def squares(pdf: bytes, folder: Path, dpi: int, corner_mm: tuple[float, float] | None = None) -> set[str]:
    """What the codes on the first page lead to, seen at so many points an inch.

    corner_mm: width and height of the upper left part to look at, where one code is enough: looking takes long.
    """
    path = folder / "read.pdf"
    path.write_bytes(pdf)
    picture = folder / "page"
    part = [str(round(mm / 25.4 * dpi)) for mm in corner_mm or ()]
    only = ["-x", "0", "-y", "0", "-W", part[0], "-H", part[1]] if part else []
    run("pdftoppm", "-r", str(dpi), "-l", "1", "-singlefile", *only, "-gray", "-png", str(path), str(picture))
    read = subprocess.run(
        ["zbarimg", "-q", "--raw", "-Sdisable", "-Sqrcode.enable", f"{picture}.png"],
        check=False,
        capture_output=True,
        text=True,
    )
    return set(read.stdout.split())
