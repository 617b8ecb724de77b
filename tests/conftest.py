"""What all tests share: which run on which database, how hard hypothesis tries, and a real Chromium."""

from __future__ import annotations

import gc
import hashlib
import os
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import hypothesis
import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser
    from pytest_django.plugin import DjangoDbBlocker

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent
ON_POSTGRES = os.environ.get("SUGARBUSH_TEST_DB") == "postgres"
MARK_OF_FOLDER = {"core": "pure", "browser": "browser", "setup": "sqlite_only", "bench": "bench"}
NOT_ON_POSTGRES = {"pure", "browser", "sqlite_only", "bench"}
PAGE_TESTS = re.compile(r"_pages?\.py$|_pages_|^test_(doors|matrix)\.py$")
PLAIN_RECORDS = {"volunteers", "seasons", "kit", "weather", "owners", "uploads"}
# What only reckons, or writes plain rows through the ORM, without a lock, a trigger or SQL of our own.
ALIKE_ON_BOTH = {
    "boils": {"days", "keeping", "pan"},
    "desk": {"today"},
    "gathering": {"full_first"},
    "lots": {"trace_by_hand"},
    "papers": {"hostile_text", "labels", "long_prints", "permission_form", "season_papers", "what_goes_back"},
    "review": {"small_season", "workings"},
    "shares": {"working_out"},
    "taking": {"changes", "commands", "faults"},
    "taps": {"giving_trees_out", "recording_a_tap", "state"},
    "trees": {"changing", "checks", "doubles", "entering", "list", "species"},
}
DATABASE_FIXTURES = {"db", "transactional_db", "django_db_reset_sequences", "django_db_setup", "live_server"}
CHROMIUM_NAMES = ["chromium", "chromium-browser", "google-chrome-stable", "google-chrome"]

# Slow machines are not a fault, and a run in CI must be able to be repeated as it was.
hypothesis.settings.register_profile("default", deadline=None, max_examples=50)
hypothesis.settings.register_profile("ci", deadline=None, max_examples=50, derandomize=True, print_blob=True)
hypothesis.settings.register_profile("all", deadline=None, max_examples=500)
hypothesis.settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE") or ("ci" if os.environ.get("CI") else "default"))


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Mark tests by their folder, and leave out those that are not about this run's database."""
    chosen: list[pytest.Item] = []
    left_out: list[pytest.Item] = []
    for item in items:
        if item.path.is_relative_to(HERE) and (mark := MARK_OF_FOLDER.get(item.path.relative_to(HERE).parts[0])):
            item.add_marker(mark)
        names = {mark.name for mark in item.iter_markers()}
        folder = item.path.relative_to(HERE).parts[0] if item.path.is_relative_to(HERE) else ""
        # A usual run asks each thing once where the databases cannot differ; with --all it asks everything on both.
        # Plain records on SQLite; what a page says of the ledger, the map and the gate on the stricter PostgreSQL.
        if folder in PLAIN_RECORDS or item.path.stem.removeprefix("test_") in ALIKE_ON_BOTH.get(
            item.path.parent.name, ()
        ):
            names.add("heavy")
        elif not ON_POSTGRES and PAGE_TESTS.search(item.path.name) and "browser" not in names:
            item.add_marker("slow")
        if ON_POSTGRES and "heavy" in names:
            item.add_marker("slow")
        if ON_POSTGRES and not asks_a_database(item):
            names.add("pure")
        elsewhere = names & NOT_ON_POSTGRES if ON_POSTGRES else names & {"postgres_only"}
        (left_out if elsewhere else chosen).append(item)
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = chosen


def asks_a_database(item: pytest.Item) -> bool:
    """What never opens a database need not be asked once more beside PostgreSQL."""
    from django.test import TransactionTestCase

    fixtures = set(getattr(item, "fixturenames", ()))
    if issubclass(getattr(item, "cls", None) or object, TransactionTestCase):
        return True
    return item.get_closest_marker("django_db") is not None or bool(fixtures & DATABASE_FIXTURES)


def pytest_collection_finish() -> None:
    """What is loaded now stays to the end: looking it through for rubbish costs a twentieth of a run."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(100_000, 50, 50)


@pytest.fixture(autouse=True)
def nobody_yet() -> Iterator[None]:
    """Each test meets its own people."""
    yield
    from sugarbush.volunteers import waivers
    from tests import make

    make.forget()
    waivers.keep(0)


@pytest.fixture(scope="session")
def database_template() -> Path | None:
    """Where a migrated, empty SQLite database is kept for these very migrations; None on PostgreSQL.

    Running the whole chain takes longer than most test runs. Any change to a migration makes a new template.
    """
    if ON_POSTGRES:
        return None
    digest = hashlib.sha256((ROOT / "deploy" / "requirements.txt").read_bytes())
    for path in sorted((ROOT / "sugarbush").glob("*/migrations/*.py")):
        digest.update(str(path.relative_to(ROOT)).encode() + path.read_bytes())
    return ROOT / ".pytest_cache" / f"database-{digest.hexdigest()[:16]}.sqlite3"


@pytest.fixture(scope="session")
def django_db_keepdb(database_template: Path | None) -> bool:
    """Begin with a copy of the template where there is one: Django then finds nothing left to migrate."""
    from django.conf import settings

    if database_template is None or not database_template.exists():
        return False
    shutil.copyfile(database_template, settings.DATABASES["default"]["TEST"]["NAME"])
    return True


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None, django_db_blocker: DjangoDbBlocker, database_template: Path | None) -> None:
    """Keep the database that was just made, before any test has written to it."""
    from django.db import connection

    if database_template is None or database_template.exists():
        return
    database_template.parent.mkdir(exist_ok=True)
    for outdated in database_template.parent.glob("database-*.sqlite3"):
        outdated.unlink(missing_ok=True)
    half_done = database_template.with_suffix(f".{os.getpid()}")
    with django_db_blocker.unblock(), connection.cursor() as cursor:
        cursor.execute("VACUUM INTO %s", [str(half_done)])
    half_done.replace(database_template)


@pytest.fixture(scope="session")
def chromium_path() -> str:
    """Where Chromium is. Without one the test is skipped with a plain line; CI must have it."""
    named = os.environ.get("CHROMIUM")
    found = named or next((path for name in CHROMIUM_NAMES if (path := shutil.which(name))), None)
    if found is None:
        if os.environ.get("CI"):
            pytest.fail("Chromium was not found, and CI must run the browser tests.")
        pytest.skip("No Chromium was found: the browser tests are left out.")
    return found


@pytest.fixture(scope="session")
def browser(chromium_path: str) -> Iterator[Browser]:
    """A headless Chromium for the whole run; open pages with browser.new_context(...).new_page()."""
    from playwright.sync_api import sync_playwright

    # Playwright keeps an event loop in this thread, which Django would take for code that must not wait.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(
            executable_path=chromium_path, args=["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
        )
        yield opened
        opened.close()
    del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]
