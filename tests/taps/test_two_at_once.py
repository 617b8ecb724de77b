"""Two people at one tree, with real threads and real transactions, on each database."""

from __future__ import annotations

import threading

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from sugarbush.taps.models import Tap, TapState
from tests import make
from tests.taps.test_recording_a_tap import said, text

pytestmark = pytest.mark.django_db(transaction=True)


def together(*jobs):
    """Start all jobs at one moment; their answers in order."""
    start, answers = threading.Barrier(len(jobs)), [None] * len(jobs)

    def run(n, job):
        try:
            start.wait(10)
            answers[n] = job()
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(n, job)) for n, job in enumerate(jobs)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    return answers


def poster(person, tree, **changes):
    client = Client()
    client.force_login(person)
    return lambda: client.post(reverse("tap-new", args=[tree.code]), said(**changes))


@pytest.fixture
def two():
    return make.person("Rafe", credentials=["tapping"]), make.bob()


@pytest.mark.parametrize("again", range(3))
def test_of_two_people_at_the_last_place_exactly_one_stands(two, again):
    rafe, bob = two
    tree = make.given_tree()
    answers = together(poster(rafe, tree, aspect="180"), poster(bob, tree, aspect="0"))
    assert sorted(answer.status_code for answer in answers) == [302, 409]
    tap = Tap.objects.get(tree=tree)
    assert tap.state == TapState.IN
    lost = next(answer for answer in answers if answer.status_code == 409)
    at = timezone.localtime(tap.placed_at).strftime("%H:%M")
    assert f"{tap.by} tapped this tree at {at}, so it has its one tap." in text(lost)


def test_of_two_drilled_holes_one_stands_and_one_is_kept_to_settle(two):
    rafe, bob = two
    tree = make.given_tree()
    answers = together(poster(rafe, tree, aspect="180", drilled="1"), poster(bob, tree, aspect="0", drilled="1"))
    assert [answer.status_code for answer in answers] == [302, 302]
    stands = Tap.objects.get(tree=tree, state=TapState.IN)
    kept = Tap.objects.get(tree=tree, state=TapState.TO_SETTLE)
    assert kept.settle_reasons[0].startswith(f"{stands.by} tapped this tree at")


def test_one_entry_sent_twice_at_the_same_moment_is_one_tap(two):
    rafe, _bob = two
    tree, entry = make.given_tree(), said()
    answers = together(poster(rafe, tree, **entry), poster(rafe, tree, **entry))
    assert [answer.status_code for answer in answers] == [302, 302]
    assert Tap.objects.filter(tree=tree).count() == 1


def test_of_two_groups_asked_at_once_one_gets_the_tree():
    alice, tree = make.alice(), make.ready_tree()
    groups = [make.group("North Bank"), make.group("Mill Race")]

    def give(group):
        client = Client()
        client.force_login(alice)
        return lambda: client.post(reverse("assign"), {"codes": tree.code, "group": group.pk})

    answers = together(*(give(group) for group in groups))
    assert sorted(answer.status_code for answer in answers) == [200, 409]
    assert tree.assignments.count() == 1
