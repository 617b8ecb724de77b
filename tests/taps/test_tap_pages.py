"""One tap's page: its marks, pulling, losing, settling; and the lists of taps."""

from __future__ import annotations

import html

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from sugarbush.seasons import closing
from sugarbush.taps.models import Tap, TapState
from tests import make

pytestmark = pytest.mark.django_db


@pytest.fixture
def bob(client: Client) -> Client:
    client.force_login(make.bob())
    return client


def text(answer):
    return html.unescape(answer.content.decode())


def to_settle(tree=None, **fields):
    return make.tap(tree, state=TapState.TO_SETTLE, position=0, settle_reasons=["It was full."], **fields)


# One tap ----------------------------------------------------------------------------


def test_the_page_tells_the_hole_and_what_happened(bob):
    tap = make.tap(note="by the <gate>")
    bob.post(reverse("tap-mark", args=[tap.pk]), {"dry": "on"})
    bob.post(reverse("tap-mark", args=[tap.pk]), {"leaking": "on"})
    answer = bob.get(reverse("tap", args=[tap.pk]))
    page = text(answer)
    for words in ("south, 180°", "90.0", "7.9", "4.5", "white", "Recorded", "Runs dry", "Runs again", "Leaks"):
        assert words in page
    assert b"&lt;gate&gt;" in answer.content
    tap.refresh_from_db()
    assert (tap.dry, tap.leaking) == (False, True)


def test_a_spout_is_pulled_once_and_saying_it_again_changes_nothing(bob):
    tap = make.tap()
    bob.post(reverse("tap-pull", args=[tap.pk]))
    tap.refresh_from_db()
    first = tap.out_at
    assert (tap.state, tap.out_by) == (TapState.PULLED, make.bob())
    answer = bob.post(reverse("tap-pull", args=[tap.pk]), follow=True)
    assert "was out already" in text(answer)
    tap.refresh_from_db()
    assert tap.out_at == first
    assert tap.history.count() == 2


def test_a_lost_spout_needs_its_reason(bob):
    tap = make.tap()
    answer = bob.post(reverse("tap-pull", args=[tap.pk]), {"lost": "on", "reason": "  "})
    assert answer.status_code == 422
    assert "Write how the spout was lost" in text(answer)
    bob.post(reverse("tap-pull", args=[tap.pk]), {"lost": "on", "reason": "The tree was felled, the spout with it."})
    tap.refresh_from_db()
    assert (tap.state, tap.out_reason) == (TapState.LOST, "The tree was felled, the spout with it.")


@pytest.mark.parametrize(("days", "words"), [(-30, "It went in after that time."), (2, "lies in the future")])
def test_a_pull_lies_between_drilling_and_now(bob, days, words):
    tap = make.tap()
    at = (timezone.localtime() + make.days(days)).strftime("%Y-%m-%dT%H:%M")
    answer = bob.post(reverse("tap-pull", args=[tap.pk]), {"out_at": at})
    assert answer.status_code == 422
    assert words in text(answer)
    assert Tap.objects.get().state == TapState.IN


def test_a_reviewer_looks_and_another_group_finds_nothing(client):
    tap = make.tap()
    client.force_login(make.rhea())
    assert client.get(reverse("tap", args=[tap.pk])).status_code == 200
    assert client.post(reverse("tap-pull", args=[tap.pk])).status_code == 403
    assert client.post(reverse("tap-mark", args=[tap.pk]), {"dry": "on"}).status_code == 403
    client.force_login(make.mira())
    for name in ("tap", "tap-pull", "tap-mark", "tap-settle"):
        assert client.post(reverse(name, args=[tap.pk])).status_code in {404, 405}
    assert client.get(reverse("tap", args=[tap.pk])).status_code == 404
    tap.refresh_from_db()
    assert (tap.state, tap.dry) == (TapState.IN, False)


# Settling ---------------------------------------------------------------------------


def test_a_lead_lets_a_tap_stand_once_the_gate_agrees(client):
    client.force_login(make.lena())
    tree = make.given_tree()
    first, second = make.tap(tree), to_settle(tree, aspect_deg=0)
    answer = client.post(reverse("tap-settle", args=[second.pk]))
    assert answer.status_code == 409
    assert "so it has its one tap" in text(answer)
    first.delete()
    client.post(reverse("tap-settle", args=[second.pk]), {"note": "Looked at it."})
    second.refresh_from_db()
    assert (second.state, second.position, second.settled_by) == (TapState.IN, 1, make.lena())


