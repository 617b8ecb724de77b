"""What a bare machine lacks must not be needed, and what it installs must be what the lock says."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from tests.setup.serving import ROOT, environment

# A development machine may have the geographic libraries and hide that something asks for them.
WITHOUT_GEOGRAPHY = """
import ctypes.util
find = ctypes.util.find_library
ctypes.util.find_library = lambda name: None if "gdal" in name.lower() or "geos" in name.lower() else find(name)
import os, sys
os.environ["DJANGO_SETTINGS_MODULE"] = "sugarbush.settings"
import django
django.setup()
from django.core.management import call_command
call_command("check")
from django.urls import get_resolver
assert get_resolver().url_patterns
assert "django.contrib.gis.gdal" not in sys.modules
assert "psycopg" not in sys.modules, "psycopg is loaded only where PostgreSQL is configured"
"""


def test_the_programme_starts_without_geographic_libraries(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-c", WITHOUT_GEOGRAPHY],
        cwd=ROOT,
        env=environment(tmp_path, {}),
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr


def pinned(list_name: str) -> set[tuple[str, str]]:
    text = (ROOT / "deploy" / list_name).read_text()
    return set(re.findall(r"^([a-z0-9-]+)(?:\[[a-z,]+\])?==([^\s;]+)", text, re.MULTILINE))


def test_the_lists_pip_installs_from_are_those_of_the_lock() -> None:
    packages = tomllib.loads((ROOT / "uv.lock").read_text())["package"]
    locked = {(package["name"], package["version"]) for package in packages if package["name"] != "sugarbush"}
    assert pinned("requirements-dev.txt") == locked, "run deploy/lock"
    assert pinned("requirements.txt") < locked
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    asked = {re.split(r"[\[><=~ ]", line)[0] for line in project["dependencies"]}
    assert asked <= {name for name, _ in pinned("requirements.txt")}


@pytest.mark.parametrize("list_name", ["requirements.txt", "requirements-dev.txt"])
def test_every_package_comes_with_its_hash(list_name: str) -> None:
    blocks = re.split(r"\n(?=\S)", (ROOT / "deploy" / list_name).read_text().strip())
    assert len(blocks) >= len(pinned(list_name))
    assert all("--hash=sha256:" in block for block in blocks)


def test_no_list_names_where_its_packages_were_fetched() -> None:
    for path in (ROOT / "deploy").glob("*.txt"):
        assert "://" not in path.read_text(), path
