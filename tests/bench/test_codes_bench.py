"""Whether an address is somebody's cannot be told by the time an answer takes: medians, known and unknown in turn."""

from __future__ import annotations

import statistics
import time
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from sugarbush.volunteers.models import Person
from tests import make

ROUNDS = 150
MOST_APART = 0.10
"""A tenth of an answer. The two are the same work, so what is left is the machine's own unrest."""


@pytest.mark.django_db(transaction=True)
def test_a_known_and_an_unknown_address_take_equally_long(settings: Any, capsys: Any) -> None:
    settings.SENDS_MAIL = True
    make.programme()
    people = [make.person(f"Person {n}", None) for n in range(ROUNDS)]
    for n, person in enumerate(people):
        Person.objects.filter(pk=person.pk).update(email=f"k{n:04}@quillhaven.example")
    took_s: dict[str, list[float]] = {"k": [], "u": []}
    for n in range(ROUNDS):
        for kind in ("ku", "uk")[n % 2]:
            client, where = Client(), f"198.51.{n % 250}.{n // 250 * 2 + (kind == 'k')}"
            began = time.perf_counter()
            asked = client.post(
                reverse("sign-in-ask"), {"email": f"{kind}{n:04}@quillhaven.example"}, REMOTE_ADDR=where
            )
            typed = client.post(reverse("sign-in-code"), {"code": "00000000"}, REMOTE_ADDR=where)
            took_s[kind].append(time.perf_counter() - began)
            assert (asked.status_code, typed.status_code) == (302, 422)
    known, unknown = (statistics.median(took_s[kind]) for kind in "ku")
    ratio = known / unknown
    with capsys.disabled():
        print(f"\nknown {known * 1000:.2f} ms, unknown {unknown * 1000:.2f} ms: ratio {ratio:.3f}")
    assert abs(ratio - 1) < MOST_APART
