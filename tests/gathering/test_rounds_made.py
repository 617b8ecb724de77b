"""Rounds made, split, changed and given to people; trees that leave them."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction
from django.utils import timezone

from sugarbush.gathering import crew, round_acts, run_acts
from sugarbush.gathering.board import lines_of
from sugarbush.gathering.models import Round, RoundRun, RoundStop, RunPerson
from sugarbush.gathering.way import live_stops, off_every_round, walk_words
from sugarbush.parts.reasons import Refused
from sugarbush.taps.assigning import end_assignment
from sugarbush.taps.models import Assignment
from sugarbush.trees.merging import merge
from tests import make

pytestmark = pytest.mark.django_db
FOUR = dt.time(16)


def street(count: int, tapped: bool = True) -> list:
    """Trees of North Bank along one street, each a few steps further east."""
    trees = [make.given_tree() for _ in range(count)]
    for tree in trees if tapped else []:
        make.tap(tree)
    return trees


def order(found: Round) -> list[str]:
    return [stop.tree.code for stop in live_stops([found.pk]).select_related("tree")]


def made(trees, name="River side", **given) -> Round:
    return round_acts.make_round(
        season=make.season(), group=make.group(), by=make.lena(), name=name, latest_start=FOUR, trees=trees, **given
    )


def test_a_round_is_made_in_walking_order_from_where_it_begins_and_moved_by_hand():
    trees = street(5)
    mixed = [trees[3], trees[0], trees[4], trees[2], trees[1]]
    found = made(mixed, start=trees[4])
    codes = [tree.code for tree in trees]
    assert order(found) == codes[::-1]
    round_acts.walk_from(found=found, by=make.lena(), start=trees[0])
    assert order(found) == codes
    second = live_stops([found.pk])[1]
    round_acts.move_stop(stop=second, by=make.lena(), up=True)
    assert order(found) == [codes[1], codes[0], *codes[2:]]
    # Already at the top: nothing happens, and nothing is lost.
    round_acts.move_stop(stop=second, by=make.lena(), up=True)
    assert order(found) == [codes[1], codes[0], *codes[2:]]
    with pytest.raises(PermissionDenied):
        round_acts.walk_from(found=found, by=make.bob())


def test_a_tree_stands_on_one_round_of_a_season_and_only_its_own_group_s():
    tree, spare = street(2)
    first = made([tree])
    with pytest.raises(Refused, match="already"):
        made([tree, spare], name="Hill")
    assert not Round.objects.filter(name="Hill").exists()
    # Behind the sentence stands the database.
    other = Round.objects.create(season=make.season(), group=make.group(), name="Other")
    with pytest.raises(IntegrityError), transaction.atomic():
        RoundStop.objects.create(round=other, season=make.season(), tree=tree, position=1)
    stranger = make.tree(group=make.group("Mill Race"))
    with pytest.raises(Refused, match="not given to North Bank"):
        round_acts.put_on(found=first, trees=[stranger], by=make.lena())
    stop = live_stops([first.pk]).get()
    round_acts.take_off(stop=stop, by=make.lena())
    round_acts.take_off(stop=stop, by=make.lena())
    assert list(off_every_round(make.season(), make.group()).order_by("pk")) == [tree, spare]
    round_acts.put_on(found=other, trees=[tree, spare], by=make.lena())
    assert round_acts.put_on(found=other, trees=[tree], by=make.lena()) == 0
    assert sorted(order(other)) == sorted([tree.code, spare.code])


def test_a_group_s_trees_are_split_into_even_rounds_in_one_press():
    trees = street(7, tapped=False)
    lena, group, season = make.lena(), make.group(), make.season()
    split = round_acts.split_group(season=season, group=group, by=lena, rounds=3, latest_start=FOUR)
    assert [(one.name, size) for one, size in split.rounds] == [
        ("North Bank 1", 3),
        ("North Bank 2", 2),
        ("North Bank 3", 2),
    ]
    # Neighbours stay together: along a street the rounds are stretches of it.
    walked = [code for one, _size in split.rounds for code in order(one)]
    assert walked in ([tree.code for tree in trees], [tree.code for tree in reversed(trees)])
    with pytest.raises(Refused, match="0 trees cannot be split"):
        round_acts.split_group(season=season, group=group, by=lena, rounds=2, latest_start=FOUR)
    run_acts.give_runs(found=split.rounds[0][0], by=lena, first=make.today(), last=make.today())
    anew = round_acts.split_group(season=season, group=group, by=lena, rounds=2, latest_start=FOUR, anew=True)
    assert [size for _one, size in anew.rounds] == [4, 3]
    assert Round.objects.filter(ended_at=None).count() == 2
    assert RoundRun.objects.get().state == "called_off"


def test_runs_are_given_for_a_span_and_the_same_press_again_changes_nothing():
    found = made(street(2, tapped=False))
    lena, bob, anna = make.lena(), make.bob(), make.person("Anna")
    first = make.today()
    span: dict[str, Any] = {"found": found, "by": lena, "first": first, "last": first + make.days(6), "every": 2}
    runs = run_acts.give_runs(**span, walks=[bob], standby=[anna])
    assert [run.date for run in runs] == [first + make.days(n) for n in (0, 2, 4, 6)]
    run_acts.call_off(run=runs[1], by=lena, reason="Ice on the hill.")
    again = run_acts.give_runs(**span, walks=[bob], standby=[anna])
    assert [run.pk for run in again] == [runs[0].pk, runs[2].pk, runs[3].pk]
    assert (RoundRun.objects.count(), RunPerson.objects.count()) == (4, 8)
    for wrong in (
        {"first": first - make.days(1)},
        {"last": first - make.days(1)},
        {"last": first + make.days(90)},
        {"walks": [make.mira()]},
    ):
        with pytest.raises(Refused):
            run_acts.give_runs(**{**span, **wrong})
    with pytest.raises(PermissionDenied):
        run_acts.give_runs(**{**span, "by": bob})


def test_whoever_stands_by_is_called_once_and_in_order():
    found = made(street(1, tapped=False))
    lena, bob, anna, tom = make.lena(), make.bob(), make.person("Anna"), make.person("Tom")
    (run,) = run_acts.give_runs(
        found=found, by=lena, first=make.today(), last=make.today(), walks=[bob], standby=[anna, tom]
    )
    run_acts.say(run=run, by=bob, answer="no")
    run_acts.say(run=run, by=anna, answer="no")
    assert crew.next_standby(run).person == tom
    with pytest.raises(Refused, match="Anna does not stand by"):
        run_acts.call_standby(run=run, by=lena, person=anna)
    for _press in range(2):
        run_acts.call_standby(run=run, by=lena, person=tom)
    assert list(run.people.filter(called_at__isnull=False).values_list("person", "part")) == [(tom.pk, "walks")]
    words = run_acts.standby_words(run, tom, left=1, link="https://sap.example/my-rounds/")
    assert "River side" in words
    assert "1 tree, latest start 16:00" in words
    assert "https://sap.example/my-rounds/" in words
    with pytest.raises(Refused, match="not on this run"):
        run_acts.say(run=run, by=make.person("Una"), answer="yes")


def test_a_tree_given_back_pulled_or_merged_leaves_the_way_and_stays_in_the_history():
    back, pulled, loser, kept = street(4)
    found = made([back, pulled, loser, kept])
    today = lines_of([found], make.season(), timezone.now()).lines[0]
    assert len(today.stops) == 4
    for tree in (back, pulled):
        tree.taps.update(state="pulled", out_at=timezone.now() - make.days(1), out_by=make.bob())
    end_assignment(assignment=Assignment.objects.get(tree=back), by=make.alice())
    merge(by=make.alice(), kept=kept, loser=loser)
    line = lines_of([found], make.season(), timezone.now()).lines[0]
    assert [stop.pk for stop in line.stops] == [kept.pk]
    gone = found.stops.filter(off_at__isnull=False)
    assert sorted(gone.values_list("off_reason", flat=True)) == [
        "given back by its group",
        f"the same tree as {kept.code}",
    ]
    # Pulled, but not given back: it stays on the round for the next spout.
    assert pulled.code in order(found)
    assert back.code not in order(found)


def test_a_run_is_finished_with_each_tree_left_out_named():
    found = made(street(2))
    lena, bob = make.lena(), make.bob()
    (run,) = run_acts.give_runs(found=found, by=lena, first=make.today(), last=make.today(), walks=[bob])
    with pytest.raises(Refused, match="Say why nobody came to QH-1"):
        run_acts.finish(run=run, by=bob, left_out={"QH-1": " "})
    run = run_acts.finish(run=run, by=bob, left_out={"QH-1": "can’t get in"})
    again = run_acts.finish(run=run, by=lena, left_out={"QH-1": "frozen"})
    assert (again.state, again.left_out) == ("finished", [{"code": "QH-1", "why": "can’t get in"}])
    assert again.finished_by == bob
    run_acts.open_again(run=run, by=lena)
    assert RoundRun.objects.get().state == "planned"


def test_a_way_on_foot_is_said_in_the_reader_s_units():
    assert [walk_words(m, "metric") for m in (7.4, 1_234.0, 2_345.0)] == ["7\u00a0m", "1,230\u00a0m", "2.3\u00a0km"]
    # A mile is 1,609.344 m by definition.
    assert walk_words(1_609.344, "us") == "1.00\u00a0mi"
