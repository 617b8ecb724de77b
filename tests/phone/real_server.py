"""A real web server on a data folder of its own, with Bob's round in it, and phones that talk to it."""

from __future__ import annotations

import contextlib
import http.client
import json
import os
import shutil
import signal
import subprocess
import sys
import time
import uuid
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.setup.serving import ROOT, environment, free_port

FILL = """
import json, sys
import django
django.setup()
from django.test import Client
from tests import make
people, trees = int(sys.argv[1]), int(sys.argv[2])
hint = "Ring at the side door; the gate sticks, lift it."
codes = [
    make.tapped_tree(longitude=make.CENTRE[0] + n * 0.0006, address=f"{n + 1} Larkspur Street", access_note=hint).code
    for n in range(trees)
]
found = []
for n in range(people):
    person = make.bob() if n == 0 else make.person(f"Walker {n:02d}")
    client = Client()
    client.force_login(person)
    found.append({"key": str(person.key), "session": client.cookies["sugarbush"].value})
print(json.dumps({"people": found, "trees": codes}))
"""


@dataclass
class Served:
    """The server, and who may come in. `process` is the parent of its worker."""

    process: subprocess.Popen[bytes]
    port: int
    data: Path
    env: dict[str, str]
    people: list[dict[str, str]]
    trees: list[str]

    def worker(self) -> int | None:
        children = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children").read_text().split()
        return int(children[0]) if children else None

    def kill_worker(self) -> None:
        """At once, as when the machine takes it away; the parent starts another."""
        with contextlib.suppress(OSError, ProcessLookupError):
            if (pid := self.worker()) is not None:
                os.kill(pid, signal.SIGKILL)

    def manage(self, *words: str) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "manage.py", *words]
        return subprocess.run(command, cwd=ROOT, env=self.env, capture_output=True, text=True, check=False)


@contextlib.contextmanager
def served(
    data: Path, template: Path | None, *, people: int = 1, trees: int = 1, static: bool = False, url: str = ""
) -> Iterator[Served]:
    """Fill an empty database (a copy of `template` where there is one), then serve it as deploy/start does.

    url: of an empty PostgreSQL database; without one it is SQLite in the data folder.
    """
    data.mkdir(parents=True, exist_ok=True)
    more = {"SUGARBUSH_DATABASE_URL": url} if url else {}
    env = environment(data, {"DJANGO_SETTINGS_MODULE": "sugarbush.settings", "PYTHONPATH": str(ROOT), **more})
    if not url and template is not None and template.exists():
        shutil.copyfile(template, data / "sugarbush.sqlite3")
    else:
        subprocess.run([sys.executable, "manage.py", "migrate", "-v0"], cwd=ROOT, env=env, check=True)
    if static:
        collect = [sys.executable, "manage.py", "collectstatic", "--noinput", "-v0"]
        subprocess.run(collect, cwd=ROOT, env=env, check=True)
    filled = subprocess.run(
        [sys.executable, "-c", FILL, str(people), str(trees)], cwd=ROOT, env=env, capture_output=True, check=False
    )
    assert filled.returncode == 0, filled.stderr.decode()
    port = free_port()
    command = [sys.executable, "-m", "gunicorn", "-c", "deploy/gunicorn.conf.py", "-b", f"127.0.0.1:{port}"]
    process = subprocess.Popen([*command, "sugarbush.wsgi:application"], cwd=ROOT, env=env, stderr=subprocess.DEVNULL)
    try:
        _wait(port)
        yield Served(process, port, data, env, **json.loads(filled.stdout))
    finally:
        process.terminate()
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(15)
        if process.poll() is None:
            process.kill()
            process.wait()


def _wait(port: int) -> None:
    give_up = time.monotonic() + 60
    while time.monotonic() < give_up:
        with contextlib.suppress(OSError):
            line = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
            line.request("GET", "/healthz")
            if line.getresponse().status == 200:
                line.close()
                return
        time.sleep(0.1)
    raise AssertionError("the server did not come up")


@dataclass
class Walker:
    """A phone that keeps its line open while it can."""

    port: int
    key: str
    session: str
    secret: str = ""
    line: http.client.HTTPConnection | None = field(default=None, repr=False)

    def ask(self, method: str, path: str, body: Any = None) -> tuple[int, Any]:
        """Raises OSError or HTTPException where the line breaks."""
        self.line = self.line or http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        cookie = f"sugarbush={self.session}; sugarbush_form={self.secret[:32]}"
        headers = {"Cookie": cookie, "X-CSRFToken": self.secret, "Content-Type": "application/json"}
        try:
            self.line.request(method, path, json.dumps(body) if body is not None else None, headers)
            answer = self.line.getresponse()
            said = answer.read()
        except (OSError, http.client.HTTPException):
            self.line.close()
            self.line = None
            raise
        if path == "/round/outbox/" and method == "GET":
            # The secret in the cookie is what the masked one in the answer stands for.
            cookie = answer.getheader("Set-Cookie") or ""
            self.secret = cookie.partition("sugarbush_form=")[2].partition(";")[0] or self.secret
        return answer.status, said

    def hello(self) -> None:
        status, said = self.ask("GET", "/round/outbox/")
        assert status == 200, said

    def send(self, entries: list[dict[str, Any]]) -> list[dict[str, Any]]:
        """The server's words. Raises where the line breaks."""
        now = time.time_ns() // 1_000_000
        batch = {"format": 1, "person": self.key, "phone_now_ms": now, "entries": entries}
        status, said = self.ask("POST", "/round/outbox/", batch)
        if status != 200:
            raise http.client.HTTPException(f"{status}: {said[:200]!r}")
        answers: list[dict[str, Any]] = json.loads(said)["answers"]
        return answers


def walker(server: Served, n: int = 0) -> Walker:
    who = server.people[n]
    found = Walker(server.port, who["key"], who["session"])
    found.hello()
    return found


def entry(tree: str, *, ago_ms: int = 60_000, volume_ml: int = 4_000) -> dict[str, Any]:
    """Sap at a tree, as the phone writes it."""
    return {
        "id": str(uuid.uuid4()),
        "kind": "visit",
        "happened_ms": time.time_ns() // 1_000_000 - ago_ms,
        "tree": tree,
        "outcome": "sap",
        "volume_ml": volume_ml,
        "look": "clear",
    }
