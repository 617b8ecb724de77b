"""A GIS opens the address of a real server as OGC API - Features, with a token in the head."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.phone.real_server import served
from tests.setup.serving import ROOT

# The mark is for the migrated file that the server starts from; that database is not touched here.
pytestmark = [pytest.mark.django_db, pytest.mark.sqlite_only, pytest.mark.slow]
TREES = 25
TOKEN = """
import django
django.setup()
from sugarbush.api import tokens
from sugarbush.volunteers.models import Person
print(tokens.make(person=Person.objects.get(display_name="Bob"), name="a map", scopes=["trees"])[1])
"""


@pytest.mark.skipif(shutil.which("ogrinfo") is None, reason="ogrinfo (gdal-bin) was not found")
def test_ogrinfo_finds_every_tree_page_by_page(tmp_path: Path, database_template: Path | None) -> None:
    with served(tmp_path / "data", database_template, trees=TREES) as server:
        made = subprocess.run(
            [sys.executable, "-c", TOKEN], cwd=ROOT, env=server.env, capture_output=True, text=True, check=True
        )

        def ogrinfo(token: str, *words: str) -> str:
            command = ["ogrinfo", "--config", "GDAL_HTTP_HEADERS", f"Authorization: Bearer {token}"]
            address = f"OAPIF:http://127.0.0.1:{server.port}/api"
            done = subprocess.run([*command, *words, address, "trees"], capture_output=True, text=True, check=False)
            return done.stdout + done.stderr

        token = made.stdout.strip()
        found = ogrinfo(token, "-oo", "PAGE_SIZE=10")
        assert f"Feature Count: {TREES}" in found, found
        assert set(re.findall(r"tag \(String\) = (\S+)", found)) == set(server.trees)
        assert "Geometry: Point" in found
        west, south, east, north = -87.351, 47.0, -87.349, 47.1
        boxed = ogrinfo(token, "-spat", str(west), str(south), str(east), str(north))
        assert 0 < len(re.findall(r"tag \(String\) =", boxed)) < TREES
        assert "Feature Count" not in ogrinfo("sbt_" + "x" * 43)
