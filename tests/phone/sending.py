"""A phone for tests: it sends batches as the round's script does."""

from __future__ import annotations

import time
import uuid
from typing import Any

from django.test import Client
from django.urls import reverse

from sugarbush.trees.models import Tree
from sugarbush.volunteers.models import Person
from tests import make

MINUTE, HOUR, DAY = 60_000, 3_600_000, 86_400_000


def now_ms() -> int:
    return time.time_ns() // 1_000_000


def visit(tree: Tree, *, litres: float = 6.5, ago_ms: int = 5 * MINUTE, **more: Any) -> dict[str, Any]:
    said = {"tree": tree.code, "outcome": "sap", "volume_ml": int(litres * 1000), "look": "clear"}
    return entry("visit", ago_ms=ago_ms, **{**said, **more})


def quick(tree: Tree, outcome: str, **more: Any) -> dict[str, Any]:
    return entry("visit", tree=tree.code, outcome=outcome, **more)


def hole(tree: Tree, **more: Any) -> dict[str, Any]:
    said = {
        "height_mm": 900,
        "aspect_deg": 180,
        "bit_um": 7_938,
        "depth_mm": 45,
        "shavings": "white",
        "holds_ml": 8_000,
    }
    return entry("tap", tree=tree.code, **{**said, **more})


def entry(kind: str, *, ago_ms: int = 5 * MINUTE, **body: Any) -> dict[str, Any]:
    return {"id": str(uuid.uuid4()), "kind": kind, "happened_ms": now_ms() - ago_ms, **body}


class Phone:
    """One person's phone. clock_off_ms: how far its clock is behind ours."""

    def __init__(self, person: Person | None = None, *, clock_off_ms: int = 0) -> None:
        self.person = person or make.bob()
        self.client = Client()
        self.client.force_login(self.person)
        self.clock_off_ms = clock_off_ms

    def post(self, *entries: dict[str, Any], **batch: Any) -> Any:
        body = {
            "format": 1,
            "person": str(self.person.key),
            "phone_now_ms": now_ms() - self.clock_off_ms,
            "entries": list(entries),
        }
        return self.client.post(reverse("round-outbox"), {**body, **batch}, content_type="application/json")

    def send(self, *entries: dict[str, Any]) -> list[dict[str, Any]]:
        answer = self.post(*entries)
        assert answer.status_code == 200, answer.content
        answers: list[dict[str, Any]] = answer.json()["answers"]
        return answers

    def send_one(self, entry: dict[str, Any]) -> dict[str, Any]:
        (answer,) = self.send(entry)
        return answer
