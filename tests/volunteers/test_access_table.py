"""The table on the page is the table the programme asks (design: "Who may do what")."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from sugarbush.volunteers import access
from sugarbush.volunteers.models import Role
from tests import make

pytestmark = pytest.mark.django_db


def test_every_act_stands_on_the_page_with_its_roles() -> None:
    client = Client()
    client.force_login(make.bob())
    answer = client.get(reverse("access-table"))
    rows = answer.context["rows"]
    assert [row["label"] for row in rows] == [entry.label for entry in access.table()]
    for entry, row in zip(access.table(), rows, strict=True):
        assert dict(zip(Role.values, row["cells"], strict=True)) == {
            role: entry.reach.get(role, "") for role in Role.values
        }


@pytest.mark.parametrize("act", ["programme.change", "season.change", "season.step"])
def test_the_programme_and_its_seasons_are_the_coordinators(act: str) -> None:
    assert access.why_not(make.alice(), act, anywhere=True) == ""
    for other in (make.lena(), make.bob(), make.dora(), make.kai(), make.rhea(), make.charlie()):
        assert "coordinator" in access.why_not(other, act, anywhere=True)


def test_totals_are_read_by_every_member_and_by_no_stranger() -> None:
    for member in (make.alice(), make.lena(), make.bob(), make.dora(), make.kai(), make.rhea()):
        assert access.holds(member, "season.totals")
    assert not access.holds(make.charlie(), "season.totals")


def test_a_role_that_has_ended_opens_nothing() -> None:
    bob = make.bob()
    bob.memberships.update(date_to=make.today() - make.days(1))
    access.forget_roles(bob)
    assert not access.holds(bob, "season.totals")


def test_the_ways_at_the_head_are_those_open_to_the_person() -> None:
    make.programme()
    for person, shown in ((make.alice(), True), (make.bob(), False)):
        client = Client()
        client.force_login(person)
        labels = [label for _url, label, _here in client.get(reverse("groups")).context["nav"]]
        assert ("People" in labels) is shown
        assert ("Programme" in labels) is shown
        assert "Season" in labels


def test_before_the_programme_is_open_no_ways_are_shown() -> None:
    client = Client()
    client.force_login(make.alice())
    assert list(client.get(reverse("groups")).context["nav"]) == []
