"""The first page: each person lands where they have something to do."""

from __future__ import annotations

import re

import pytest
from django.core.cache import cache
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from sugarbush.seasons.models import Season, SeasonState
from sugarbush.trees.duplicates import say_apart
from sugarbush.trees.models import Tree
from tests import make

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def nothing_kept() -> None:
    """What the page keeps a while must not reach the next test, whose trees have the same numbers."""
    cache.clear()


def at(person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def test_before_the_programme_is_opened_the_first_page_leads_there():
    answer = at(make.alice()).get("/")
    assert answer["Location"] == reverse("programme-new")


def test_a_new_coordinator_sees_the_first_steps_and_the_next_one():
    make.season(state=SeasonState.DRAFT)
    page = at(make.alice()).get("/").content.decode()
    assert "First steps" in page
    assert f'href="{reverse("streets-new")}" class="act main"' in page


def test_a_step_that_is_done_is_ticked():
    make.tapped_tree()
    page = at(make.alice()).get("/").content.decode()
    ticked = page.count("✓")
    assert ticked == 10  # all but the streets and the tank; group and second person come with the cast


def test_a_volunteer_in_the_run_lands_on_the_round():
    make.tapped_tree()
    assert at(make.bob()).get("/")["Location"] == reverse("round")
    make.season(state="ending")  # the round is of spouts to pull now
    assert at(make.bob()).get("/")["Location"] == reverse("round")


def test_what_waits_is_named_with_its_next_step():
    make.collection(make.given_tree(), litres=5)
    page = at(make.lena()).get("/").content.decode()
    assert "1 entry is to look at" in page
    assert reverse("review-list") in page


def test_a_lead_sees_the_trees_of_the_own_group_only():
    make.tapped_tree()
    make.tapped_tree(group=make.group("Mill Race"))
    lena, alice = (at(person).get("/").context["standing"].states for person in (make.lena(), make.alice()))
    assert [count for _state, count in lena] == [1]
    assert [count for _state, count in alice] == [2]


def test_the_litres_of_a_day_are_the_counted_ones():
    tree = make.tapped_tree()
    make.collection(tree, litres=5)
    make.collection(tree, litres=3)
    make.collection(make.given_tree(), litres=2)
    gathered = at(make.alice()).get("/").context["standing"].gathered
    assert gathered[0] == (make.today(), 8_000, 2)


def test_somebody_without_a_role_is_told_whom_to_ask():
    make.season()
    assert "You have no role yet" in at(make.charlie()).get("/").content.decode()


def test_a_reviewer_is_shown_no_acts():
    make.tapped_tree()
    page = at(make.rhea()).get("/").content.decode()
    assert "First steps" not in page
    assert reverse("log") not in page


def test_more_trees_ask_no_more_of_the_database():
    client = at(make.alice())
    asked = []
    for many in (2, 6):
        for _ in range(many):
            make.collection(make.tapped_tree())
        make.tank(f"T{many}")
        client.get("/")
        with CaptureQueriesContext(connection) as queries:
            client.get("/")
        asked.append(len(queries))
    assert asked[0] == asked[1] <= 60


def test_without_a_season_the_next_one_is_offered():
    make.season(state=SeasonState.CLOSED)
    assert Season.current() is None
    assert reverse("season-new") in at(make.alice()).get("/").content.decode()


def test_each_state_leads_to_the_trees_in_that_state():
    tree = make.tapped_tree()
    make.tree(shown_state=1)
    client = at(make.alice())
    page = client.get("/").content.decode()
    (way,) = re.findall(r'href="([^"]+\?state=5)"', page)
    assert [one.code for one in client.get(way).context["page"]] == [tree.code]


def test_trees_that_need_a_look_are_the_ones_their_line_leads_to():
    tree = make.tapped_tree()
    make.tapped_tree()
    Tree.objects.filter(pk=tree.pk).update(needs_look=True)
    client = at(make.alice())
    waiting = client.get("/").context["standing"].waiting
    (line,) = [one for one in waiting if "need" in one.fact]
    assert [one.code for one in client.get(line.url).context["page"]] == [tree.code]


def test_likely_doubles_wait_until_they_are_said_to_be_two_trees():
    make.season()
    one = make.tree(shown_state=1)
    # A hundred-thousandth of a degree of latitude is 1.1 m: one degree is 111.2 km.
    other = make.tree(shown_state=1, longitude=one.longitude, latitude=one.latitude + 0.00001)
    client = at(make.alice())
    assert "1 pair looks like one tree twice." in client.get("/").content.decode()
    say_apart(by=make.alice(), one=one.pk, others=[other.pk])
    assert "one tree twice" not in client.get("/").content.decode()
    assert "one tree twice" not in at(make.bob()).get("/", follow=True).content.decode()
