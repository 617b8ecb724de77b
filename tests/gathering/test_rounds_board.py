"""The board of today: each round's state, its litres by the ledger, what waits, who is called; and nobody else's."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from sugarbush.gathering import filling, round_acts, run_acts
from sugarbush.gathering import rounds as own_rounds
from sugarbush.gathering.actions import change_visit
from sugarbush.gathering.board import board, lines_of
from sugarbush.gathering.models import Collection, Round, RoundPerson, RoundRun, RoundStop, RunPerson
from sugarbush.gathering.rounds import day_span
from sugarbush.gathering.run_state import Standing
from sugarbush.gathering.uncovered import uncovered
from sugarbush.taps.models import Tap
from sugarbush.weather.outlook import Tomorrow
from tests import make

pytestmark = pytest.mark.django_db
FOUR = dt.time(16)


def noon(day: dt.date | None = None) -> dt.datetime:
    return day_span(day or make.today())[0] + dt.timedelta(hours=12)


def dawn() -> dt.datetime:
    """The day's first moment: past, whatever the time is now."""
    return day_span(make.today())[0]


def round_of(trees, name="River side", *, days=1, walks=(), standby=()) -> Round:
    found = round_acts.make_round(
        season=make.season(), group=make.group(), by=make.lena(), name=name, latest_start=FOUR, trees=trees
    )
    if days:
        last = make.today() + make.days(days - 1)
        run_acts.give_runs(
            found=found, by=make.lena(), first=make.today(), last=last, walks=list(walks), standby=list(standby)
        )
    return found


def line_at(found: Round, now: dt.datetime):
    return lines_of([found], make.season(), now).lines[0]


def test_a_round_goes_from_not_started_over_late_to_part_and_done():
    one, two = make.tapped_tree(), make.tapped_tree()
    found = round_of([one, two], walks=[make.bob()])
    morning, soon, late = noon(), noon() + dt.timedelta(hours=3, minutes=1), noon() + dt.timedelta(hours=4, minutes=1)
    assert [line_at(found, now).standing for now in (morning, soon, late)] == [
        Standing.AHEAD,
        Standing.SOON,
        Standing.LATE,
    ]
    entry = make.collection(one, litres="4.5", happened_at=dawn())
    assert (line_at(found, late).standing, line_at(found, late).started_at) == (Standing.PART, dawn())
    # Somebody of the group who is not on the run ends it all the same.
    make.collection(two, by=make.person("Anna"), outcome="no_access", litres=0, happened_at=dawn())
    line = line_at(found, late)
    assert (line.standing, line.visited, line.volume_ml) == (Standing.DONE, 2, 4_500)
    # Taken back: read from the entries, so the board follows.
    change_visit(entry=entry, by=make.bob(), visit=None)
    line = line_at(found, late)
    assert (line.standing, line.volume_ml) == (Standing.PART, 0)


def test_only_what_the_ledger_counts_is_in_the_litres_and_the_oldest_pail_is_named():
    one, two = make.tapped_tree(), make.tapped_tree()
    make.collection(one, litres="2", happened_at=noon() - make.days(3))
    make.collection(two, litres="2", happened_at=noon() - make.days(2))
    found = round_of([one, two])
    line = line_at(found, noon())
    assert (line.longest.code, line.longest.days, line.volume_ml) == (one.code, 3, 0)
    make.collection(two, litres="3", happened_at=dawn())
    one.permissions.update(state="revoked", ended_at=timezone.now() - make.days(4))
    make.collection(one, litres="5", happened_at=dawn())
    line = line_at(found, noon() + dt.timedelta(hours=1))
    assert (line.volume_ml, line.to_review) == (3_000, 1)


