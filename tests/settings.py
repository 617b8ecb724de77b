"""The programme's settings for the tests: a fresh data folder, and the database that SUGARBUSH_TEST_DB names.

SUGARBUSH_TEST_DB=sqlite (the default) or postgres, which starts a server of its own for the run.
"""

from __future__ import annotations

import atexit
import os
import shutil
import tempfile
from pathlib import Path

_kind = os.environ.get("SUGARBUSH_TEST_DB") or "sqlite"
if _kind not in {"sqlite", "postgres"}:
    raise SystemExit(f"SUGARBUSH_TEST_DB must be sqlite or postgres, not “{_kind}”.")
for _name in [name for name in os.environ if name.startswith("SUGARBUSH_") and name != "SUGARBUSH_TEST_DB"]:
    del os.environ[_name]  # no test may depend on how this machine is set up

_memory = Path("/dev/shm")
_in_memory = os.access(_memory, os.W_OK) and shutil.disk_usage(_memory).free > 2_000_000_000
_folder = Path(tempfile.mkdtemp(prefix="sugarbush-test-", dir=_memory if _in_memory else None))
atexit.register(shutil.rmtree, _folder, ignore_errors=True)
os.environ["SUGARBUSH_DATA"] = str(_folder)

from sugarbush.settings import *  # noqa: E402, F403
from sugarbush.settings import DATABASES, STORAGES  # noqa: E402

if _kind == "postgres":
    from deploy import postgres

    _server = postgres.running()
    DATABASES["default"] = {
        "ENGINE": "django.db.backends.postgresql",
        "NAME": postgres.USER,
        "USER": postgres.USER,
        "HOST": str(_server.__enter__()),
    }
    atexit.register(_server.__exit__, None, None, None)
else:
    # A file, not memory: tests with real threads need what several connections can open.
    DATABASES["default"]["TEST"] = {"NAME": str(_folder / "test.sqlite3")}
    DATABASES["default"]["OPTIONS"]["init_command"] = "PRAGMA journal_mode=WAL; PRAGMA synchronous=OFF;"

# Kept connections would outlive the threads of a test and block the removal of its database.
DATABASES["default"]["CONN_MAX_AGE"] = 0
# Plain names: the hashed ones exist only after collectstatic, which tests/setup runs for real.
STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
