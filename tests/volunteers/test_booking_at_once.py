"""Two leads at one run at the same moment: somebody under 18 never stays there without two screened adults."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest

from sugarbush.gathering import crew, round_acts, run_acts
from sugarbush.volunteers import rules
from sugarbush.volunteers.models import Credential, HouseRules, Person
from tests import make
from tests.volunteers.test_cards_at_once import at_once

pytestmark = pytest.mark.django_db(transaction=True)


def test_of_two_who_each_take_an_adult_away_one_is_refused_and_two_yeses_are_one() -> None:
    lena, today = make.lena(), make.today()
    found = round_acts.make_round(
        season=make.season(), group=make.group(), by=lena, name="Larkspur", latest_start=dt.time(16),
        trees=[make.tapped_tree()],
    )  # fmt: skip
    adults = [make.person(name, credentials=["screening"]) for name in ("Asa", "Noor", "Ida")]
    wren = make.person("Wren", age_band="child", credentials=["guardian"])
    span: dict[str, Any] = {"found": found, "by": lena, "first": today, "last": today}
    [run] = run_acts.give_runs(**span, walks=[*adults, wren])

    def off(person: Person) -> Callable[[], Any]:
        return lambda: run_acts.leave_run(run=run, person=person, by=lena)

    given = at_once(off(adults[0]), off(adults[1]))
    assert sorted(type(each).__name__ for each in given) == ["NoneType", "Refused"]
    assert len([one for one in crew.people_of([run.pk])[run.pk] if one.comes]) == 3

    def publish(words: str) -> Callable[[], Any]:
        said: dict[str, Any] = {"after": 0, "asks_anew": True, "needed_from": today}
        return lambda: rules.publish(by=make.alice(), words=words, **said)

    make.alice()
    given = at_once(publish("One."), publish("Another."))
    assert sorted(type(each).__name__ for each in given) == ["HouseRules", "Refused"]
    assert HouseRules.objects.count() == 1
    at_once(*(lambda: rules.say_yes(person=lena, number=1) for _again in range(3)))
    assert Credential.objects.filter(person=lena, kind="waiver", version="1").count() == 1