def test_the_standby_is_called_in_one_press_and_the_words_are_there_to_copy():
    bob, anna = make.bob(), make.person("Anna")
    found = round_of([make.tapped_tree()], walks=[bob], standby=[anna])
    # Past its latest start whatever the time is now.
    Round.objects.filter(pk=found.pk).update(latest_start=dt.time(0))
    client = Client()
    client.force_login(make.lena())
    page = client.get(reverse("board")).content.decode()
    assert "Late" in page
    assert "1 round is late." in client.get(reverse("today")).content.decode()
    assert "Call Anna" in page
    form = re.search(r'action="([^"]*call/)".*?name="person" value="(\d+)"', page, re.DOTALL)
    assert form is not None
    answer = client.post(form[1], {"person": form[2]}, follow=True)
    text = answer.content.decode()
    assert "Anna has the run now" in text
    assert "nobody has started “River side”" in text
    assert RunPerson.objects.get(person=anna).part == "walks"
    board_page = client.get(reverse("board")).content.decode()
    assert "Call Anna" not in board_page
    assert "Words for Anna" in board_page


def test_pails_that_fill_before_anybody_comes_and_rounds_nobody_has_tomorrow():
    fast, slow = make.tapped_tree(), make.tapped_tree()
    now = noon()
    for back in (4, 3, 2, 1):
        # 6 L a day into a pail of 8 L is full 32 hours after it was emptied; 1 L a day takes more than a week.
        make.collection(fast, litres="6", happened_at=now - make.days(back))
        make.collection(slow, litres="1", happened_at=now - make.days(back))
    bob = make.bob()
    found = round_of([fast, slow], days=0)
    lena = make.lena()
    full = filling.full_first(lena, make.season(), units="metric", now=now, most=99)
    assert [row.tree for row in full.rows] == [fast]
    assert round(full.rows[0].hours, 1) == 8.0  # at 20:00

    def ahead(rating="some"):
        day = make.today() + make.days(1)
        told = Tomorrow(day=day, row=None, rating=rating)
        return uncovered(lena, make.season(), board(lena, make.season(), now), told)

    (row,) = ahead().overflows
    assert (row.filling.tree, row.comes_at, row.round) == (fast, None, found)
    assert [gap.round for gap in ahead().gaps] == [found]
    # Somebody is to have begun by 16:00 today: before it is full.
    run_acts.give_runs(found=found, by=lena, first=make.today(), last=make.today(), walks=[bob])
    assert ahead().overflows == ()
    (run,) = run_acts.give_runs(
        found=found, by=lena, first=make.today() + make.days(1), last=make.today() + make.days(1), walks=[bob]
    )
    assert ahead().gaps == ()
    run_acts.call_off(run=RoundRun.objects.get(date=make.today()), by=lena, reason="ice")
    (row,) = ahead().overflows
    assert row.comes_at.date() == run.date
    run_acts.say(run=run, by=bob, answer="no")
    assert [gap.said_no for gap in ahead().gaps] == [(bob,)]
    # By a quiet forecast what is full today still counts, what would fill tomorrow does not.
    assert [one.filling.tree for one in ahead("quiet").overflows] == [fast]
    Collection.objects.filter(tree=fast).update(happened_at=now)
    make.tap(fast, position=2)  # more room: full only tomorrow
    assert ahead("quiet").overflows == ()


def test_the_own_run_comes_first_on_the_phone_and_on_the_pages():
    others = [make.tapped_tree() for _ in range(2)]
    mine = [make.tapped_tree() for _ in range(3)]
    bob = make.bob()
    found = round_of(mine, walks=[bob])
    found.stops.filter(tree=mine[0]).update(position=9)
    wanted = [mine[1].code, mine[2].code, mine[0].code]
    shown = own_rounds.stops(bob, make.season(), make.group(), make.today())
    assert [stop.code for stop in shown][:3] == wanted
    assert {stop.code for stop in shown[3:]} == {tree.code for tree in others}
    client = Client()
    client.force_login(bob)
    pack = client.get(reverse("round-pack")).json()
    assert [row["code"] for row in pack["trees"]][:3] == wanted
    (run,) = pack["runs"]
    assert (run["name"], run["codes"]) == ("River side", wanted)
    assert run["latest_ms"] == int((noon() + dt.timedelta(hours=4)).timestamp() * 1000)
    run_acts.say(run=RoundRun.objects.get(), by=bob, answer="no")
    assert client.get(reverse("round-pack")).json()["runs"] == []


