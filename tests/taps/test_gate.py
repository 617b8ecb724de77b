"""The gate: each reason alone, all of them together, and none."""

from __future__ import annotations

import datetime as dt

import pytest
from django.utils import timezone

from sugarbush.owners.models import OwnerKind, PermissionState
from sugarbush.seasons.models import SeasonState
from sugarbush.taps.facts import read_facts
from sugarbush.taps.gate import NewHole, gate
from sugarbush.trees.actions_checks import YES_OR_NO, kept_reasons, verdict_of
from tests import make

pytestmark = pytest.mark.django_db


def codes(tree, act="assign", **how):
    return [reason.code for reason in gate(tree, act, **how)]


def test_a_sound_permitted_checked_maple_may_be_given_out():
    assert codes(make.ready_tree()) == []


def test_a_given_tree_may_be_tapped_by_a_trained_adult_of_its_group():
    assert codes(make.given_tree(), "tap", hole=make.HOLE, by=make.bob()) == []


@pytest.mark.parametrize(
    ("spoil", "code"),
    [
        ({"species": None}, "species"),
        ({"species_sure": "unconfirmed"}, "species"),
        ({"species_sure": "disputed"}, "species"),
        ({"land": "unknown"}, "land"),
        ({"land": "private"}, "owner"),
        ({"land": "shared"}, "owner"),
        ({"life": "resting"}, "resting"),
        ({"life": "excluded"}, "excluded"),
        ({"life": "felled"}, "felled"),
        ({"diameter_um": None}, "size"),
        ({"diameter_um": 12 * make.INCH_UM - 1}, "size"),
    ],
)
def test_each_thing_wrong_with_the_tree_is_the_one_reason(spoil, code):
    tree = make.given_tree()
    for name, value in spoil.items():
        setattr(tree, name, value)
    tree.save()
    assert codes(tree) == [code]
    assert codes(tree, "tap", hole=make.HOLE, by=make.bob()) == [code]


def test_an_ash_that_everybody_is_sure_of_is_still_no_maple():
    tree = make.ready_tree(species=make.species("Fraxinus americana", "white ash", tappable=False))
    assert codes(tree) == ["species-unfit"]


def test_the_list_of_kinds_is_the_one_frozen_when_the_season_opened():
    make.season(species_keys=["Acer nigrum"], frozen_at=timezone.now())
    assert codes(make.ready_tree()) == ["species-unfit"]


def test_without_an_answer_about_insecticide_no_tap():
    tree = make.ready_tree()
    tree.treatments.all().delete()
    assert codes(tree) == ["treatment"]


def test_nobody_knows_is_not_a_no():
    tree = make.ready_tree()
    make.treatment(tree, "unknown", date=make.today())
    assert codes(tree) == ["treatment"]


def test_any_yes_stops_even_under_a_later_no():
    tree = make.ready_tree()
    make.treatment(tree, "yes", date=make.today() - make.days(700))
    assert codes(tree) == ["treated"]


def test_a_yes_cleared_in_writing_leaves_the_later_no():
    tree = make.ready_tree()
    make.treatment(
        tree,
        "yes",
        date=make.today() - make.days(700),
        cleared_at=timezone.now(),
        cleared_by=make.alice(),
        cleared_reason="The arborist's letter: the spruce next door was meant.",
    )
    assert codes(tree) == []


def test_a_cleared_yes_alone_still_asks_for_an_answer():
    tree = make.ready_tree()
    tree.treatments.all().delete()
    make.treatment(tree, "yes", cleared_at=timezone.now(), cleared_by=make.alice(), cleared_reason="letter")
    assert codes(tree) == ["treatment"]


def test_a_check_counts_through_its_last_day_and_not_one_more():
    tree = make.ready_tree()
    check = tree.checks.get()
    check.date = make.today() - make.days(60)
    check.save()
    assert codes(tree) == []
    assert codes(tree, on=make.today() + make.days(1)) == ["check-old"]


def test_without_a_check_no_tap():
    tree = make.ready_tree()
    tree.checks.all().delete()
    assert codes(tree) == ["check"]


def test_a_failed_check_stands_until_a_new_one():
    tree = make.ready_tree()
    answers = {"crown_dieback_pct": 35, "salt": "none", "old_holes": "closed"} | dict.fromkeys(YES_OR_NO, False)
    kept = kept_reasons(verdict_of(answers))
    make.check(tree, "fail", date=make.today() - make.days(1), reasons=kept)
    assert codes(tree) == ["check-failed"]
    assert gate(tree, "tap")[0].detail.startswith("35 % of the crown is dead")
    make.check(tree, "pass", date=make.today())
    assert codes(tree) == []


