"""Checks, prepares and serves: the web server and the background worker under one parent.

    python -m deploy.serve [--empty]

The parent loads the app once and forks the two, so that most memory is shared. Preparing (migrations, the pages'
files, the demo season) happens in a child of its own, whose memory is given back before serving begins.
"""

from __future__ import annotations

import argparse
import contextlib
import errno
import fcntl
import os
import signal
import socket
import sys
import time
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from types import FrameType

from deploy import processes

ROOT = Path(__file__).resolve().parent.parent
TRIES_PER_TASK = 3
LOCK_WAIT_S = 3


def main() -> int:
    """Start everything, stay until asked to stop, and say by the status how it ended: 0 is a clean stop."""
    parser = argparse.ArgumentParser(prog="deploy/start", description="Serve sugarbush.")
    parser.add_argument("--empty", action="store_true", help="no demo season: print a sign-in link instead")
    empty: bool = parser.parse_args().empty

    # A shell starts what it puts in the background with Ctrl-C ignored; kill -INT shall stop it all the same.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "sugarbush.settings")
    from django.conf import settings

    with only_one(settings.DATA), reserve(settings.PORT) as listener:
        status = processes.run_and_wait(partial(prepare, empty=empty))
        if status:
            return status
        load_app()
        return processes.run_together(
            {
                "web server": partial(serve_pages, listener, address=address(settings.PUBLIC_URL, settings.PORT)),
                "background worker": work_in_background,
            },
            # The web server's own processes hold the port from here on.
            after_start=listener.close,
        )


@contextlib.contextmanager
def only_one(data: Path) -> Iterator[None]:
    """Hold the data folder: two servers on one folder would both run its background work."""
    from sugarbush import environment

    with (data / "serving.lock").open("a") as lock:
        give_up = time.monotonic() + LOCK_WAIT_S
        while True:
            try:
                fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
                break
            except OSError:
                # One that was killed outright needs a moment until the last of its processes is gone.
                if time.monotonic() > give_up:
                    environment.refuse(f"sugarbush is already running on the data folder {data}. Stop that one first.")
                time.sleep(0.1)
        yield


@contextlib.contextmanager
def reserve(port: int) -> Iterator[socket.socket]:
    """Take the port before any work is done, so that nobody waits for a demo season only to hear it is used."""
    from sugarbush import environment

    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    # Without this, a restart within a minute would find its own closed connections in the way.
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        # Every address of the machine: phones on the same network reach it, and so does a proxy elsewhere.
        listener.bind(("0.0.0.0", port))  # noqa: S104
    except OSError as why:
        if why.errno == errno.EADDRINUSE:
            environment.refuse(f"Port {port} is used by another program. Give a free one with SUGARBUSH_PORT.")
        environment.refuse(f"Port {port} cannot be used: {why.strerror}. Give another with SUGARBUSH_PORT.")
    with listener:
        yield listener


def address(public_url: str, port: int) -> str:
    return public_url or f"http://127.0.0.1:{port}"


def prepare(*, empty: bool) -> int:
    """Bring the database and the pages' files up to date; on the very first start, make the demo season."""
    import django
    from django.core.management import CommandError, call_command
    from django.db import DatabaseError, connections

    from sugarbush import environment

    django.setup()
    try:
        call_command("migrate", interactive=False, verbosity=0)
        call_command("collectstatic", interactive=False, verbosity=0)
        give_back_tasks()
        call_command("resume_files")
        first_start(empty=empty)
        # What trees show may have lapsed while nobody was serving; the coming midnight is queued as well.
        call_command("midnight")
    except DatabaseError as why:
        reason = " ".join(str(why).split())
        environment.refuse(f"The database cannot be used: {reason}. Look at SUGARBUSH_DATABASE_URL and SUGARBUSH_DATA.")
    except CommandError as why:
        environment.refuse(str(why))
    finally:
        connections.close_all()
    return 0


def first_start(*, empty: bool) -> None:
    """Make the demo season, or print the first coordinator's link, while there is no programme yet."""
    from django.apps import apps
    from django.core.management import call_command

    if apps.get_model("seasons", "Programme").objects.exists():
        say("To sign in on this machine, make a link: .venv/bin/python manage.py sign_in_link")
    elif empty or apps.get_model("volunteers", "Person").objects.exists():
        call_command("sign_in_link", first=True)
    else:
        say("First start: making the demo season. This takes a moment.")
        call_command("make_demo")


def give_back_tasks() -> None:
    """Queue again what a stopped worker left half done; a task that has stopped its worker too often rests.

    Safe because only_one() holds the data folder: nobody else can be at work on these.
    """
    from django.utils import timezone
    from django_tasks_db.models import DBTaskResult

    for task in DBTaskResult.objects.running():
        if len(task.worker_ids) < TRIES_PER_TASK:
            task.status = "READY"
        else:
            task.status = "FAILED"
            task.finished_at = timezone.now()
            task.traceback = f"Stopped half-way {len(task.worker_ids)} times."
        task.save(update_fields=["status", "finished_at", "traceback"])


def load_app() -> None:
    """Load all that both halves use while there is only one process, so that they share it."""
    from django.db import connections
    from django.urls import get_resolver

    import sugarbush.wsgi  # noqa: F401

    _ = get_resolver().url_patterns
    connections.close_all()


def serve_pages(listener: socket.socket, *, address: str) -> int:
    """Serve pages with gunicorn on the port that is held already."""
    from gunicorn.app.base import Application

    class Pages(Application):
        def load_config(self) -> None:
            self.load_config_from_file(str(ROOT / "deploy" / "gunicorn.conf.py"))
            self.cfg.set("bind", f"fd://{listener.detach()}")
            self.cfg.set("when_ready", lambda arbiter: say(f"sugarbush is ready at {address}  (Ctrl-C stops it)"))

        def load(self) -> object:
            from sugarbush.wsgi import application

            return application

    Pages().run()
    return 0


def work_in_background() -> int:
    """Run imports and other long work, one task at a time.

    The worker of manage.py db_worker, with our own way to stop: quiet, and after the task in hand if there is one.
    """
    from django.db import connections
    from django.utils.crypto import get_random_string
    from django_tasks_db.management.commands.db_worker import Worker

    worker = Worker(
        queue_names=["*"],
        excluded_queue_names=[],
        interval=1,
        batch=False,
        backend_name="default",
        startup_delay=False,
        max_tasks=None,
        worker_id=get_random_string(32),
    )

    def stop(_number: int, _frame: FrameType | None) -> None:
        worker.running = False
        if not worker.running_task:
            sys.exit(0)

    signal.signal(signal.SIGTERM, stop)
    try:
        worker.run()
    finally:
        connections.close_all()
    return 0


def say(line: str) -> None:
    print(line, flush=True)


if __name__ == "__main__":
    sys.exit(main())
