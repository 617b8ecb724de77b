"""What trees show lapses with the day, whoever opens a page."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.management import call_command
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from sugarbush.seasons.models import Programme
from sugarbush.taps.tasks import midnight, next_midnight, queue_midnight, refresh_states
from sugarbush.trees.models import Shown, Tree
from tests import make

pytestmark = pytest.mark.django_db


def lapsed_tree() -> Tree:
    """Shows ready by a permission that ended yesterday."""
    tree = make.ready_tree()
    tree.permissions.update(date_to=make.today() - make.days(1))
    Tree.objects.filter(pk=tree.pk).update(shown_until=make.today() - make.days(1))
    return tree


def test_a_lapsed_permission_shows_after_the_night():
    tree = lapsed_tree()
    before = tree.shown
    midnight.call()
    tree.refresh_from_db()
    assert (before, tree.shown) == (Shown.READY, Shown.CONSIDERED)
    assert Programme.objects.get().states_fresh_on == make.today()


def test_all_trees_in_sight_are_looked_at_when_asked_for(capsys):
    tree = make.ready_tree()
    make.tree(life="listed", group=None)
    tree.permissions.update(state="revoked")
    call_command("refresh_states")
    tree.refresh_from_db()
    before = tree.shown
    call_command("refresh_states", everything=True)
    tree.refresh_from_db()
    assert (before, tree.shown) == (Shown.READY, Shown.CONSIDERED)
    assert "1 tree looked at." in capsys.readouterr().out


def waiting():
    return DBTaskResult.objects.filter(task_path=midnight.module_path, status="READY")


def test_it_waits_for_the_next_local_midnight():
    make.programme(time_zone="America/Chicago")
    queue_midnight()
    (task,) = waiting()
    # Chicago is five or six hours behind UTC, by the tz database.
    assert task.run_after.astimezone(dt.UTC).hour in {5, 6}
    assert timezone.now() < task.run_after <= timezone.now() + dt.timedelta(hours=25)


def test_the_day_the_clock_goes_forward_has_its_midnight():
    # 8 March 2026, 02:00 in Chicago: tz database.
    make.programme(time_zone="America/Chicago")
    night = next_midnight(dt.datetime(2026, 3, 8, 12, tzinfo=dt.UTC))
    assert night.astimezone(dt.UTC) == dt.datetime(2026, 3, 9, 5, tzinfo=dt.UTC)


def test_never_two_wait_however_often_it_starts():
    make.programme()
    for _ in range(3):
        call_command("midnight")
    assert waiting().count() == 1


def test_a_night_queues_the_next_one_and_only_one():
    make.programme()
    queue_midnight()
    waiting().update(status="RUNNING")
    midnight.call()
    midnight.call()
    assert waiting().count() == 1


def test_two_that_wait_become_one():
    make.programme()
    midnight.using(run_after=next_midnight()).enqueue()
    midnight.using(run_after=next_midnight()).enqueue()
    queue_midnight()
    assert waiting().count() == 1


def test_a_new_time_zone_moves_the_waiting_night():
    make.programme(time_zone="UTC")
    midnight.using(run_after=timezone.now() + dt.timedelta(days=3)).enqueue()
    queue_midnight()
    assert waiting().get().run_after == next_midnight()


def test_without_a_programme_it_still_works():
    assert refresh_states() == 0
    assert queue_midnight()