def test_a_public_tree_needs_the_public_body_and_no_neighbour():
    make.season()
    tree = make.tree()
    make.treatment(tree)
    make.check(tree)
    neighbour = make.owner("Fern Abernathy-Sole", OwnerKind.PERSON)
    make.permission(tree, owner=neighbour, capacity="owner")
    (reason,) = gate(tree, "assign")
    assert reason.code == "permission"
    assert "public body" in reason.fact
    assert "not enough" in reason.detail


def test_a_private_tree_needs_its_own_owner():
    make.season()
    tree = make.tree(land="private")
    make.treatment(tree)
    make.check(tree)
    fern = make.owner("Fern Abernathy-Sole", OwnerKind.PERSON)
    neighbour = make.owner("Juno Pell", OwnerKind.PERSON)
    make.owns(tree, fern)
    make.permission(tree, owner=neighbour, capacity="owner")
    assert codes(tree) == ["permission"]
    make.permission(tree, owner=fern, capacity="owner")
    assert codes(tree) == []


def test_a_shared_tree_needs_all_its_owners():
    make.season()
    tree = make.tree(land="shared")
    make.treatment(tree)
    make.check(tree)
    fern, juno = make.owner("Fern Abernathy-Sole", "person"), make.owner("Juno Pell", "person")
    make.owns(tree, fern)
    make.owns(tree, juno)
    make.permission(tree, owner=fern, capacity="owner")
    (reason,) = gate(tree, "assign")
    assert reason.fact.startswith("Juno Pell")
    make.permission(tree, owner=juno, capacity="owner")
    assert codes(tree) == []


@pytest.mark.parametrize("state", [s for s in PermissionState.values if s != PermissionState.GRANTED])
def test_only_a_yes_is_a_yes(state):
    tree = make.given_tree()
    tree.permissions.update(state=state)
    assert codes(tree) == ["permission"]
    assert codes(tree, "tap") == ["permission"]


def test_somebody_who_only_lives_there_cannot_say_yes():
    tree = make.given_tree()
    tree.permissions.update(capacity="occupant")
    assert codes(tree) == ["permission"]


def test_a_permission_that_starts_later_lets_a_tree_be_given_but_not_tapped():
    tree = make.given_tree()
    tree.permissions.update(date_from=make.today() + make.days(3))
    assert codes(tree) == []
    assert codes(tree, "tap", by=make.bob()) == ["permission"]


def test_a_permission_ends_with_its_last_day():
    tree = make.given_tree()
    tree.permissions.update(date_to=make.today())
    assert codes(tree, "tap", by=make.bob()) == []
    assert codes(tree, "tap", by=make.bob(), on=make.today() + make.days(1)) == ["permission"]


def test_the_permit_may_ask_for_a_thicker_trunk_than_the_rule():
    tree = make.ready_tree()
    tree.permissions.update(least_diameter_um=20 * make.INCH_UM, public_number="QPS-2026-014")
    (reason,) = gate(tree, "assign")
    assert reason.code == "size-permit"
    assert "QPS-2026-014" in reason.fact


def test_a_permit_for_one_tap_stops_the_second_on_a_thick_trunk_and_says_its_number():
    tree = make.given_tree(diameter_um=600_000)
    tree.permissions.update(most_taps=1, public_number="QPS-2026-014")
    make.tap(tree)
    (reason,) = gate(tree, "tap", hole=NewHole(height_mm=900, aspect_deg=0, bit_um=7_938, depth_mm=45), by=make.bob())
    assert reason.code == "full"
    assert "QPS-2026-014" in reason.detail


def test_watch_allows_one_tap_however_thick_the_trunk():
    tree = make.given_tree(diameter_um=600_000)
    make.check(tree, "watch", date=make.today())
    assert codes(tree, "tap") == []
    make.tap(tree)
    assert codes(tree, "tap") == ["full"]


def test_a_pulled_hole_counts_as_a_hole_of_this_season():
    tree = make.given_tree()
    make.tap(tree, state="pulled", out_at=timezone.now())
    assert codes(tree, "tap") == ["full"]


@pytest.mark.parametrize(
    ("state", "assign", "tap"),
    [
        (SeasonState.DRAFT, [], ["season"]),
        (SeasonState.OPEN, [], ["season"]),
        (SeasonState.TAPPING, [], []),
        (SeasonState.RUNNING, [], []),
        (SeasonState.ENDING, ["season"], ["season"]),
    ],
)
def test_the_season_opens_and_shuts_the_gate(state, assign, tap):
    tree = make.given_tree()
    make.season(state=state)
    assert codes(tree) == assign
    assert codes(tree, "tap") == tap


