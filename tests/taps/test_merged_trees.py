"""Two entries of one tree become one: its holes stay holes of one trunk."""

from __future__ import annotations

import pytest

from sugarbush.parts.reasons import Refused
from sugarbush.taps.gate import gate
from sugarbush.taps.models import TapState
from sugarbush.trees.merging import merge
from tests import make

pytestmark = pytest.mark.django_db


def test_no_hole_is_lost_when_both_entries_have_a_first_one():
    kept, loser = make.tapped_tree(), make.tapped_tree()
    merge(by=make.alice(), kept=kept, loser=loser)
    assert sorted(kept.taps.values_list("position", flat=True)) == [1, 2]
    assert not loser.taps.exists()
    kept.refresh_from_db()
    assert kept.needs_look  # two spouts where the size allows one


def test_a_hole_without_a_place_left_is_put_to_settle():
    kept, loser = make.tapped_tree(), make.tapped_tree()
    make.tap(kept, position=2, aspect_deg=0)
    merge(by=make.alice(), kept=kept, loser=loser)
    assert kept.taps.count() == 3
    assert kept.taps.get(position=0).state == TapState.TO_SETTLE


def test_one_assignment_stands():
    kept, loser = make.given_tree(), make.given_tree()
    merge(by=make.alice(), kept=kept, loser=loser)
    assert kept.assignments.exclude(state="ended").count() == 1
    assert gate(kept, "tap", by=make.bob()) == []


def test_two_groups_at_one_tree_have_to_agree_first():
    kept, loser = make.given_tree(), make.given_tree(group=make.group("Mill Race"))
    with pytest.raises(Refused) as refused:
        merge(by=make.alice(), kept=kept, loser=loser)
    assert "North Bank and Mill Race both work this tree." in str(refused.value)
