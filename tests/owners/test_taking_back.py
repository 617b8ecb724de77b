"""Taking a permission back stops work at once. job.md C12, through the pages and the real acts."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from sugarbush.gathering.models import Collection, CollectionState
from sugarbush.owners.models import Permission
from sugarbush.parts.reasons import Refused
from sugarbush.taps.actions import place_tap
from sugarbush.taps.gate import NewHole
from sugarbush.taps.models import Tap, TapState
from sugarbush.trees import shown
from sugarbush.trees.models import Shown, Tree
from tests import make

pytestmark = pytest.mark.django_db


@pytest.fixture
def tree() -> Tree:
    """A wide tree with one spout in: a second would fit, were it still allowed."""
    return make.tapped_tree(diameter_um=20 * make.INCH_UM)


def shown_by(tree: Tree) -> Shown:
    return Tree.objects.get(pk=tree.pk).shown


def stop(client: Client, tree: Tree, state: str = "revoked") -> Permission:
    slip = tree.permissions.get()
    client.force_login(make.lena())
    answer = client.post(
        reverse("permission-act", args=[slip.number]), {"state": state, f"{state}-reason": "She asked us to stop."}
    )
    assert answer.status_code == 302
    tree.refresh_from_db()
    slip.refresh_from_db()
    return slip


@pytest.mark.parametrize("state", ["revoked", "suspended"])
def test_a_tree_with_a_spout_in_shows_to_pull(client: Client, tree: Tree, state: str) -> None:
    assert shown_by(tree) == Shown.TAPPED
    slip = stop(client, tree, state)
    assert shown_by(tree) == Shown.PULL
    page = client.get(reverse("permission", args=[slip.number])).content.decode()
    assert "Stop: 1 tree has a spout to pull" in page
    assert f'href="{tree.get_absolute_url()}"' in page
    assert "She asked us to stop." in page


def test_the_page_says_beforehand_what_taking_back_does(client: Client, tree: Tree) -> None:
    client.force_login(make.lena())
    page = client.get(reverse("permission", args=[tree.permissions.get().number])).content.decode()
    assert "1 tree with a spout in goes to “to pull”" in page
    assert "no new tap goes in" in page


def test_no_new_tap_goes_in(client: Client, tree: Tree) -> None:
    stop(client, tree)
    hole = NewHole(height_mm=900, aspect_deg=0, bit_um=7_938, depth_mm=45)
    with pytest.raises(Refused) as refused:
        place_tap(tree=tree, by=make.bob(), hole=hole, shavings="white", confirmed=True)
    assert "was taken back" in str(refused.value)
    assert Tap.objects.count() == 1


def test_a_collection_before_that_time_counts_and_one_after_is_kept_to_review(client: Client, tree: Tree) -> None:
    before = timezone.now()
    early = make.collection(tree, litres=4, happened_at=before)
    stop(client, tree)
    late = make.collection(tree, litres=5)
    sent_late = make.collection(tree, litres=3, happened_at=before - make.days(1))
    assert (early.state, late.state, sent_late.state) == (
        CollectionState.COUNTED,
        CollectionState.REVIEW,
        CollectionState.COUNTED,
    )
    assert late.volume_ml == 5_000  # kept, not thrown away
    assert late.review_reasons


def test_a_removal_visit_goes_through(client: Client, tree: Tree) -> None:
    stop(client, tree)
    visit = make.collection(tree, litres=0, outcome="removal")
    assert visit.state == CollectionState.COUNTED
    assert Tap.objects.get().state == TapState.PULLED
    tree.refresh_from_db()
    assert tree.shown not in {Shown.PULL, Shown.TAPPED}
    assert Collection.objects.get().outcome == "removal"


def test_another_owners_or_a_further_yes_keeps_the_tree_tapped(client: Client, tree: Tree) -> None:
    slip = tree.permissions.get()
    make.permission(tree, owner=slip.owner)
    client.force_login(make.alice())
    client.post(
        reverse("permission-act", args=[slip.number]), {"state": "revoked", "revoked-reason": "A new permit instead."}
    )
    tree.refresh_from_db()
    assert tree.shown == Shown.TAPPED


def test_a_lapsed_yes_stops_the_tree_like_one_taken_back(tree: Tree) -> None:
    slip = tree.permissions.get()
    slip.date_to = make.today() - make.days(1)
    slip.save()
    shown.refresh([tree.pk])
    tree.refresh_from_db()
    assert tree.shown == Shown.PULL
    assert make.collection(tree, litres=5).state == CollectionState.REVIEW