def many_rounds(count: int) -> None:
    """So many rounds with a tree, a run today and tomorrow, two people each; written at once."""
    season, group, bob, lena = make.season(), make.group(), make.bob(), make.lena()
    trees = [make.tree() for _ in range(count)]
    now = timezone.now()
    Tap.objects.bulk_create(
        Tap(tree=tree, season=season, position=1, placed_at=now - make.days(5), by=bob, height_mm=900, aspect_deg=0,
            bit_um=7938, depth_mm=45, shavings="white")
        for tree in trees
    )  # fmt: skip
    rounds = [Round(season=season, group=group, name=f"R{tree.code}", latest_start=dt.time(0)) for tree in trees]
    Round.objects.bulk_create(rounds)
    RoundStop.objects.bulk_create(
        RoundStop(round=one, season=season, tree=tree, position=1) for one, tree in zip(rounds, trees, strict=True)
    )
    runs = [RoundRun(round=one, date=make.today() + make.days(n)) for one in rounds for n in (0, 1)]
    RoundRun.objects.bulk_create(runs)
    RunPerson.objects.bulk_create(RunPerson(run=run, person=bob) for run in runs)
    RoundPerson.objects.bulk_create(RoundPerson(round=one, person=lena, part="standby") for one in rounds)


def test_sixty_rounds_ask_no_more_of_the_database_than_three(django_assert_max_num_queries):
    client = Client()
    client.force_login(make.lena())
    asked: dict[str, list[int]] = {}
    for count in (3, 57):
        many_rounds(count)
        for name in ("board", "rounds", "my-rounds", "rota"):
            address = reverse(name)
            client.get(address)
            with django_assert_max_num_queries(24) as seen:
                page = client.get(address)
            assert page.status_code == 200
            asked.setdefault(name, []).append(len(seen))
    assert all(few == many for few, many in asked.values()), asked  # 20, 15 and 6 when this was written
    assert len(board(make.lena(), make.season()).lines) == 60


def test_walls_between_groups_and_between_looking_and_planning():
    tree = make.tapped_tree()
    found = round_of([tree], walks=[make.bob()])
    run = RoundRun.objects.get()
    gets = [reverse("round-plan", args=[found.pk]), reverse("run", args=[run.pk])]
    posts = {
        reverse("round-change", args=[found.pk]): {"name": "Mine", "latest_start": "10:00"},
        reverse("round-stops", args=[found.pk]): {"walk": "yes"},
        reverse("round-give", args=[found.pk]): {},
        reverse("round-today", args=[found.pk]): {},
        reverse("run-call", args=[run.pk]): {"person": str(make.bob().pk)},
        reverse("run-step", args=[run.pk]): {"step": "off", "reason": "no"},
    }
    before = (list(Round.objects.values()), list(RoundRun.objects.values()))
    for person, look, change in ((make.mira(), 404, 404), (make.bob(), 200, 403), (make.rhea(), 200, 403)):
        client = Client()
        client.force_login(person)
        assert [client.get(address).status_code for address in gets] == [look, look], person
        for address, sent in posts.items():
            assert client.post(address, sent).status_code == change, (person, address)
    for address in (reverse("board"), reverse("round-new"), reverse("round-split")):
        client.force_login(make.bob())
        assert client.get(address).status_code == 403
    other_lead = make.person("Milo", "lead", "Mill Race")
    client.force_login(other_lead)
    assert client.get(gets[0]).status_code == 404
    assert client.get(reverse("round-new"), {"group": found.group_id}).status_code == 404
    assert "River side" not in client.get(reverse("board")).content.decode()
    assert before == (list(Round.objects.values()), list(RoundRun.objects.values()))
