"""The app's side of the pressroom: one child process for each worker, started when something is first printed.

It ends after a minute without work, when it takes too long, and with its worker. Several threads may print: they take
turns. Whatever becomes of the child, the next one who prints gets a new one.
"""

from __future__ import annotations

import base64
import contextlib
import json
import os
import selectors
import struct
import subprocess
import sys
import threading
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from django.conf import settings

CHILD = Path(__file__).with_name("child.py")
IDLE_S = 60.0
LONGEST_S = 20.0
"""What a page waits for. The background worker gives its long documents more."""
WAIT_S = 25.0


class PressFailed(Exception):  # noqa: N818
    """A document could not be set; the words are for the log."""


class PressBusy(PressFailed):
    """Others are printing and the turn did not come in time."""


class CannotShow(Exception):  # noqa: N818
    """Text that no font can show. `characters`: each once, in the order met."""

    def __init__(self, characters: str) -> None:
        super().__init__(characters)
        self.characters = characters


class _Gone(Exception):  # noqa: N818
    """The child has ended; nothing says that the work was at fault."""


class Press:
    """One child and the turns at it. Safe between threads; a forked process gets a child of its own."""

    def __init__(self, *, idle_s: float = IDLE_S, fonts: str | None = None) -> None:
        self._idle_s = idle_s
        self._fonts = fonts
        self._turn = threading.Lock()
        self._child: subprocess.Popen[bytes] | None = None
        self._home = os.getpid()
        self._used = 0.0
        self._closer: threading.Timer | None = None

    def print_pdf(
        self,
        texts: Mapping[str, str],
        pictures: Mapping[str, bytes] | None = None,
        *,
        anyway: bool = False,
        longest_s: float = LONGEST_S,
    ) -> bytes:
        """The document main.typ of these files as PDF.

        texts, pictures: what the document may read, by name; nothing else is there for it.
        anyway: set boxes for what no font can show, instead of raising CannotShow.
        Raises CannotShow, PressBusy or PressFailed.
        """
        asked = {
            "do": "set",
            "texts": dict(texts),
            "pictures": {name: base64.b64encode(kept).decode() for name, kept in (pictures or {}).items()},
            "anyway": anyway,
        }
        said, made = self._ask(asked, longest_s)
        if said.get("missing"):
            raise CannotShow(str(said["missing"]))
        return made

    def cannot_show(self, characters: str) -> str:
        """Those of the characters that neither the built-in fonts nor the programme's own can show, each once."""
        asked = "".join(dict.fromkeys(one for one in characters if not one.isascii()))
        if not asked:
            return ""
        said, _made = self._ask({"do": "missing", "characters": asked}, LONGEST_S)
        return str(said["missing"])

    def families(self) -> list[str]:
        """The names of the fonts there are."""
        said, _made = self._ask({"do": "families"}, LONGEST_S)
        return list(said["families"])

    @property
    def child_pid(self) -> int | None:
        """The process that is setting, or None while there is none."""
        child = self._child
        return child.pid if child is not None and child.poll() is None else None

    def close(self) -> None:
        """End the child; the next print starts another."""
        with self._turn:
            self._end()

    # Inside a turn ---------------------------------------------------------------

    def _ask(self, asked: dict[str, Any], longest_s: float) -> tuple[dict[str, Any], bytes]:
        self._at_home()
        if not self._turn.acquire(timeout=WAIT_S + longest_s):
            raise PressBusy("others were printing for too long")
        try:
            body = json.dumps(asked).encode()
            try:
                said, made = self._talk(body, longest_s)
            except _Gone:
                # It may have ended between two documents; a second end is the document's own doing.
                try:
                    said, made = self._talk(body, longest_s)
                except _Gone as why:
                    raise PressFailed("the pressroom ended while it was setting this document") from why
            if said.pop("leaves", False):
                self._end()
            else:
                self._used = time.monotonic()
                self._close_later(self._idle_s)
            if "error" in said:
                raise PressFailed(str(said["error"]))
            return said, made
        finally:
            self._turn.release()

    def _talk(self, body: bytes, longest_s: float) -> tuple[dict[str, Any], bytes]:
        give_up = time.monotonic() + longest_s
        try:
            child = self._child
            if child is None or child.poll() is not None:
                self._end()
                child = self._child = self._start()
            if child.stdin is None or child.stdout is None:
                raise _Gone
            # The child reads a whole message before it works, so that neither waits for the other.
            child.stdin.write(struct.pack(">I", len(body)) + body)
            child.stdin.flush()
            return json.loads(self._frame(child, give_up)), self._frame(child, give_up)
        except (BrokenPipeError, _Gone) as why:
            self._end()
            raise _Gone from why
        except BaseException:
            # What is half said cannot be taken up again.
            self._end()
            raise

    def _start(self) -> subprocess.Popen[bytes]:
        fonts = self._fonts if self._fonts is not None else settings.FONTS
        return subprocess.Popen(  # noqa: S603  # our own file, and a folder from the settings
            [sys.executable, "-I", str(CHILD), *([fonts] if fonts else [])],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            # No secret of the app's environment; one thread and one heap keep it small.
            env={"RAYON_NUM_THREADS": "1", "MALLOC_ARENA_MAX": "1", "PATH": os.defpath},
        )

    def _frame(self, child: subprocess.Popen[bytes], give_up: float) -> bytes:
        (length,) = struct.unpack(">I", self._bytes(child, 4, give_up))
        return self._bytes(child, length, give_up)

    def _bytes(self, child: subprocess.Popen[bytes], count: int, give_up: float) -> bytes:
        if child.stdout is None:
            raise _Gone
        got = bytearray()
        with selectors.DefaultSelector() as ready:
            ready.register(child.stdout, selectors.EVENT_READ)
            while len(got) < count:
                left = give_up - time.monotonic()
                if left <= 0 or not ready.select(left):
                    raise PressFailed("the document took too long to set")
                part = os.read(child.stdout.fileno(), min(count - len(got), 1 << 20))
                if not part:
                    raise _Gone
                got += part
        return bytes(got)

    def _end(self) -> None:
        child, self._child = self._child, None
        if child is None:
            return
        child.kill()
        child.wait()
        for pipe in (child.stdin, child.stdout):
            if pipe is not None:
                with contextlib.suppress(OSError):  # the rest of a message that nobody will read
                    pipe.close()

    def _close_later(self, seconds: float) -> None:
        if self._closer is not None:
            self._closer.cancel()
        self._closer = threading.Timer(seconds, self._close_if_idle)
        self._closer.daemon = True
        self._closer.start()

    def _close_if_idle(self) -> None:
        with self._turn:
            if time.monotonic() - self._used >= self._idle_s * 0.9:
                self._end()

    def _at_home(self) -> None:
        """A fork holds the other process's pipes: it lets go of them and starts with nothing."""
        if self._home != os.getpid():
            self.__init__(idle_s=self._idle_s, fonts=self._fonts)  # type: ignore[misc]


press = Press()
"""The one of this process."""
