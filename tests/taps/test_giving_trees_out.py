"""Giving many trees out at once: each done or refused with its reasons, none half-done."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from sugarbush.taps.models import Assignment
from sugarbush.trees.models import Tree
from tests import make

pytestmark = pytest.mark.django_db


@pytest.fixture
def alice(client: Client) -> Client:
    client.force_login(make.alice())
    return client


def give(client, trees, group, **more):
    return client.post(reverse("assign"), {"codes": [tree.code for tree in trees], "group": group.pk, **more})


def test_thirty_trees_are_given_twenty_six_done_four_refused_each_with_its_reasons(alice):
    good = [make.ready_tree() for _ in range(26)]
    thin = make.ready_tree(diameter_um=11 * make.INCH_UM)
    resting = make.ready_tree(life="resting")
    unsure = make.ready_tree(species_sure="unconfirmed")
    bare = make.tree(diameter_um=None)
    group = make.group()
    answer = give(alice, [*good, thin, resting, unsure, bare], group)
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "26 trees given to North Bank" in page
    assert "4 trees stay as they were" in page
    for tree, said in (
        (thin, "Its trunk is"),
        (resting, "This tree is resting."),
        (unsure, "Nobody is sure yet"),
        (bare, "Its trunk is not measured."),
    ):
        assert tree.code in page
        assert said in page
    # The bare tree has several reasons, and each is said.
    assert "It has no health check." in page
    assert Assignment.objects.count() == 26
    assert not Assignment.objects.filter(tree__in=[thin, resting, unsure, bare]).exists()


def test_none_done_is_a_conflict(alice):
    answer = give(alice, [make.ready_tree(life="resting")], make.group())
    assert answer.status_code == 409
    assert "No tree was given" in answer.content.decode()


def test_tags_may_be_pasted_in_any_way_and_twice(alice):
    first, second = make.ready_tree(), make.ready_tree()
    text = f"{first.code.lower()}, {second.code};\n{first.code}"
    answer = alice.post(reverse("assign"), {"codes": text, "group": make.group().pk})
    assert "2 trees given to North Bank" in answer.content.decode()


def test_a_tag_nobody_knows_and_another_groups_tree_read_the_same(client):
    client.force_login(make.lena())
    theirs = make.ready_tree(group=make.group("Mill Race"))
    answer = client.post(reverse("assign"), {"codes": f"QH-99999 {theirs.code}", "group": make.group().pk})
    assert answer.status_code == 409
    assert answer.content.decode().count("No tree of yours has this tag.") == 2
    assert theirs.address not in answer.content.decode()


def test_a_second_entry_stands_for_the_tree_that_was_kept(alice):
    kept = make.ready_tree()
    make.tree(code="QH-7777", merged_into=kept, life="felled")
    alice.post(reverse("assign"), {"codes": "QH-7777", "group": make.group().pk})
    assert Assignment.objects.get().tree == kept


def test_a_listed_tree_comes_into_the_groups_sights(alice):
    tree = make.ready_tree(life="listed", group=None)
    before = tree.edition
    give(alice, [tree], make.group())
    tree.refresh_from_db()
    assert (tree.group, tree.life, tree.edition) == (make.group(), "candidate", before + 1)
    assert tree.history.first().history_user == make.alice()


def test_a_tree_given_to_another_group_is_refused_and_says_to_whom(alice):
    tree = make.given_tree()
    answer = give(alice, [tree], make.group("Mill Race"))
    assert answer.status_code == 409
    assert "given to North Bank already" in answer.content.decode()


def test_it_can_be_given_to_one_person_of_the_group_and_to_nobody_else(alice):
    tree, bob, mira = make.ready_tree(), make.bob(), make.mira()
    assert "Bob, North Bank" in give(alice, [tree], make.group(), person=bob.pk).content.decode()
    assert Assignment.objects.get().person == bob
    answer = give(alice, [make.ready_tree()], make.group(), person=mira.pk)
    assert answer.status_code == 409
    assert "Mira is not in North Bank." in answer.content.decode()


@pytest.mark.parametrize(("typed", "said"), [("", "No tree was chosen"), ("\n ,; ", "No tree was chosen")])
def test_without_tags_the_form_says_so(alice, typed, said):
    answer = alice.post(reverse("assign"), {"codes": typed, "group": make.group().pk})
    assert answer.status_code == 422
    assert said in answer.content.decode()


def test_more_than_a_thousand_tags_are_too_many_and_stay_typed(alice):
    codes = " ".join(f"QH-{n:05d}" for n in range(1_001))
    answer = alice.post(reverse("assign"), {"codes": codes, "group": make.group().pk})
    assert answer.status_code == 422
    assert "at most 1000 go at once" in answer.content.decode()
    assert "QH-00999" in answer.content.decode()


@pytest.mark.parametrize("who", ["bob", "rhea", "charlie"])
def test_who_may_not_give_trees_is_told_so(client, who):
    client.force_login(getattr(make, who)())
    assert client.get(reverse("assign")).status_code == 403
    assert give(client, [make.ready_tree()], make.group()).status_code == 403
    assert not Assignment.objects.exists()


def test_a_lead_does_not_give_to_another_group(client):
    client.force_login(make.lena())
    assert give(client, [make.ready_tree()], make.group("Mill Race")).status_code == 403


def test_thirty_trees_cost_as_many_queries_as_three(alice, django_assert_max_num_queries):
    make.alice()
    few, many = [make.ready_tree() for _ in range(3)], [make.ready_tree(group=None) for _ in range(30)]
    with django_assert_max_num_queries(60) as first:
        give(alice, few, make.group())
    with django_assert_max_num_queries(len(first.captured_queries) + 6):
        assert give(alice, many, make.group()).status_code == 200
    assert Assignment.objects.count() == 33


def test_a_tree_is_taken_back_but_not_with_a_spout_in_it(alice):
    tree = make.given_tree()
    alice.post(reverse("assign-end", args=[tree.code]))
    assert Assignment.objects.get().state == "ended"
    tapped = make.tapped_tree()
    answer = alice.post(reverse("assign-end", args=[tapped.code]))
    assert answer.status_code == 409
    assert "A spout is still in" in answer.content.decode()
    assert tapped.assignments.get().state == "active"


def test_bob_does_not_take_a_tree_back_and_mira_does_not_see_it(client):
    tree = make.given_tree()
    client.force_login(make.bob())
    assert client.post(reverse("assign-end", args=[tree.code])).status_code == 403
    client.force_login(make.mira())
    assert client.post(reverse("assign-end", args=[tree.code])).status_code == 404
    assert tree.assignments.get().state == "active"


def test_markup_in_a_tag_is_shown_as_text(alice):
    answer = alice.post(reverse("assign"), {"codes": "<script>x</script>", "group": make.group().pk})
    assert b"<SCRIPT>" not in answer.content
    assert Tree.objects.count() == 0
