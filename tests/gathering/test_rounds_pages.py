"""The pages of rounds: made from a list by keyboard, split, given, walked by buttons, finished; and what is empty."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from sugarbush.gathering.models import Round, RoundRun
from sugarbush.gathering.way import live_stops
from tests import make

pytestmark = pytest.mark.django_db


def come_in(person=None) -> Client:
    client = Client()
    client.force_login(person or make.lena())
    return client


def text(client: Client, name: str, *args, **asked) -> str:
    answer = client.get(reverse(name, args=args), asked)
    assert answer.status_code == 200
    return answer.content.decode()


def test_without_rounds_each_page_says_what_to_do_next():
    make.season()
    lena, bob = come_in(), come_in(make.bob())
    assert "There is no round yet." in text(lena, "board")
    assert reverse("round-split") in text(lena, "rounds")
    assert "No tree is given to this group" in text(lena, "round-split")
    assert "Every tree of this group is on a round." in text(lena, "round-new")
    assert "No run of yours is planned." in text(bob, "my-rounds")
    assert reverse("my-rounds") in text(bob, "log")
    assert reverse("my-rounds") in text(bob, "me")


def test_a_round_from_the_list_of_trees_to_its_last_pail():
    trees = [make.tapped_tree() for _ in range(3)]
    lena, bob = come_in(), come_in(make.bob())
    assert "North Bank: 3 trees with a spout in are on no round" in text(lena, "rounds")
    assert "3 trees with a spout in are on no round." in text(lena, "board") or "no round yet" in text(lena, "board")
    sent: dict[str, object] = {"name": "River side", "latest_start": "23:59", "trees": [], "start": ""}
    answer = lena.post(reverse("round-new"), sent)
    assert answer.status_code == 422
    assert "Tick at least one" in answer.content.decode()
    assert 'value="River side"' in answer.content.decode()
    sent |= {"trees": [tree.pk for tree in trees], "start": trees[2].code}
    assert lena.post(reverse("round-new"), sent).status_code == 302
    found = Round.objects.get()

    def codes() -> list[str]:
        return [stop.tree.code for stop in live_stops([found.pk]).select_related("tree")]

    assert codes() == [tree.code for tree in reversed(trees)]
    second = live_stops([found.pk])[1]
    lena.post(reverse("round-stops", args=[found.pk]), {"up": second.pk})
    assert codes()[0] == second.tree.code
    lena.post(reverse("round-stops", args=[found.pk]), {"off": second.pk})
    assert len(codes()) == 2
    lena.post(reverse("round-stops", args=[found.pk]), {"add": "yes", "trees": [second.tree.pk]})
    assert codes()[-1] == second.tree.code
    span: dict[str, object] = {"first": make.today(), "last": "", "every": "1", "walks": [make.bob().pk], "usual": "on"}
    answer = lena.post(reverse("round-give", args=[found.pk]), span)
    assert answer.status_code == 422
    assert "This answer is needed." in answer.content.decode()
    for _press in range(2):
        span["last"] = make.today() + make.days(3)
        assert lena.post(reverse("round-give", args=[found.pk]), span).status_code == 302
    assert RoundRun.objects.count() == 4
    assert "Bob" in text(lena, "round-plan", found.pk)
    run = RoundRun.objects.get(date=make.today())
    bob.post(reverse("run-say", args=[run.pk]), {"answer": "yes"})
    assert "You said: I come." in text(bob, "my-rounds")
    assert "Bob ✓" in text(lena, "board")
    rota = text(lena, "rota")
    assert rota.count("Bob") == 4
    bob.post(reverse("run-say", args=[run.pk]), {"answer": "no"})
    assert "1 run on this page has nobody." in text(lena, "rota")
    assert "1 run on this page" not in text(lena, "rota", first=make.today() + make.days(1))
    assert text(lena, "rota", first="soon")
    bob.post(reverse("run-say", args=[run.pk]), {"answer": "yes"})
    make.collection(trees[0], by=make.bob(), litres="4.5")
    board = text(lena, "board")
    assert "Part done" in board
    assert '4.50<span class="unit">L</span>' in board
    address = reverse("run-finish", args=[run.pk])
    answer = bob.post(address, {"note": "Dog loose."})
    assert answer.status_code == 422
    assert answer.content.decode().count("Say why nobody came to this tree.") >= 2
    assert 'value="Dog loose."' in answer.content.decode()
    sent = {"why_all": "no time left", f"why_{trees[1].pk}": "can’t get in"}
    assert bob.post(address, sent).status_code == 302
    run.refresh_from_db()
    left = {row["code"]: row["why"] for row in run.left_out}
    assert left == {trees[1].code: "can’t get in", trees[2].code: "no time left"}
    assert "Finished, not all visited" in text(lena, "board")
    part = lena.get(reverse("board"), {"part": "1"}).content.decode()
    assert "Finished, not all visited" in part
    assert "<html" not in part


def test_a_split_from_its_page_and_a_second_press_that_finds_nothing_left():
    for _ in range(5):
        make.given_tree()
    lena = come_in()
    assert "3 + 2" in text(lena, "round-split")
    sent = {"rounds": "2", "latest_start": "15:30"}
    answer = lena.post(reverse("round-split"), sent, follow=True)
    assert "North Bank 1: 3, North Bank 2: 2" in answer.content.decode()
    answer = lena.post(reverse("round-split"), sent)
    assert answer.status_code == 409
    assert 'value="2"' in answer.content.decode()
    assert lena.post(reverse("round-split"), {"rounds": "0", "latest_start": "x"}).status_code == 422
    found = Round.objects.first()
    address = reverse("round-change", args=[found.pk])
    assert lena.post(address, {"name": "North Bank 2", "latest_start": "15:30"}).status_code == 409
    assert lena.post(address, {"step": "end", "reason": ""}).status_code == 409
    assert lena.post(address, {"step": "end", "reason": "Too short."}).status_code == 302
    assert Round.objects.filter(ended_at=None).count() == 1
    make.season(state="closed")
    other = Round.objects.get(ended_at=None)
    answer = lena.post(reverse("round-change", args=[other.pk]), {"name": "New", "latest_start": "15:30"})
    assert answer.status_code == 409
    assert "is closed" in answer.content.decode()
