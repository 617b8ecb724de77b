"""A mail server on this machine that keeps what it is given; it can refuse, put off and hang up as told."""

from __future__ import annotations

import email
import email.policy
import re
import socket
import socketserver
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from email.header import decode_header, make_header
from email.message import EmailMessage


class Sink(socketserver.ThreadingTCPServer):
    """answers: what to say to RCPT of an address, such as {"a@b.example": "550 no such box"}.

    hang_up_after: so many mails taken, then the line goes dead after the next mail's last dot, without an answer.
    """

    allow_reuse_address = daemon_threads = True

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), Talk)
        self.kept: list[tuple[str, list[str], bytes]] = []
        self.answers: dict[str, str] = {}
        self.hang_up_after: int | None = None

    @property
    def port(self) -> int:
        return int(self.server_address[1])

    @property
    def mails(self) -> list[EmailMessage]:
        return [email.message_from_bytes(raw, policy=email.policy.default) for _from, _to, raw in self.kept]

    def header(self, name: str) -> list[str]:
        """A header of each mail in plain words, put together as RFC 2047 says (the newer parser adds gaps to names)."""
        read = [email.message_from_bytes(raw)[name] for _from, _to, raw in self.kept]
        return [str(make_header(decode_header(one))) for one in read]

    @property
    def envelopes(self) -> list[list[str]]:
        return [to for _from, to, _raw in self.kept]


class Talk(socketserver.StreamRequestHandler):
    """The few words of RFC 5321 that a client needs."""

    server: Sink

    def say(self, words: str) -> None:
        self.wfile.write(words.encode() + b"\r\n")

    def handle(self) -> None:
        self.say("220 here")
        sender, to = "", list[str]()
        while line := self.rfile.readline().decode("utf-8", "replace").strip():
            word = line[:4].upper()
            named = re.search(r"<([^>]*)>", line)
            if word in {"EHLO", "HELO", "RSET", "NOOP"}:
                sender, to = "", []
                self.say("250 well")
            elif word == "MAIL":
                sender, to = named[1] if named else "", []
                self.say("250 well")
            elif word == "RCPT":
                address = named[1] if named else line
                answer = self.server.answers.get(address, "250 well")
                if answer.startswith("2"):
                    to.append(address)
                self.say(answer)
            elif word == "DATA":
                self.say("354 go on")
                raw = self.lines()
                self.server.kept.append((sender, to, raw))
                if self.server.hang_up_after is not None and len(self.server.kept) > self.server.hang_up_after:
                    self.server.hang_up_after = None
                    self.connection.shutdown(socket.SHUT_RDWR)
                    return
                self.say("250 kept")
            elif word == "QUIT":
                self.say("221 bye")
                return
            else:
                self.say("502 not here")

    def lines(self) -> bytes:
        found = []
        while (line := self.rfile.readline()) and line != b".\r\n":
            found.append(line.removeprefix(b".") if line.startswith(b"..") else line)
        return b"".join(found)


@contextmanager
def listening() -> Iterator[Sink]:
    with Sink() as sink:
        threading.Thread(target=sink.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True).start()
        yield sink
        sink.shutdown()
