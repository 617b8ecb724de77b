"""The list of trees and the table to take away."""

from __future__ import annotations

import csv
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from sugarbush.trees import listing, shown
from sugarbush.trees.models import Life, Shown, SpeciesSure, Tree
from sugarbush.volunteers.models import Person
from tests import make

pytestmark = pytest.mark.django_db


def client_of(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def codes(person: Person, **asked: Any) -> list[str]:
    page = client_of(person).get(reverse("trees"), asked)
    assert page.status_code == 200
    return [tree.code for tree in page.context["page"]]


def table(person: Person, **asked: Any) -> list[dict[str, str]]:
    answer = client_of(person).get(reverse("trees-csv"), asked)
    assert answer.status_code == 200
    text = b"".join(answer.streaming_content).decode("utf-8-sig")  # type: ignore[attr-defined]
    return list(csv.DictReader(text.splitlines()))


def test_the_list_and_its_table_hold_own_trees_and_those_without_a_group() -> None:
    mine, nobodys, theirs = make.tree(), make.tree(group=None), make.tree(group=make.group("Mill Race"))
    assert codes(make.bob()) == sorted([mine.code, nobodys.code])
    assert {row["tag"] for row in table(make.bob())} == {mine.code, nobodys.code}
    assert set(codes(make.alice())) == {mine.code, nobodys.code, theirs.code}
    assert set(codes(make.rhea())) == {mine.code, nobodys.code, theirs.code}
    stranger = Client()
    stranger.force_login(make.charlie())
    assert stranger.get("/trees/").status_code == 403
    # Neither a search nor a filter looks over the wall.
    assert codes(make.bob(), q=theirs.code) == []
    assert codes(make.bob(), group=str(theirs.group_id)) == [mine.code, nobodys.code]


def test_searching_by_tag_address_and_the_town_s_number() -> None:
    tree = make.tree(code="QH-0412", address="33 Larkspur Street", inventory_source="town", inventory_number="B77")
    make.tree(address="9 Weir Lane")
    for words in ("QH-0412", "qh-0412", "412", "larkspur", "33 Lark", "B77"):
        assert codes(make.bob(), q=words) == [tree.code], words
    assert codes(make.bob(), q="nowhere at all") == []
    assert codes(make.bob(), q="%") == []


def test_each_filter_keeps_what_fits() -> None:
    make.season()
    small = make.tree(diameter_um=304_799, land="private")
    big = make.tree(diameter_um=304_800)
    ash = make.tree(species=make.species("Fraxinus americana", "white ash", tappable=False), diameter_um=None)
    resting = make.tree(life=Life.RESTING, group=None)
    shown.refresh(Tree.objects.values_list("pk", flat=True))
    bob = make.bob()
    assert codes(bob, big="on") == [big.code, resting.code]
    assert codes(bob, tappable="on") == [small.code, big.code, resting.code]
    assert codes(bob, land="private") == [small.code]
    assert codes(bob, state=[int(Shown.RESTING)]) == [resting.code]
    assert codes(bob, group="none") == [resting.code]
    assert codes(bob, group=str(make.group().pk)) == [small.code, big.code, ash.code]
    assert codes(bob, big="on", state="nonsense", land="moon") == [big.code, resting.code]


def test_the_flag_finds_disputes_and_trees_that_need_a_look() -> None:
    plain = make.tree(life=Life.CANDIDATE)
    disputed = make.tree(species_sure=SpeciesSure.DISPUTED)
    two_names = make.tree(
        species_sure=SpeciesSure.UNCONFIRMED, inventory_species=make.species("Acer rubrum", "red maple")
    )
    Tree.objects.update(shown_state=Shown.CONSIDERED)
    Tree.objects.filter(pk=plain.pk).update(needs_look=True)
    assert codes(make.bob(), flag="species") == [disputed.code, two_names.code]
    assert codes(make.bob(), flag="look") == [plain.code, disputed.code, two_names.code]


def test_sorting_by_address_and_by_tag() -> None:
    one = make.tree(code="QH-9001", address="a")
    two = make.tree(code="QH-9000", address="b")
    assert codes(make.bob()) == [two.code, one.code]
    assert codes(make.bob(), sort="address") == [one.code, two.code]


def test_sizes_are_in_the_person_s_units_with_the_unit() -> None:
    make.tree(diameter_um=457_200)
    carol = make.person("Carol", units="us")
    assert table(make.bob())[0]["trunk across (cm)"] == "45.72"
    assert table(carol)[0]["trunk across (in)"] == "18.00" or table(carol)[0]["trunk across (in)"] == "18"
    page = client_of(carol).get(reverse("trees")).content.decode()
    assert '18.0<span class="unit">in</span>' in page


def test_formulas_and_pages_in_names_stay_words() -> None:
    make.tree(address='=HYPERLINK("http://x")', access_note="<b>")
    make.tree(address="<script>alert(1)</script>")
    rows = table(make.bob())
    assert rows[0]["address"].startswith("'=")
    assert "<script>alert" not in client_of(make.bob()).get(reverse("trees")).content.decode()


def test_a_list_of_many_asks_as_often_as_a_list_of_few() -> None:
    client = client_of(make.bob())
    for _n in range(3):
        make.tree()
    with CaptureQueriesContext(
        connection,
    ) as few:
        client.get(reverse("trees"))
    template = make.tree()
    Tree.objects.bulk_create(
        Tree(
            code=f"ZZ-{n:05d}",
            longitude=template.longitude,
            latitude=template.latitude,
            t17=template.t17,
            species=template.species,
            group=template.group,
        )
        for n in range(2000)
    )
    with CaptureQueriesContext(connection) as many:
        page = client.get(reverse("trees"))
    assert len(page.context["page"]) == 50
    assert len(many) == len(few)


def test_the_count_stops_where_it_would_cost_more_than_the_page(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(listing, "COUNTED", 60)
    template = make.tree()
    Tree.objects.bulk_create(
        Tree(code=f"ZZ-{n:05d}", longitude=0, latitude=0, t17=template.t17, group=template.group) for n in range(100)
    )
    page = client_of(make.bob()).get(reverse("trees"), {"page": "999999999999999999999999"})
    assert page.context["page"].number == 2
    assert page.context["page"].paginator.has_more
    assert "More than 60 trees" in page.content.decode()
    assert len(table(make.bob())) == 101


def test_a_list_without_trees_says_what_to_do() -> None:
    page = client_of(make.bob()).get(reverse("trees")).content.decode()
    assert "There are no trees here yet" in page
    assert reverse("tree-new") in page


def test_nobody_reads_the_list_without_signing_in() -> None:
    assert Client().get(reverse("trees")).status_code == 302
    assert Client().get(reverse("trees-csv")).status_code == 302


def test_the_list_opens_on_the_programmes_own_trees_with_a_way_to_all() -> None:
    own = make.tree(shown_state=Shown.CONSIDERED)
    listed = make.tree(group=None, life=Life.LISTED, shown_state=Shown.LISTED)
    assert codes(make.alice()) == [own.code]
    page = client_of(make.alice()).get(reverse("trees")).content.decode()
    assert "1 tree of the programme" in page
    assert f'href="{reverse("trees")}?all=1"' in page
    assert codes(make.alice(), all="1") == sorted([own.code, listed.code])
    # Whoever looks for something looks among all.
    assert codes(make.alice(), q=listed.code) == [listed.code]
    # The table taken from the page holds what the page shows.
    assert [row["tag"] for row in table(make.alice(), own="1")] == [own.code]
    assert {row["tag"] for row in table(make.alice())} == {own.code, listed.code}


def test_while_nothing_is_considered_the_list_opens_on_the_towns_trees() -> None:
    listed = make.tree(group=None, life=Life.LISTED, shown_state=Shown.LISTED)
    assert codes(make.alice()) == [listed.code]
