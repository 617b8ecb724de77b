"""Starts the programme as deploy/start does, on a data folder and a port of its own."""

from __future__ import annotations

import contextlib
import os
import selectors
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from deploy import memory

ROOT = Path(__file__).resolve().parents[2]
READY_WAIT_S = 120
STOP_WAIT_S = 30
SERVE = [sys.executable, "-m", "deploy.serve"]
AS_DEPLOY_START_SETS = {"MALLOC_ARENA_MAX": "2", "PYTHONNODEBUGRANGES": "1"}


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def environment(data: Path, settings: Mapping[str, str]) -> dict[str, str]:
    """The environment of this machine without any setting of the programme, plus those given."""
    plain = {name: value for name, value in os.environ.items() if not name.startswith(("SUGARBUSH_", "DJANGO_"))}
    return {**plain, **AS_DEPLOY_START_SETS, "SUGARBUSH_DATA": str(data), **settings}


def start_refused(data: Path, command: Sequence[str] = (*SERVE, "--empty"), **settings: str) -> str:
    """Start, expect a refusal, and return its one sentence."""
    done = subprocess.run(
        command, cwd=ROOT, env=environment(data, settings), capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode == 1, done
    lines = done.stderr.strip().splitlines()
    assert len(lines) == 1, f"one clear sentence, not: {done.stderr}"
    assert lines[0].endswith(".")
    return lines[0]


@dataclass
class Server:
    process: subprocess.Popen[str]
    port: int
    printed: str

    def get(self, path: str) -> int:
        """The status of a page."""
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{self.port}{path}", timeout=20) as answer:
                status: int = answer.status
                return status
        except urllib.error.HTTPError as refused:
            return refused.code

    def family(self) -> list[int]:
        """The server's processes, the parent first (Linux)."""
        return memory.family(self.process.pid)

    def stop(self, number: signal.Signals = signal.SIGINT) -> int:
        """End it as a terminal does, which sends Ctrl-C to everything in the foreground; return its status."""
        os.killpg(self.process.pid, number)
        return self.process.wait(STOP_WAIT_S)


@contextlib.contextmanager
def serving(
    data: Path,
    *words: str,
    command: Sequence[str] = SERVE,
    cwd: Path = ROOT,
    ready_within_s: float = READY_WAIT_S,
    **settings: str,
) -> Iterator[Server]:
    """A server that has said it is ready; killed at the end of the block if it still runs."""
    port = free_port()
    process = subprocess.Popen(
        [*command, *words],
        cwd=cwd,
        env=environment(data, {"SUGARBUSH_PORT": str(port), **settings}),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
    )
    try:
        yield Server(process, port, _read_until_ready(process, ready_within_s))
    finally:
        if process.poll() is None:
            process.kill()
        process.wait()
        if process.stdout:
            process.stdout.close()


def _read_until_ready(process: subprocess.Popen[str], within_s: float) -> str:
    assert process.stdout is not None
    os.set_blocking(process.stdout.fileno(), False)
    printed = b""
    give_up = time.monotonic() + within_s
    with selectors.DefaultSelector() as waiting:
        waiting.register(process.stdout, selectors.EVENT_READ)
        while time.monotonic() < give_up:
            if waiting.select(1):
                piece = os.read(process.stdout.fileno(), 65536)
                printed += piece
                if b"is ready at" in printed:
                    return printed.decode()
                if not piece:
                    break
    raise AssertionError(f"the server did not get ready: {printed.decode()}")


def gone(pids: Sequence[int], within_s: float = 10) -> bool:
    """Whether these processes have all ended, or do so within the time."""
    give_up = time.monotonic() + within_s
    while time.monotonic() < give_up:
        if not any(_runs(pid) for pid in pids):
            return True
        time.sleep(0.05)
    return False


def _runs(pid: int) -> bool:
    try:
        # The state stands after the name; a zombie has ended, nobody has asked for its status yet.
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except OSError:
        return False
