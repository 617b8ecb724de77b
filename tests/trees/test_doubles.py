"""One tree entered twice: finding it, and making the two entries one."""

from __future__ import annotations

import math
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from sugarbush.audit.models import AuditEvent
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.trees import merging, shown
from sugarbush.trees.duplicates import pairs_to_look_at
from sugarbush.trees.merging import merge
from sugarbush.trees.models import Life, SaidApart, Shown, SpeciesSure, Tree
from sugarbush.trees.tiles import tile_of
from sugarbush.volunteers.models import Person
from tests import make

pytestmark = pytest.mark.django_db
LON, LAT = make.CENTRE


def client_of(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def metres_north(metres: float, of: float = LAT) -> float:
    return of + math.degrees(metres / 6_371_009)  # IUGG mean radius


def two(metres: float = 2.0, **fields: Any) -> tuple[Tree, Tree]:
    one = make.tree(longitude=LON, latitude=LAT)
    other = make.tree(longitude=LON, latitude=metres_north(metres), **fields)
    shown.refresh([one.pk, other.pk])
    return one, other


def found(person: Person) -> list[set[str]]:
    return [{pair.first.code, pair.second.code} for pair in pairs_to_look_at(person)[0]]


def test_two_entries_close_together_are_listed_once() -> None:
    one, other = two()
    assert found(make.alice()) == [{one.code, other.code}]
    assert found(make.lena()) == [{one.code, other.code}]


def test_a_programme_tree_and_the_town_s_own_entry_of_it_are_listed() -> None:
    one, other = two(life=Life.LISTED)
    assert found(make.alice()) == [{one.code, other.code}]


def test_two_of_the_town_s_other_trees_are_left_alone() -> None:
    for metres in (0, 1):
        make.tree(longitude=LON, latitude=metres_north(metres), life=Life.LISTED)
    assert found(make.alice()) == []


def test_trees_further_apart_are_not_listed() -> None:
    two(3.2)
    assert found(make.alice()) == []


def test_a_pair_across_the_edge_of_a_tile_is_found() -> None:
    # Zoom-17 web-mercator tiles (EPSG:3857): the edge lies where the tile number changes.
    low, high = LAT, LAT + 0.01
    row = tile_of(longitude_deg=LON, latitude_deg=low)[1]
    for _step in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if tile_of(longitude_deg=LON, latitude_deg=middle)[1] == row else (low, middle)
    one = make.tree(longitude=LON, latitude=metres_north(-1, low))
    other = make.tree(longitude=LON, latitude=metres_north(1, low), life=Life.LISTED)
    assert one.t17 != other.t17
    shown.refresh([one.pk])
    assert found(make.alice()) == [{one.code, other.code}]


def test_every_pair_is_found_that_a_plain_comparison_finds() -> None:
    from sugarbush.trees.duplicates import alike
    from sugarbush.trees.tiles import metres_between

    trees = [
        make.tree(longitude=LON + (n % 9) * 2.3e-5, latitude=LAT + (n // 9) * 1.9e-5, species=None) for n in range(54)
    ]
    shown.refresh([tree.pk for tree in trees])
    plain = {
        frozenset((a.code, b.code))
        for a in trees
        for b in trees
        if a.pk < b.pk
        and alike(metres_between(lon1=a.longitude, lat1=a.latitude, lon2=b.longitude, lat2=b.latitude), None, None)
    }
    pairs, more = pairs_to_look_at(make.alice(), most=10_000)
    assert not more
    assert {frozenset((pair.first.code, pair.second.code)) for pair in pairs} == plain
    assert len(plain) > 50


def test_once_said_to_be_two_trees_nobody_is_asked_again() -> None:
    one, other = two()
    client = client_of(make.lena())
    assert client.post(reverse("tree-doubles"), {"apart": [other.code, one.code]}).status_code == 302
    assert found(make.alice()) == []
    assert client.post(reverse("tree-doubles"), {"apart": [other.code, one.code]}).status_code == 302
    assert SaidApart.objects.count() == 1


def test_of_another_groups_tree_the_list_shows_only_tag_place_and_species() -> None:
    one, other = two(group=make.group("Mill Race"), access_note="blue door", diameter_um=777_000)
    page = client_of(make.lena()).get(reverse("tree-doubles")).content.decode()
    assert one.code in page
    assert other.code in page
    assert "Mill Race" not in page
    assert "77.7" not in page
    assert other.get_absolute_url() not in page


def test_the_list_of_doubles_asks_as_often_for_many_as_for_few() -> None:
    client = client_of(make.alice())
    two()
    with CaptureQueriesContext(connection) as few:
        client.get(reverse("tree-doubles"))
    for n in range(30):
        make.tree(longitude=LON + 0.01 + n * 0.003, latitude=LAT)
        make.tree(longitude=LON + 0.01 + n * 0.003, latitude=metres_north(1))
    shown.refresh(Tree.objects.values_list("pk", flat=True))
    with CaptureQueriesContext(connection) as many:
        client.get(reverse("tree-doubles"))
    assert len(many) == len(few)


def test_a_merge_keeps_both_histories_and_both_tags() -> None:
    make.season()
    kept, loser = two(diameter_um=None, size_as_given="", inventory_source="town", inventory_number="A-5")
    make.check(kept)
    make.check(loser, verdict="watch")
    make.treatment(loser, "yes")
    slip = make.permission(loser)
    lena = client_of(make.lena())
    page = reverse("tree-merge", args=[kept.code])
    assert loser.code in lena.get(page, {"with": loser.code}).content.decode()
    answer = lena.post(page, {"with": loser.code, "keep": kept.code, "reason": "one trunk, two tags"})
    assert answer.status_code == 302
    kept.refresh_from_db()
    loser.refresh_from_db()
    assert loser.merged_into == kept
    assert sorted(kept.checks.values_list("verdict", flat=True)) == ["pass", "watch"]
    assert kept.treatments.count() == 1
    assert list(slip.trees.all()) == [kept]
    assert (kept.inventory_source, kept.inventory_number) == ("town", "A-5")
    assert kept.all_ids == [kept.pk, loser.pk]
    assert loser.shown == Shown.FELLED  # not drawn
    event = AuditEvent.objects.get(act="merge trees")
    assert event.new["gone"] == loser.code
    assert event.new["moved"]["trees.healthcheck"]


def test_the_other_tag_goes_on_finding_the_tree() -> None:
    kept, loser = two()
    merge(by=make.alice(), kept=kept, loser=loser)
    client = client_of(make.bob())
    answer = client.get(reverse("tree-look", args=[loser.code.lower()]))
    assert answer["Location"] == reverse("tree-look", args=[kept.code])
    assert client.get(reverse("trees"), {"q": loser.code})["Location"] == kept.get_absolute_url()
    assert [tree.code for tree in client.get(reverse("trees")).context["page"]] == [kept.code]


def test_a_chain_of_merges_leads_to_the_last() -> None:
    one, two_ = two()
    three = make.tree(longitude=LON, latitude=metres_north(1))
    merge(by=make.alice(), kept=two_, loser=one)
    merge(by=make.alice(), kept=three, loser=two_)
    one.refresh_from_db()
    assert one.merged_into == three


def test_two_species_on_one_trunk_need_a_look() -> None:
    kept, loser = two(1.0, species=make.species("Acer rubrum", "red maple"))
    merge(by=make.alice(), kept=kept, loser=loser)
    kept.refresh_from_db()
    assert kept.species_sure == SpeciesSure.DISPUTED


def test_rows_that_both_entries_have_do_not_stop_the_merge() -> None:
    kept, loser = two()
    town = make.owner()
    make.owns(kept, town)
    make.owns(loser, town)
    make.permission(kept, loser)
    merge(by=make.alice(), kept=kept, loser=loser)
    assert kept.owned_by.count() == 1
    assert kept.permission_lines.count() == 1


def test_who_may_merge() -> None:
    kept, loser = two()
    for person in (make.bob(), make.rhea()):
        with pytest.raises(PermissionDenied):
            merge(by=person, kept=kept, loser=loser)
    other_group = make.tree(group=make.group("Mill Race"))
    with pytest.raises(PermissionDenied):
        merge(by=make.lena(), kept=kept, loser=other_group)
    page = reverse("tree-merge", args=[kept.code])
    assert client_of(make.lena()).get(page, {"with": other_group.code}).status_code == 404
    assert client_of(make.bob()).get(page, {"with": loser.code}).status_code == 403
    assert client_of(make.mira()).get(page, {"with": loser.code}).status_code == 404
    merge(by=make.alice(), kept=kept, loser=other_group)


def test_a_merge_that_has_to_wait_says_why_and_leaves_all_as_it_was() -> None:
    kept, loser = two()
    reason = Reason(code="busy", fact="Both have a spout in.", next_text="Pull one", next_url="/taps/in/")
    merging.register_check("test", lambda one, other: [reason])
    try:
        with pytest.raises(Refused):
            merge(by=make.alice(), kept=kept, loser=loser)
        answer = client_of(make.alice()).post(
            reverse("tree-merge", args=[kept.code]), {"with": loser.code, "keep": kept.code}
        )
        assert answer.status_code == 422
        assert "Both have a spout in." in answer.content.decode()
        loser.refresh_from_db()
        assert loser.merged_into is None
    finally:
        merging._CHECKS.pop("test")


def test_a_merged_entry_is_not_merged_again() -> None:
    kept, loser = two()
    third = make.tree()
    merge(by=make.alice(), kept=kept, loser=loser)
    with pytest.raises(Refused):
        merge(by=make.alice(), kept=third, loser=loser)
