"""A program that asks with a token, as a GIS or a script does."""

from __future__ import annotations

from typing import Any

from django.test import Client
from django.urls import reverse

from sugarbush.api import tokens
from sugarbush.volunteers.models import Person

EVERYTHING = ("trees", "totals", "entries")
PROBLEM = "application/problem+json"


class Program:
    """No cookies, no session: only the token in the head."""

    def __init__(self, person: Person | None, scopes: tuple[str, ...] = EVERYTHING) -> None:
        self.secret = tokens.make(person=person, name="a map", scopes=scopes)[1] if person else ""

    def ask(self, name: str, *args: Any, secret: str | None = None, **query: Any) -> Any:
        address = name if name.startswith("/") else reverse(name, args=args)
        secret = self.secret if secret is None else secret
        head = {"Authorization": f"Bearer {secret}"} if secret else {}
        return Client().get(address, query or None, headers=head)

    def read(self, name: str, *args: Any, **query: Any) -> dict[str, Any]:
        answer = self.ask(name, *args, **query)
        assert answer.status_code == 200, answer.content
        body: dict[str, Any] = answer.json()
        return body

    def pages(self, name: str, *args: Any, rows: str, **query: Any) -> list[dict[str, Any]]:
        """All rows, page by page, as the next links lead."""
        found: list[dict[str, Any]] = []
        body = self.read(name, *args, **query)
        while True:
            found += body[rows]
            following = [link["href"] for link in body["links"] if link["rel"] == "next"]
            if not following:
                return found
            assert len(found) < 1_000
            body = self.read(following[0].removeprefix("http://testserver"))
