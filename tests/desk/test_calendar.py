"""A person's calendar as other programs read it: what stands in it and what must not, and its private address."""

from __future__ import annotations

import datetime as dt
import logging
from typing import Any

import icalendar
import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from sugarbush.audit.models import AuditEvent
from sugarbush.boils import days
from sugarbush.boils.models import BoilDay
from sugarbush.boils.models_pan import Shift
from sugarbush.desk.calendar import views
from sugarbush.desk.calendar.events import events_of
from sugarbush.gathering import run_acts
from sugarbush.gathering.models_rounds import Answer, Round, RoundRun, RunPerson
from sugarbush.parts.ics import Event
from sugarbush.volunteers import calendar_links, forgetting, limits
from sugarbush.volunteers.hiding import HideLinks
from sugarbush.volunteers.models import CalendarLink, Credential, Person
from tests import make

pytestmark = pytest.mark.django_db


def client_of(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def path_of(person: Person) -> str:
    link = calendar_links.make(person=person)
    return reverse("calendar-feed", args=[calendar_links.token_of(link)])


def feed(person: Person, **headers: str) -> Any:
    return Client().get(path_of(person), headers=headers)


def events(person: Person) -> dict[str, Any]:
    found = icalendar.Calendar.from_ical(feed(person).content)
    return {str(one["UID"]).partition("@")[0]: one for one in found.walk("VEVENT")}


def a_round(name: str = "Mill pond", group: str = "North Bank") -> Round:
    return Round.objects.create(season=make.season(), group=make.group(group), name=name, latest_start=dt.time(15, 30))


def a_run(found: Round, day: int, *people: Person, part: str = "walks") -> RoundRun:
    run = RoundRun.objects.create(round=found, date=make.today() + make.days(day))
    for person in people:
        RunPerson.objects.create(run=run, person=person, part=part)
    return run


def a_boil_day(**fields: Any) -> BoilDay:
    start = timezone.now().replace(minute=0, second=0, microsecond=0) + make.days(3)
    defaults = {"season": make.season(), "day": start.date(), "starts_at": start, "site": "14 Alder Lane, back yard"}
    return BoilDay.objects.create(lead=make.kai(), note="Ring Fern, 555-0142", **{**defaults, **fields})


def a_shift(day: BoilDay, person: Person) -> Shift:
    assert day.starts_at is not None
    shift = Shift.objects.create(boil_day=day, begins=day.starts_at, ends=day.starts_at + dt.timedelta(hours=3))
    shift.people.add(person)
    return shift


def test_it_holds_own_runs_boiling_days_shifts_and_the_season() -> None:
    bob = make.bob()
    found = a_round()
    walks, stands_by, cannot = a_run(found, 1, bob), a_run(found, 2, bob, part="standby"), a_run(found, 4, bob)
    others = a_run(found, 5, make.lena())
    RunPerson.objects.filter(run=cannot).update(answer=Answer.NO)
    day = a_boil_day()
    shift = a_shift(day, bob)
    Credential.objects.create(person=bob, kind="food", valid_from=make.today(), valid_to=make.today() + make.days(90))
    got = events(bob)
    year = make.season().year
    papers = f"credential-{bob.credentials.get(kind='food').pk}"
    assert set(got) == {
        *(f"run-{walks.pk}", f"run-{stands_by.pk}", f"boil-{day.pk}", f"shift-{shift.pk}"),
        *(f"tapping-{year}", f"taps-out-{year}", papers),
    }
    assert f"run-{others.pk}" not in got
    run = got[f"run-{walks.pk}"]
    assert run.decoded("DTSTART") == dt.datetime.combine(walks.date, dt.time(15, 30), dt.UTC)
    assert (str(run["STATUS"]), str(run["TRANSP"])) == ("CONFIRMED", "OPAQUE")
    assert str(run["URL"]).endswith(reverse("run", args=[walks.pk]))
    assert "Standing by" in str(got[f"run-{stands_by.pk}"]["SUMMARY"])
    assert got[f"taps-out-{year}"].decoded("DTSTART") == make.season().tapping_to
    assert got[f"tapping-{year}"].decoded("DTEND") == make.season().tapping_to + make.days(1)
    assert str(got[f"boil-{day.pk}"]["STATUS"]) == "TENTATIVE"  # planned, and not called yet


def test_it_tells_no_owner_no_yard_no_note_and_no_other_person() -> None:
    tree = make.given_tree(address="14 Alder Lane")
    fern = make.owner("Fern Abernathy-Sole", "person")
    make.owns(tree, fern)
    slip = make.permission(tree, owner=fern, signed_by="Fern Abernathy-Sole", insurance_to=make.today() + make.days(20))
    lena = make.lena()
    run = a_run(a_round(), 1, lena, make.bob())
    day = a_boil_day()
    run_acts.call_off(run=run, by=lena, reason="Fern is poorly")
    got = events(lena)
    text = feed(lena).content.decode().replace("\r\n ", "")
    for secret in ("Fern", "Alder", "555-0142", "Bob", "poorly", tree.code):
        assert secret not in text, secret
    assert f"Permission {slip.number} ends" in text
    assert got[f"permission-{slip.number}"].decoded("DTSTART") == slip.date_to
    assert got[f"insurance-{slip.number}"].decoded("DTSTART") == slip.insurance_to
    assert "permission-" not in feed(make.bob()).content.decode()
    BoilDay.objects.filter(pk=day.pk).update(site=make.depot().name)
    assert str(events(lena)[f"boil-{day.pk}"]["LOCATION"]) == "Mill Race yard"  # every member knows the depots
    mill = make.permission(make.given_tree(group=make.group("Mill Race")))
    assert f"permission-{mill.number}" not in events(lena)


def test_what_is_changed_comes_as_a_newer_version_of_the_same() -> None:
    bob, lena = make.bob(), make.lena()
    run = a_run(a_round(), 1, bob)

    def version() -> tuple[int, str, Any]:
        one = events(bob)[f"run-{run.pk}"]
        return int(one["SEQUENCE"]), str(one["STATUS"]), one.decoded("LAST-MODIFIED")

    seen = [version()]
    run_acts.call_off(run=run, by=lena, reason="thin ice")
    seen.append(version())
    run_acts.open_again(run=run, by=lena)
    seen.append(version())
    assert [status for _n, status, _at in seen] == ["CONFIRMED", "CANCELLED", "CONFIRMED"]
    assert [n for n, _s, _at in seen] == sorted({n for n, _s, _at in seen})
    assert [at for _n, _s, at in seen] == sorted(at for _n, _s, at in seen)
    day = a_boil_day()
    days.put_out(day=day, by=make.alice(), called_off=True, reason="storm")
    assert str(events(bob)[f"boil-{day.pk}"]["STATUS"]) == "CANCELLED"


def test_a_program_that_has_it_already_is_told_so_and_nobody_between_keeps_it() -> None:
    bob = make.bob()
    first = feed(bob)
    assert first["Content-Type"].startswith("text/calendar")
    assert "private" in first["Cache-Control"]
    again = feed(bob, if_none_match=f'"other", W/{first["ETag"]}')
    assert (again.status_code, again.content) == (304, b"")
    a_run(a_round(), 1, bob)
    assert feed(bob, if_none_match=first["ETag"]).status_code == 200
    assert Client().head(path_of(bob)).status_code == 200
    assert Client().post(path_of(bob)).status_code == 405


def test_the_address_is_made_shown_again_replaced_and_taken_away(monkeypatch: pytest.MonkeyPatch) -> None:
    bob = client_of(make.bob())
    page = reverse("my-calendar")
    assert "webcal:" not in bob.get(page).content.decode()
    assert bob.post(page, {"act": "make"}).status_code == 302
    address = bob.get(page).context["address"]
    bob.post(page, {"act": "make"})
    assert bob.get(page).context["address"] == address
    assert CalendarLink.objects.count() == 1
    token = address.split("/")[-2]
    assert len(token) == 64
    assert token not in str(list(CalendarLink.objects.values()))  # what is kept opens nothing
    old = address.removeprefix("http://testserver")
    assert Client().get(old).status_code == 200
    bob.post(page, {"act": "anew"})
    new = bob.get(page).context["address"].removeprefix("http://testserver")
    assert [Client().get(path).status_code for path in (old, new)] == [404, 200]
    assert reverse("my-calendar") in bob.get(reverse("me")).content.decode()
    monkeypatch.setattr("sugarbush.volunteers.calendar_links.opens", lambda link: False)  # another signing key
    assert "signing key" in bob.get(page).content.decode()
    bob.post(page, {"act": "withdraw"})
    assert Client().get(new).status_code == 404
    acts = AuditEvent.objects.filter(act__contains="calendar address").order_by("pk").values_list("act", flat=True)
    assert list(acts) == ["make calendar address", "make calendar address", "withdraw calendar address"]
    said = logging.LogRecord("x", logging.INFO, "x", 1, "GET %s", (new,), None)
    HideLinks().filter(said)
    assert said.getMessage() == "GET /calendar/(hidden)/sugarbush.ics"


def test_it_closes_when_somebody_leaves_and_is_empty_without_a_role() -> None:
    bob = make.bob()
    a_run(a_round(), 1, bob)
    path = path_of(bob)
    bob.memberships.update(date_to=make.today() - make.days(1))
    assert b"BEGIN:VEVENT" not in Client().get(path).content
    Person.objects.filter(pk=bob.pk).update(is_active=False)
    assert Client().get(path).status_code == 404
    bob.refresh_from_db()
    forgetting.forget(person=bob, by=make.alice(), reason="asked for it")
    assert not CalendarLink.objects.exists()


def test_too_many_askings_wait(monkeypatch: pytest.MonkeyPatch) -> None:
    path = path_of(make.bob())
    monkeypatch.setattr(views, "BY_LINK", limits.Limit(name="test link", most=2, within=dt.timedelta(hours=1)))
    assert [Client().get(path).status_code for _n in range(3)] == [200, 200, 429]
    assert int(Client().get(path)["Retry-After"]) > 3_000
    few = limits.Limit(name="test address", most=1, within=dt.timedelta(hours=1))
    monkeypatch.setattr(views, "BY_ADDRESS", few)
    monkeypatch.setattr(limits, "SHARED", 1)
    wrong = reverse("calendar-feed", args=["0" * 64])
    assert [Client().get(wrong).status_code for _n in range(2)] == [404, 429]


def test_twice_the_events_cost_no_more_questions() -> None:
    lena, found, trees = make.lena(), a_round(), [make.given_tree() for _n in range(4)]

    def more(first: int) -> None:
        for n in range(first, first + 2):
            a_run(found, n + 1, lena)
            day = a_boil_day(day=make.today() + make.days(n))
            a_shift(day, lena)
            make.permission(trees[n])

    def asked() -> tuple[int, list[Event]]:
        with CaptureQueriesContext(connection) as questions:
            got = events_of(Person.objects.get(pk=lena.pk), str)
        return len(questions), got

    more(0)
    before, few = asked()
    more(2)
    after, many = asked()
    assert len(many) > len(few)
    assert after == before <= 20


def test_a_single_run_or_boiling_day_is_a_file_of_its_own() -> None:
    bob = client_of(make.bob())
    run, day = a_run(a_round(), 1, make.bob()), a_boil_day()
    for name, key in (("run", run.pk), ("boil-day", day.pk)):
        answer = bob.get(reverse(name, args=[key]), {"as": "ics"})
        (one,) = icalendar.Calendar.from_ical(answer.content).walk("VEVENT")
        assert str(one["UID"]).startswith(f"{name.removesuffix('-day')}-{key}@")
        assert str(one["UID"]) in {str(other["UID"]) for other in events(make.bob()).values()}
        assert answer["Content-Disposition"].endswith('.ics"')
    mira = client_of(make.mira())
    assert mira.get(reverse("run", args=[run.pk]), {"as": "ics"}).status_code == 404
