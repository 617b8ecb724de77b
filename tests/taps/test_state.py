"""What a tree shows, in the order people should act on."""

from __future__ import annotations

import pytest
from django.utils import timezone

from sugarbush.seasons.models import SeasonState
from sugarbush.taps.models import TapState
from sugarbush.trees import shown
from sugarbush.trees.models import Shown
from tests import make

pytestmark = pytest.mark.django_db


def shows(tree):
    shown.refresh([tree.pk])
    tree.refresh_from_db()
    return tree.shown


def test_the_towns_other_trees_are_plain_dots():
    make.season()
    assert shows(make.tree(life="listed", group=None)) == Shown.LISTED


def test_a_tree_in_our_sights_is_considered():
    make.season()
    assert shows(make.tree()) == Shown.CONSIDERED


def test_a_tree_too_thin_for_a_tap_is_considered_too():
    make.season()
    assert shows(make.tree(diameter_um=100_000)) == Shown.CONSIDERED


@pytest.mark.parametrize("state", ["asked", "no_answer", "suspended"])
def test_a_slip_that_waits_shows_asked(state):
    make.season()
    tree = make.tree()
    make.permission(tree, state=state)
    assert shows(tree) == Shown.ASKED


def test_a_yes_that_starts_later_shows_allowed():
    make.season()
    tree = make.tree()
    make.permission(tree, date_from=make.today() + make.days(50), date_to=make.today() + make.days(60))
    assert shows(tree) == Shown.ALLOWED


def test_an_open_gate_shows_ready():
    assert shows(make.ready_tree()) == Shown.READY


def test_a_spout_in_shows_tapped():
    assert shows(make.tapped_tree()) == Shown.TAPPED


def test_a_permission_taken_back_under_a_spout_shows_to_pull():
    tree = make.tapped_tree()
    tree.permissions.update(state="revoked")
    assert shows(tree) == Shown.PULL


@pytest.mark.parametrize("life", ["excluded", "felled"])
def test_an_excluded_or_felled_tree_with_a_spout_shows_to_pull(life):
    tree = make.tapped_tree()
    tree.life = life
    tree.save()
    assert shows(tree) == Shown.PULL


def test_a_yes_about_insecticide_under_a_spout_shows_to_pull():
    tree = make.tapped_tree()
    make.treatment(tree, "yes")
    assert shows(tree) == Shown.PULL


def test_the_ending_season_pulls_every_spout():
    tree = make.tapped_tree()
    make.season(state=SeasonState.ENDING)
    assert shows(tree) == Shown.PULL


def test_a_tap_to_settle_shows_to_pull_and_needs_a_look():
    tree = make.tapped_tree()
    tree.taps.update(state=TapState.TO_SETTLE)
    assert shows(tree) == Shown.PULL
    assert tree.needs_look


def test_a_failed_check_shows_not_for_tapping():
    tree = make.ready_tree()
    make.check(tree, "fail", date=make.today())
    assert shows(tree) == Shown.NOT


def test_a_refusal_for_good_shows_not_for_tapping():
    make.season()
    tree = make.tree()
    make.permission(tree, state="refused")
    assert shows(tree) == Shown.NOT


def test_a_resting_tree_shows_resting():
    make.season()
    assert shows(make.tree(life="resting")) == Shown.RESTING


def test_a_felled_tree_without_a_spout_shows_felled():
    make.season()
    assert shows(make.tree(life="felled")) == Shown.FELLED


def test_a_state_lapses_with_the_first_date_that_can_change_it():
    tree = make.ready_tree()
    tree.permissions.update(date_to=make.today() + make.days(7))
    shows(tree)
    assert tree.shown_until == make.today() + make.days(7)
    later = make.today() + make.days(8)
    assert shown.refresh_lapsed(later) == 1
    tree.refresh_from_db()
    assert tree.shown == Shown.CONSIDERED


def test_a_second_tap_under_a_watch_needs_a_look_but_pulls_nothing():
    tree = make.given_tree(diameter_um=600_000)
    make.tap(tree)
    make.tap(tree, position=2, aspect_deg=0)
    assert shows(tree) == Shown.TAPPED
    assert not tree.needs_look
    make.check(tree, "watch", date=make.today())
    assert shows(tree) == Shown.TAPPED
    assert tree.needs_look


def test_a_spout_of_last_season_shows_to_pull():
    last = make.season(year=make.today().year - 1, state=SeasonState.CLOSED)
    tree = make.given_tree()
    make.tap(tree, season=last, placed_at=timezone.now() - make.days(300))
    assert shows(tree) == Shown.PULL


def test_states_of_many_trees_cost_no_more_queries_than_of_few(django_assert_max_num_queries):
    trees = [make.ready_tree() for _ in range(12)]
    with django_assert_max_num_queries(14):
        shown.refresh(tree.pk for tree in trees)
