"""Nobody keeps a thread of the web server for good by sending half a request."""

from __future__ import annotations

import socket
import time

import pytest

from deploy import pace
from deploy.pace import PacedSocket

pytestmark = pytest.mark.pure


def test_a_request_that_stops_half_way_is_let_go_and_one_that_goes_on_is_not(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pace, "START_S", 0.2)
    monkeypatch.setattr(pace, "LEAST_BYTES_S", 50)
    here, there = socket.socketpair()
    with here, there:
        paced = PacedSocket(here)
        paced.begin()
        begun = time.monotonic()
        for _piece in range(4):  # in all longer than the start allows, but each ten bytes bring 0.2 s
            there.sendall(b"ten bytes.")
            assert paced.recv(100) == b"ten bytes."
            time.sleep(0.1)
        with pytest.raises(ConnectionResetError):
            paced.recv(100)
        assert 0.4 < time.monotonic() - begun < 3
        with pytest.raises(ConnectionResetError):
            paced.recv(100)
        paced.begin()
        there.sendall(b"the next one")
        assert paced.recv(100) == b"the next one"
