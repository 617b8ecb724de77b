"""Who may be put on a run or a shift together: a minor never without consent and two screened adults who are there."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from sugarbush.boils import days, shifts
from sugarbush.gathering import crew, round_acts, run_acts
from sugarbush.gathering.models_rounds import Part, Round, RoundRun, RunPerson
from sugarbush.parts.reasons import Refused
from sugarbush.volunteers.models import Credential, Person
from tests import make
from tests.boils.cast import ago, boil_day

pytestmark = pytest.mark.django_db


def refused(act: Callable[..., Any], **given: Any) -> list[str]:
    with pytest.raises(Refused) as why:
        act(**given)
    return [reason.code for reason in why.value.reasons]


def a_round() -> Round:
    trees = [make.tapped_tree(address=f"{n} Larkspur Street", nth=n) for n in (1, 2)]
    given: dict[str, Any] = {"season": make.season(), "group": make.group(), "latest_start": dt.time(16)}
    return round_acts.make_round(**given, by=make.lena(), name="Larkspur", trees=trees)


def screened(name: str) -> Person:
    return make.person(name, credentials=["screening"])


def lapse(person: Person, kind: str) -> None:
    Credential.objects.filter(person=person, kind=kind).update(valid_to=make.today() - make.days(1))


def comes(run: RoundRun) -> set[str]:
    return {one.person.display_name for one in crew.people_of([run.pk])[run.pk] if one.comes}


def test_a_fifteen_year_old_walks_a_round_only_with_consent_and_two_screened_adults_who_stay():
    found, lena, today = a_round(), make.lena(), make.today()
    wren = make.person("Wren", age_band="child")
    bob, asa, noor = make.bob(), screened("Asa"), screened("Noor")

    def give(*walks: Person, standby: tuple[Person, ...] = ()) -> list[RoundRun]:
        return run_acts.give_runs(found=found, by=lena, first=today, last=today, walks=walks, standby=standby)

    assert refused(give_runs := run_acts.give_runs, found=found, by=lena, first=today, last=today, walks=[wren]) == [
        "consent", "adults"
    ]  # fmt: skip
    Credential.objects.create(person=wren, kind="guardian", valid_from=today, by_self=True, note="said on a phone")
    assert "consent" in refused(give_runs, found=found, by=lena, first=today, last=today, walks=[wren, asa, noor])
    Credential.objects.create(person=wren, kind="guardian", valid_from=today, vouched_by=make.alice())
    assert refused(give_runs, found=found, by=lena, first=today, last=today, walks=[wren, asa]) == ["adults"]
    assert refused(give_runs, found=found, by=lena, first=today, last=today, walks=[wren, asa, bob]) == ["screening"]
    # Who only stands by is not there.
    asked: dict[str, Any] = {
        "found": found,
        "by": lena,
        "first": today,
        "last": today,
        "walks": [wren, asa],
        "standby": [noor],
    }
    assert refused(give_runs, **asked) == ["adults"]
    assert not RoundRun.objects.exists()

    give(asa, noor)
    [run] = give(wren)  # beside those who are on it already
    assert comes(run) == {"Wren", "Asa", "Noor"}
    assert refused(run_acts.leave_run, run=run, person=asa, by=lena) == ["needed"]
    lena_page = Client()
    lena_page.force_login(lena)
    off = {"step": "leave", "person": RunPerson.objects.get(run=run, person=asa).pk}
    answer = lena_page.post(reverse("run-step", args=[run.pk]), off)
    assert (answer.status_code, "needs two screened adults on this run" in answer.content.decode()) == (409, True)
    # An adult who cannot come says so all the same; the minor is out from that moment, and the gap is seen.
    run_acts.say(run=run, by=asa, answer="no")
    assert comes(run) == {"Noor"}
    run_acts.say(run=run, by=asa, answer="yes")
    lapse(noor, "screening")
    assert comes(run) == {"Asa", "Noor"}
    page = lena_page.get(reverse("run", args=[run.pk])).content.decode()
    assert "two adults beside them need a screening" in page
    asa_page = Client()
    asa_page.force_login(asa)
    assert "under 18" not in asa_page.get(reverse("run", args=[run.pk])).content.decode()
    for one in (wren, noor):
        run_acts.leave_run(run=run, person=one, by=lena)
    assert comes(run) == {"Asa"}
    Person.objects.filter(pk=asa.pk).update(is_active=False)
    assert comes(run) == set()


def test_whoever_stands_by_is_called_only_where_they_may_be_and_the_next_is_offered():
    found, lena, today = a_round(), make.lena(), make.today()
    wren, bob = make.person("Wren", age_band="youth", credentials=["guardian"]), make.bob()
    [run] = run_acts.give_runs(found=found, by=lena, first=today, last=today, walks=[make.person("Ida")])
    RunPerson.objects.create(run=run, person=wren, part=Part.STANDBY, nth=0)
    RunPerson.objects.create(run=run, person=bob, part=Part.STANDBY, nth=1)
    assert crew.next_standby(run).person == bob
    assert refused(run_acts.call_standby, run=run, by=lena, person=wren) == ["standby"]
    assert run_acts.call_standby(run=run, by=lena, person=bob).part == Part.WALKS


def test_a_shift_loses_nobody_a_minor_needs_and_a_lapsed_screening_is_a_gap_that_stops_the_fire():
    day, kai = boil_day(), make.kai()
    wren, asa, noor = make.person("Wren", age_band="child", credentials=["guardian"]), screened("Asa"), screened("Noor")
    span: dict[str, Any] = {"day": day, "by": kai, "begins": ago(10), "ends": timezone.now() + dt.timedelta(hours=2)}
    shift = shifts.keep_shift(**span, people=[wren, asa, noor])
    assert refused(shifts.keep_shift, **span, shift=shift, people=[wren, asa]) == ["adults"]
    assert days.why_not_lit(day, kai) == []
    lapse(noor, "screening")
    assert [reason.code for reason in days.why_not_lit(day, kai)] == ["screening"]
    page = Client()
    page.force_login(kai)
    assert "two adults beside them need a screening" in page.get(reverse("boil-day", args=[day.pk])).content.decode()
    bob = Client()
    bob.force_login(make.bob())
    assert "under 18" not in bob.get(reverse("boil-day", args=[day.pk])).content.decode()
    # An adult who has left stands at no pan: one is missing now.
    shift = shifts.keep_shift(**span, shift=shift, people=[asa, noor])
    Person.objects.filter(pk=noor.pk).update(is_active=False)
    assert [reason.code for reason in days.why_not_lit(day, kai)] == ["crew"]
