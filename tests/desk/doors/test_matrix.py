"""Every address x reading and pressing x everybody: each answer is the one that the table says.

The list of addresses comes from the URLconf: one without a line in the table fails. Who may do an act is asked of the
app's own table of who may do what, so a view that asks for another act, or for none, is found here.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.db import transaction
from django.http import HttpResponseBase
from django.test import Client
from django.urls import reverse
from pytest_django.plugin import DjangoDbBlocker

from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person
from tests.desk.doors.table import DOORS, Door
from tests.desk.doors.town import Town
from tests.desk.test_doors import NAMES, all_patterns

FOUND, FORBIDDEN, NOTHING, NO_METHOD, SIGN_IN, BROKEN = "found", "403", "404", "405", "sign in", "500"
NO_TOKEN = "401"
CLOSED = {FORBIDDEN, NOTHING}
OUTSIDE = {"stranger", "lapsed lead", "nobody"}
METHODS = ("get", "post")
pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def town(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Town]:
    with django_db_blocker.unblock(), transaction.atomic():
        yield Town()
        transaction.set_rollback(True)


def test_every_address_has_a_line_and_every_line_an_address() -> None:
    assert set(NAMES) == set(DOORS)


@pytest.mark.parametrize("who", [*sorted(OUTSIDE), "other lead", "volunteer"])
def test_each_door_answers_as_the_table_says(who: str, town: Town) -> None:
    assert wrong_answers(town, who) == []


@pytest.mark.heavy
@pytest.mark.slow
@pytest.mark.parametrize(
    "who", ["coordinator", "lead", "depot keeper", "boil lead", "steward", "reviewer", "other volunteer"]
)
def test_each_door_answers_everybody_else_as_the_table_says(who: str, town: Town) -> None:
    assert wrong_answers(town, who) == []


def wrong_answers(town: Town, who: str, only: frozenset[str] = frozenset(DOORS)) -> list[str]:
    """Each door that answered this person otherwise than its line says."""
    person = town.cast[who] if who != "nobody" else None
    client = Client(raise_request_exception=False)
    wrong = []
    for _route, pattern in all_patterns():
        if pattern.name not in only:
            continue
        door = DOORS[str(pattern.name)]
        url = reverse(door.name, kwargs=town.values(door.about))
        for method in METHODS:
            if person:
                client.force_login(person)
            with transaction.atomic():
                answer = outcome(getattr(client, method)(url))
                transaction.set_rollback(True)
            wanted = expected(town, door, door.get if method == "get" else door.post, who, person)
            if answer not in wanted:
                wrong.append(f"{method} {url} ({door.name}): {answer}, not {' or '.join(sorted(wanted))}")
    return wrong


def outcome(answer: HttpResponseBase) -> str:
    status = answer.status_code
    if getattr(answer, "streaming", False):
        b"".join(answer.streaming_content)  # type: ignore[attr-defined]  # a file may break while it is written
    if status == 302 and answer["Location"].startswith("/sign-in/"):
        return SIGN_IN
    return {401: NO_TOKEN, 403: FORBIDDEN, 404: NOTHING, 405: NO_METHOD}.get(status, BROKEN if status >= 500 else FOUND)


def expected(town: Town, door: Door, need: str, who: str, person: Person | None) -> set[str]:
    if need == "open":
        return {FOUND}
    if need == "token":
        return {NO_TOKEN}
    if need == "leaves":
        return {SIGN_IN}
    if need == "shut":
        # A card that is none is told so on the page where its code is typed; strangers get no page at all.
        return {*CLOSED, FOUND} if door.name == "join-card" else CLOSED | ({SIGN_IN} if who == "nobody" else set())
    if need == "-":
        return {NO_METHOD} if who not in OUTSIDE and not door.is_of_a_group else {NO_METHOD, SIGN_IN, *CLOSED}
    if who == "nobody":
        return {SIGN_IN, FORBIDDEN}
    if need == "in":
        return {FOUND}
    if need == "former":
        return {FOUND} if who != "stranger" else CLOSED
    act, *more = need.replace("?", "").replace(",", "").split()
    if may(town, person, door, act, more):
        return {FOUND, NOTHING} if "?" in need else {FOUND}
    if who in OUTSIDE:
        return CLOSED
    if door.is_of_a_group and not sees(town, person, door):
        return {NOTHING}
    return CLOSED


def may(town: Town, person: Person | None, door: Door, act: str, more: list[str]) -> bool:
    assert person is not None
    if "Bob" in more and "but" not in more and person.display_name == "Bob":
        return True
    if "but" in more and person.display_name in more:
        return False
    if "everywhere" in more:
        access.forget_roles(person)
        return access.scope(person, act).everything
    return town.may(person, act, anywhere=not door.is_of_a_group)


def sees(town: Town, person: Person | None, door: Door) -> bool:
    """Whether the person is of the row's group, or of the whole programme: then a refusal may say what it refuses."""
    return town.may(person, "trees.see", anywhere=False)


def test_a_view_that_asked_for_another_act_would_be_found(town: Town, monkeypatch: pytest.MonkeyPatch) -> None:
    """The check itself: where the table says otherwise than the view does, it is told."""
    monkeypatch.setitem(DOORS, "history", Door("history", "", "trees.see", "-"))
    monkeypatch.setitem(DOORS, "people", Door("people", "", "audit.see", "-"))
    told = wrong_answers(town, "other lead", only=frozenset({"history", "people", "trees", "tree"}))
    assert [line.split(" ")[1] for line in told] == ["/audit/", "/people/"]
