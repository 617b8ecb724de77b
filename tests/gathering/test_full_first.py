"""Which pails are full first, by the programme's own litres an hour."""

from __future__ import annotations

import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from sugarbush.gathering.filling import full_first, runs
from tests import make

pytestmark = pytest.mark.django_db


def visits(tree, *litres: str, hours_apart: int = 12, last_h_ago: float = 2) -> None:
    now = timezone.now()
    for n, amount in enumerate(reversed(litres)):
        when = now - dt.timedelta(hours=last_h_ago + n * hours_apart)
        make.collection(tree, litres=amount, happened_at=when, confirmed=True, note="sure")


def tapped(days_ago: int = 30, container_ml: int = 8_000):
    tree = make.tapped_tree()
    tree.taps.update(placed_at=timezone.now() - make.days(days_ago), container_ml=container_ml)
    return tree


def first():
    return full_first(make.alice(), make.season(), units="metric")


def test_a_trees_own_visits_give_the_hour():
    tree = tapped()
    # The first visit starts the clock; then 4 x 3 L in 4 x 12 h: 250 mL an hour. Emptied 2 h ago: 0.5 L are in,
    # 7.5 L of room, 30 h.
    visits(tree, "3", "3", "3", "3", "3")
    (row,) = first().rows
    assert row.own
    assert (row.run.volume_ml, row.run.visits) == (12_000, 4)
    assert row.run.hours == pytest.approx(48)
    assert row.hours == pytest.approx(30, abs=0.05)
    assert row.held_ml == pytest.approx(500, abs=5)


def test_a_tree_with_few_visits_takes_the_programmes_mean_and_says_so():
    visits(tapped(), "3", "3", "3", "3", "3")
    new = tapped(days_ago=30)
    visits(new, "3")
    found = {row.tree.pk: row for row in first().rows}
    assert not found[new.pk].own
    assert found[new.pk].run.visits == 4
    client = Client()
    client.force_login(make.alice())
    page = client.get(reverse("today")).content.decode()
    assert "mean of the programme’s trees, 4 visits" in page
    assert "this tree’s own run, 4 visits" in page
    assert "No published average is used." in page


def test_nothing_is_said_from_fewer_than_three_visits_nor_from_old_ones():
    tree = tapped()
    visits(tree, "3", "3", "3")
    assert first().rows == ()
    assert first().too_few
    visits(tree, "3", "3", "3", "3", last_h_ago=24 * 10)
    assert first().rows == ()


def test_a_spout_that_went_in_this_week_starts_the_clock():
    start = timezone.now()
    hours = [dt.timedelta(hours=n) for n in (12, 24, 36)]
    found, last = runs([(1, start + step, 1_000) for step in hours], {1: start})
    assert (found[1].volume_ml, found[1].visits) == (3_000, 3)
    assert found[1].hours == pytest.approx(36)
    assert last[1] == start + hours[-1]


def test_a_pail_that_should_be_full_is_said_to_run_over_now_and_comes_first():
    slow, fast = tapped(), tapped()
    visits(slow, "1", "1", "1", "1", "1")
    visits(fast, "6", "6", "6", "6", "6", last_h_ago=30)
    rows = first().rows
    assert rows[0].tree == fast
    assert rows[0].hours == 0
    assert rows[0].held_ml == rows[0].capacity_ml


def test_more_trees_ask_no_more_of_the_database(django_assert_num_queries):
    for _n in range(2):
        visits(tapped(), "3", "3", "3", "3")
    alice, season = make.alice(), make.season()
    full_first(alice, season, units="metric")
    with django_assert_num_queries(2):
        full_first(alice, season, units="metric")
    for _n in range(4):
        visits(tapped(), "3", "3", "3", "3")
    with django_assert_num_queries(2):
        full_first(alice, season, units="metric")