def test_without_any_season_nothing_is_given_out():
    tree = make.tree()
    assert "no-season" in codes(tree)


def test_a_tree_given_to_another_group_is_not_given_twice():
    tree = make.given_tree()
    assert codes(tree, group=make.group("Mill Race")) == ["assigned"]
    assert codes(tree, group=make.group("North Bank")) == []


def test_a_tree_given_to_nobody_is_not_tapped():
    assert codes(make.ready_tree(), "tap") == ["assigned"]


def test_somebody_of_another_group_does_not_tap_it():
    assert codes(make.given_tree(), "tap", by=make.mira()) == ["assigned", "person"]


def test_a_tap_needs_training_and_an_adult():
    tree = make.given_tree()
    assert codes(tree, "tap", by=make.person("Nell")) == ["person"]
    assert codes(tree, "tap", by=make.person("Wim", credentials=["tapping"], age_band="youth")) == ["person"]


@pytest.mark.parametrize(
    ("limit", "hole", "said"),
    [
        ({"most_height_mm": 1_200}, {"height_mm": 1_201}, "above"),
        ({"largest_bit_um": 7_940}, {"bit_um": 7_941}, "bit"),
        ({"most_depth_mm": 40}, {"depth_mm": 41}, "deeper"),
    ],
)
def test_the_permits_numbers_hold_for_the_hole_at_and_just_past_the_limit(limit, hole, said):
    tree = make.given_tree()
    tree.permissions.update(**limit)
    (name, value), (field, over) = next(iter(limit.items())), next(iter(hole.items()))
    base = {"height_mm": 900, "aspect_deg": 180, "bit_um": 7_900, "depth_mm": 40}
    assert codes(tree, "tap", hole=NewHole(**{**base, field: value}), by=make.bob()) == []
    (reason,) = gate(tree, "tap", hole=NewHole(**{**base, field: over}), by=make.bob())
    assert reason.code == "hole-permit"
    assert said in reason.fact
    assert name.split("_")[0] in {"most", "largest"}


def test_a_hole_deeper_than_two_inches_is_refused():
    # 1.5 to 2 in: UVM Extension slides "Beginning Sugarmaking", trade-facts 1.3 [R].
    tree = make.given_tree()
    assert codes(tree, "tap", hole=NewHole(height_mm=900, aspect_deg=180, bit_um=7_938, depth_mm=51)) == []
    deep = NewHole(height_mm=900, aspect_deg=180, bit_um=7_938, depth_mm=52)
    assert codes(tree, "tap", hole=deep) == ["hole-depth"]


def test_a_second_hole_keeps_its_distance_from_this_seasons_first():
    # 6 in (15 cm) to the side of an open hole: UVM Extension slides, trade-facts 1.3 [R].
    tree = make.given_tree(diameter_um=600_000)
    make.tap(tree, aspect_deg=180)
    near = NewHole(height_mm=900, aspect_deg=200, bit_um=7_938, depth_mm=45)  # 20 degrees of 1,885 mm is 105 mm
    far = NewHole(height_mm=900, aspect_deg=210, bit_um=7_938, depth_mm=45)  # 30 degrees is 157 mm
    assert codes(tree, "tap", hole=near, by=make.bob()) == ["hole-near"]
    assert codes(tree, "tap", hole=far, by=make.bob()) == []


def test_everything_wrong_is_said_at_once_each_with_its_next_step():
    make.season(state=SeasonState.OPEN)
    tree = make.tree(species_sure="unconfirmed", land="unknown", life="resting", diameter_um=10 * make.INCH_UM)
    reasons = gate(tree, "tap", by=make.person("Nell"))
    assert [r.code for r in reasons] == [
        "season",
        "resting",
        "species",
        "land",
        "treatment",
        "check",
        "size",
        "assigned",
        "person",
    ]
    for reason in reasons:
        assert reason.fact.endswith(".")
        assert reason.next_text


def test_ten_trees_ask_as_few_questions_of_the_database_as_one(django_assert_max_num_queries):
    trees = [make.given_tree() for _ in range(10)]
    with django_assert_max_num_queries(10):
        facts = read_facts([tree.pk for tree in trees])
        for tree in trees:
            assert gate(tree, "assign", facts=facts[tree.pk]) == []


def test_the_gate_writes_nothing(django_assert_num_queries):
    tree = make.given_tree()
    before = tree.history.count()
    gate(tree, "tap", hole=make.HOLE, by=make.bob())
    assert tree.history.count() == before
    assert not tree.taps.exists()


def test_a_day_in_the_past_is_asked_about_that_day():
    tree = make.given_tree()
    long_ago = make.today() - dt.timedelta(days=200)
    assert "permission" in codes(tree, "tap", on=long_ago)