def test_nobody_settles_their_own_tap(client):
    client.force_login(make.lena())
    own = to_settle(by=make.lena())
    page = text(client.get(reverse("taps-settle")))
    assert "Somebody else has to settle your own tap." in page
    answer = client.post(reverse("tap-settle", args=[own.pk]))
    assert answer.status_code == 409
    assert Tap.objects.get().state == TapState.TO_SETTLE


def test_a_pail_that_is_not_food_safe_does_not_stand(client):
    client.force_login(make.lena())
    tap = to_settle(container=make.container("P-77", food_safe="no"))
    answer = client.post(reverse("tap-settle", args=[tap.pk]))
    assert answer.status_code == 409
    assert "P-77 is not known to be food-safe." in text(answer)


def test_bob_does_not_settle_and_lena_sees_only_her_group(client):
    tap = to_settle()
    theirs = to_settle(make.given_tree(group=make.group("Mill Race")), by=make.mira())
    client.force_login(make.bob())
    assert client.get(reverse("taps-settle")).status_code == 403
    assert client.post(reverse("tap-settle", args=[tap.pk])).status_code == 403
    client.force_login(make.lena())
    page = text(client.get(reverse("taps-settle")))
    assert tap.tree.code in page
    assert theirs.tree.code not in page
    assert "It was full." in page


# Taps still in ----------------------------------------------------------------------


def test_the_list_stands_until_zero_and_the_season_does_not_close_before(bob):
    tap = make.tap()
    assert [reason.code for reason in closing.reasons_against(make.season()) if reason.code == "taps-in"] == ["taps-in"]
    page = text(bob.get(reverse("taps-in")))
    assert tap.tree.code in page
    assert f"{reverse('map')}?key=1&state=tapped&state=pull" in page
    bob.post(reverse("taps-pull"), {"taps": [tap.pk]})
    assert "All out." in text(bob.get(reverse("taps-in")))
    assert not [reason for reason in closing.reasons_against(make.season()) if reason.code == "taps-in"]


def test_what_is_to_pull_stands_first_with_the_days_over_its_permission(bob):
    fine = make.tap(make.given_tree(address="1 Aster Lane"))
    late = make.given_tree(address="9 Zinnia Lane")
    make.tap(late)
    late.permissions.update(date_to=make.today() - make.days(3))
    from sugarbush.trees import shown

    shown.refresh([late.pk])
    page = text(bob.get(reverse("taps-in")))
    assert page.index(late.code) < page.index(fine.tree.code)
    assert "over for 3 days" in page


def test_many_are_pulled_by_ticks_and_each_stands_alone(bob):
    first, second = make.tap(), make.tap()
    future = make.tap(placed_at=timezone.now() + make.days(1))
    theirs = make.tap(make.given_tree(group=make.group("Mill Race")), by=make.mira())
    page = bob.get(reverse("taps-in") + "?tick=all")
    assert page.content.count(b" checked") == 3
    answer = bob.post(reverse("taps-pull"), {"taps": [first.pk, second.pk, future.pk, theirs.pk, "x"]})
    assert "It went in after that time." in text(answer)
    assert set(Tap.objects.filter(state=TapState.PULLED)) == {first, second}


def test_the_button_beside_a_tap_means_that_one_alone(bob):
    first, second = make.tap(), make.tap()
    bob.post(reverse("taps-pull"), {"taps": [first.pk], "only": second.pk})
    assert list(Tap.objects.filter(state=TapState.PULLED)) == [second]


def test_nothing_ticked_is_said(bob):
    make.tap()
    answer = bob.post(reverse("taps-pull"))
    assert answer.status_code == 422
    assert "No tap was chosen." in text(answer)


def test_the_list_asks_no_more_of_the_database_for_many_taps(bob, django_assert_max_num_queries):
    make.tap()
    with django_assert_max_num_queries(40) as first:
        bob.get(reverse("taps-in"))
    for _ in range(20):
        make.tap()
    with django_assert_max_num_queries(len(first.captured_queries)):
        bob.get(reverse("taps-in"))
