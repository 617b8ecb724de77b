"""QR codes: what is drawn is what was made, and a reader of somebody else's reads it back."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest
import segno
from django.test import RequestFactory

from sugarbush.parts import qr
from tests.squares import dark_squares, squares_of

ADDRESS = "https://sap.quillhaven.example/join/K7MQR4XW9/"


def test_the_drawing_shows_every_dark_square_and_no_other() -> None:
    svg = str(qr.drawing(ADDRESS, "Join <North Bank>"))
    made = segno.make_qr(ADDRESS, error="m")
    assert dark_squares(svg) == squares_of(ADDRESS)
    assert "style=" not in svg
    assert "Join &lt;North Bank&gt;" in svg
    # ISO/IEC 18004: version v is 17 + 4v squares wide, and four more on each side stay light.
    assert f'viewBox="0 0 {17 + 4 * int(made.version) + 8} ' in svg


@pytest.mark.slow
@pytest.mark.parametrize("text", [ADDRESS, "http://127.0.0.1:8000/t/QH-0183/", "https://sap.example/l/L-26-07%20B/"])
def test_another_program_reads_the_drawing_back(tmp_path: Path, text: str) -> None:
    reader = shutil.which("zbarimg")
    if reader is None:
        pytest.skip("zbarimg was not found: no other program reads the codes.")
    dark = dark_squares(str(qr.drawing(text, "")))
    side = max(x for x, _y in dark) + 1 + 2 * qr.QUIET
    # A grey picture of the drawing, eight dots a square, in the plainest format there is (PGM).
    light = [
        [0 if (x // 8 - qr.QUIET, y // 8 - qr.QUIET) in dark else 255 for x in range(side * 8)] for y in range(side * 8)
    ]
    picture = tmp_path / "code.pgm"
    picture.write_bytes(b"P5 %d %d 255\n" % (side * 8, side * 8) + b"".join(map(bytes, light)))
    read = subprocess.run([reader, "--quiet", "--raw", str(picture)], capture_output=True, text=True, check=True)
    assert read.stdout.strip() == text


def test_paper_names_the_public_address_where_there_is_one(settings: object) -> None:
    request = RequestFactory().get("/", headers={"host": "127.0.0.1:8000"})
    settings.PUBLIC_URL = ""  # type: ignore[attr-defined]
    assert qr.printed_address(request, "/join/") == "http://127.0.0.1:8000/join/"
    assert qr.opens_only_here(qr.printed_address(request, "/join/"))
    settings.PUBLIC_URL = "https://sap.quillhaven.example"  # type: ignore[attr-defined]
    assert qr.printed_address(request, "/join/") == "https://sap.quillhaven.example/join/"
    assert not qr.opens_only_here(qr.printed_address(request, "/join/"))
