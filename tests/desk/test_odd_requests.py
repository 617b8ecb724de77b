"""Requests no browser of ours sends: they get an answer in words, never a fault of the server."""

from __future__ import annotations

import json

import pytest
from django.test import Client

from tests import make
from tests.desk.test_doors import DOORS, address

pytestmark = pytest.mark.django_db
NAMES_ASKED = (
    "as at back by code e fragment from group id kind lot n next number on only open order owner page person q"
)
NAMES_ASKED += " runs s season size sort state to tree trees units w what when x y year z"
# Pages that read words of the address without a form; all others are asked in the long run.
LOOSE = ["map", "map-find", "trees", "trace", "paper-find", "season-review", "my-share"]


def test_a_host_that_is_no_name_is_refused_as_a_bad_question():
    # Refused before anybody was asked who they are, so the page of refusal is drawn without a person.
    answer = Client(raise_request_exception=False).get("/", headers={"host": "quillhaven.example/<x>"})
    assert answer.status_code == 400
    assert "could not be read" in answer.content.decode()


@pytest.mark.parametrize("doors", [LOOSE, pytest.param([], marks=pytest.mark.slow)], ids=["some", "all"])
@pytest.mark.parametrize("odd", ["a\x00b", "9" * 5_000])
def test_odd_words_in_an_address_are_no_fault_of_the_server(doors: list[str], odd: str):
    alice, tree = Client(raise_request_exception=False), make.tapped_tree()
    alice.force_login(make.alice())
    for route, pattern in DOORS:
        if doors and pattern.name not in doors:
            continue
        answer = alice.get(address(route, pattern, tree.code), dict.fromkeys(NAMES_ASKED.split(), odd))
        assert answer.status_code < 500, route


@pytest.mark.parametrize("odd", [{"format": []}, {"format": {}}, {"format": True}, {"entries": [{"tree": "\x00"}]}])
def test_an_odd_batch_of_a_phone_is_refused_in_words(odd: dict[str, object]):
    bob = Client(raise_request_exception=False)
    bob.force_login(make.bob())
    batch = {"format": 1, "person": str(make.bob().key), "phone_now_ms": 0, "entries": []} | odd
    answer = bob.post("/round/outbox/", json.dumps(batch), content_type="application/json")
    if "format" in odd:
        assert (answer.status_code, answer.json()) == (400, {"code": "unknown-format"})
    else:
        assert [word["state"] for word in answer.json()["answers"]] == ["refused"]


@pytest.mark.parametrize(
    ("route", "typed", "status"),
    [
        ("/depots/new/", {"name": "Yard", "groups": ["9" * 20]}, 422),
        ("/boil-days/new/", {"day": "2026-03-01", "site": "Yard", "pan_area_cm2": "1e999"}, 422),
        (
            "/groups/{group}/cards/",
            {"good_to": "2026-03-01", "member_to": "9999-12-31"},
            422,
        ),
        ("/permissions/new/", {"tree": "{tree}", "owner": "9" * 5_000}, 200),
    ],
)
def test_numbers_and_days_beyond_reason_are_no_fault_of_the_server(route: str, typed: dict[str, str], status: int):
    alice, tree = Client(raise_request_exception=False), make.tapped_tree()
    alice.force_login(make.alice())
    typed = {name: tree.code if value == "{tree}" else value for name, value in typed.items()}
    answer = alice.post(route.format(group=make.group().pk), typed)
    # SQLite cannot be asked for a key of more than 64 bits at all; PostgreSQL says that there is none.
    assert answer.status_code in {status, 400}
