"""Several phones at one card at the same moment, and many wrong codes at once: counted right, whatever the database."""

from __future__ import annotations

import datetime as dt
import threading
import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection

from sugarbush.parts.reasons import Refused
from sugarbush.volunteers import cards, limits
from sugarbush.volunteers.models import JoinedByCard, Person
from tests import make

pytestmark = pytest.mark.django_db(transaction=True)


def at_once(*acts: Callable[[], Any]) -> list[Any]:
    """What each of the acts gave, or the refusal it met; each in a thread of its own, begun together."""
    gate, given = threading.Barrier(len(acts)), list[Any]()

    def one(act: Callable[[], Any]) -> None:
        gate.wait()
        try:
            given.append(act())
        except Refused as refusal:
            given.append(refusal)
        finally:
            connection.close()

    threads = [threading.Thread(target=one, args=(act,)) for act in acts]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(given) == len(acts)
    return given


def test_one_card_lets_one_in_and_one_press_makes_one_person_and_no_try_passes_uncounted() -> None:
    days: dict[str, Any] = {"good_from": make.today(), "good_to": make.today(), "member_to": make.today()}
    one, three = make.cards_of(1, **days), make.cards_of(1, most=3, **days)

    def join(card: Any, press: str, name: str) -> Callable[[], Any]:
        said: dict[str, Any] = {"display_name": name, "units": "us", "age_band": "adult"}
        return lambda: cards.join(card=card, press=press, **said)

    [card] = one.cards.all()
    given = at_once(*(join(card, str(uuid.uuid4()), f"Phone {n}") for n in range(4)))
    assert sorted(type(each).__name__ for each in given) == ["JoinedByCard", "Refused", "Refused", "Refused"]
    [wall] = three.cards.all()
    given = at_once(*(join(wall, "the same press", "Tove") for _again in range(3)))
    assert len({each.person_id for each in given if isinstance(each, JoinedByCard)}) == 1

    for each in (card, wall):
        each.refresh_from_db()
    assert ([card.used, wall.used], Person.objects.filter(display_name="Tove").count()) == ([1, 1], 1)

    limit = limits.Limit(name="at once", most=5, within=dt.timedelta(minutes=1))
    waits = at_once(*(lambda: limits.take(limit, "somebody") for _try in range(12)))
    assert sum(wait is None for wait in waits) == 5
