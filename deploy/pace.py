"""A thread of the web server waits for nobody for ever: who sends a request too slowly is let go.

gunicorn's threads read without a limit. A phone that loses its signal in the midst of sending would keep one of the few
for good, and eight of them, or one visitor who means ill, the whole server. Against somebody who opens new lines again
and again only a web server in front helps, which hands a request on when it is whole.
"""

from __future__ import annotations

import errno
import select
import socket
import time
from typing import Any

from gunicorn.workers.gthread import ThreadWorker

START_S = 20
"""So long for a request to be here as a whole, besides what its bytes are given."""
FIRST_S = 1
"""So long a thread waits for the first byte; then the line waits without one."""
LEAST_BYTES_S = 500
"""Each byte that comes gives so many parts of a second more: a photo through the worst of signals still arrives."""
NOT_TAKEN_MS = 120_000
"""An answer that nobody takes any more is given up after this."""


class PacedSocket:
    """The reading end of a connection, for one request after the other."""

    def __init__(self, sock: socket.socket) -> None:
        self.sock = sock
        self.until = 0.0
        self._poll = select.poll()
        self._poll.register(sock, select.POLLIN)

    def begin(self) -> None:
        """A new request starts."""
        self.until = time.monotonic() + START_S

    def recv(self, size: int) -> bytes:
        """What has come, at most `size` bytes. Raises ConnectionResetError where the time is over."""
        left_s = self.until - time.monotonic()
        if left_s <= 0 or not self._poll.poll(left_s * 1000):
            raise ConnectionResetError(errno.ECONNRESET, "the request came too slowly")
        got = self.sock.recv(size)
        self.until += len(got) / LEAST_BYTES_S
        return got


class Worker(ThreadWorker):
    """gunicorn's worker with threads, reading at a pace, and closing where it keeps nobody else waiting."""

    def handle(self, conn: Any) -> Any:
        if not conn.initialized and conn.wait_for_data(FIRST_S):
            conn.init()
            if hasattr(socket, "TCP_USER_TIMEOUT"):
                conn.sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT, NOT_TAKEN_MS)
            conn.parser.unreader.sock = PacedSocket(conn.sock)
        if conn.initialized:
            conn.parser.unreader.sock.begin()
        goes_on = super().handle(conn)
        if goes_on is False:
            # Closing waits two seconds for a client that does not close. gunicorn would wait in the thread that takes
            # in new lines, so that one such client after the other shuts everybody out.
            conn.close(graceful=True)
            conn.close = _closed
        return goes_on


def _closed(graceful: bool = False) -> None:
    """Closed already."""
