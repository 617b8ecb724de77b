"""Entering a tree: its place, its size, likely doubles across groups."""

from __future__ import annotations

import io
import math
import uuid
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils.html import escape

from sugarbush.trees.duplicates import box_round, likely_doubles
from sugarbush.trees.models import SaidApart, Tree, TreeObservation
from sugarbush.trees.tiles import metres_between
from tests import make

pytestmark = pytest.mark.django_db
LON, LAT = make.CENTRE


def signed_in(person: Any) -> Client:
    client = Client()
    client.force_login(person)
    return client


def typed(**fields: Any) -> dict[str, Any]:
    defaults = {
        "uuid": str(uuid.uuid4()),
        "longitude": str(LON),
        "latitude": str(LAT),
        "address": "12 Larkspur Street",
        "measured": "round",
        "stem_1": "141",
        "land": "unknown",
        "date": str(make.today()),
        "group": str(make.group().pk),
    }
    return {**defaults, **fields}


def metres_north(metres: float) -> float:
    # One degree of latitude on a sphere of 6,371,009 m (IUGG mean radius).
    return LAT + math.degrees(metres / 6_371_009)


@pytest.fixture
def bob() -> Client:
    make.programme()
    return signed_in(make.bob())


def enter(client: Client, **fields: Any) -> Any:
    return client.post(reverse("tree-new"), typed(**fields))


def test_a_girth_of_141_cm_is_44_9_cm_across(bob: Client) -> None:
    # job.md C05: girth 141 cm = 44.9 cm across; d = girth / pi.
    answer = bob.post(reverse("tree-new"), typed(), follow=True)
    tree = Tree.objects.get()
    assert tree.diameter_um == math.floor(1_410_000 / math.pi)
    assert tree.size_as_given == "141 cm round"
    messages = [str(message) for message in answer.context["messages"]] if answer.context else []
    assert any("44.9" in said for said in messages)


def test_the_codes_run_on_and_carry_the_programme_s_letters(bob: Client) -> None:
    enter(bob)
    enter(bob, latitude=str(metres_north(50)))
    assert list(Tree.objects.order_by("code").values_list("code", flat=True)) == ["QH-0001", "QH-0002"]


def test_a_code_that_is_taken_is_passed_over(bob: Client) -> None:
    make.tree(code="QH-0001", latitude=LAT + 1)
    enter(bob)
    assert Tree.objects.get(latitude=LAT).code == "QH-0002"


def test_the_same_form_sent_twice_enters_one_tree(bob: Client) -> None:
    form = typed()
    first = bob.post(reverse("tree-new"), form)
    second = bob.post(reverse("tree-new"), form)
    assert (first.status_code, second.status_code) == (302, 302)
    assert Tree.objects.count() == 1
    assert TreeObservation.objects.count() == 1


def test_the_largest_single_stem_judges_the_tree(bob: Client) -> None:
    enter(bob, stem_1="80", stem_2="96", stem_3="70")
    tree = Tree.objects.get()
    assert tree.stems == 3
    assert tree.diameter_um == math.floor(960_000 / math.pi)
    assert len(TreeObservation.objects.get().stems_um) == 3


def test_inches_are_read_as_inches_by_who_works_in_inches() -> None:
    make.programme()
    carol = make.person("Carol", units="us")
    enter(signed_in(carol), measured="across", stem_1="18")
    assert Tree.objects.get().diameter_um == 457_200  # 18 in x 25,400 micrometres
    assert Tree.objects.get().size_as_given == "18 in across"


def test_a_trunk_of_three_metres_across_is_questioned_and_may_stand(bob: Client) -> None:
    answer = enter(bob, measured="across", stem_1="300")
    assert answer.status_code == 422
    assert "giant" in answer.content.decode()
    assert Tree.objects.count() == 0
    enter(bob, measured="across", stem_1="300", stands="giant:3000000")
    assert Tree.objects.get().diameter_um == 3_000_000


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("latitude", "97"),
        ("longitude", "nowhere"),
        ("longitude", "nan"),
        ("longitude", ""),
        ("stem_1", "-4"),
        ("stem_1", "9999999"),
        ("date", "2999-01-01"),
        ("nth", "-1"),
        ("land", "mine"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_typed_is_lost(bob: Client, name: str, value: str) -> None:
    answer = enter(bob, **{name: value, "note": "by the red gate"})
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "by the red gate" in page
    assert "12 Larkspur Street" in page
    assert Tree.objects.count() == 0


def test_a_decimal_comma_is_read(bob: Client) -> None:
    enter(bob, longitude=str(LON).replace(".", ","))
    assert Tree.objects.get().longitude == LON


def test_swapped_longitude_and_latitude_are_questioned() -> None:
    make.programme(west=LON - 0.1, east=LON + 0.1, south=LAT - 0.1, north=LAT + 0.1)
    answer = enter(signed_in(make.bob()), longitude=str(LAT), latitude=str(LON))
    assert answer.status_code == 422
    assert "swapped" in answer.content.decode()


def test_land_that_is_known_names_who_said_so(bob: Client) -> None:
    assert enter(bob, land="private").status_code == 422
    assert enter(bob, land="private", land_said_by="land register").status_code == 302
    assert Tree.objects.get().land == "private"


def test_a_tree_two_metres_away_of_the_same_species_is_shown_first(bob: Client) -> None:
    # job.md C07: add a tree 2 m from an existing same-species tree: warned.
    there = make.tree(longitude=LON, latitude=metres_north(2))
    form = typed(species=str(there.species_id), evidence="leaf")
    answer = bob.post(reverse("tree-new"), form)
    assert answer.status_code == 422
    assert there.code in answer.content.decode()
    assert Tree.objects.count() == 1
    again = bob.post(reverse("tree-new"), form | {"apart": there.code})
    assert again.status_code == 302
    assert Tree.objects.count() == 2
    assert SaidApart.objects.count() == 1


def test_it_is_this_one_keeps_what_was_typed_as_a_look(bob: Client) -> None:
    there = make.tree(longitude=LON, latitude=metres_north(1), diameter_um=None, size_as_given="")
    answer = enter(bob, same=there.code, note="leaning a little")
    assert answer.status_code == 302
    assert answer["Location"] == there.get_absolute_url()
    there.refresh_from_db()
    assert Tree.objects.count() == 1
    assert there.diameter_um == math.floor(1_410_000 / math.pi)
    assert there.observations.get().note == "leaning a little"


def test_of_another_groups_double_only_tag_place_and_species_are_shown(bob: Client) -> None:
    there = make.tree(
        longitude=LON,
        latitude=metres_north(1),
        group=make.group("Mill Race"),
        access_note="ring at the blue door",
        diameter_um=777_000,
        address="9 Weir Lane",
    )
    page = enter(bob).content.decode()
    assert there.code in page
    assert "9 Weir Lane" in page
    assert "ring at the blue door" not in page
    assert "77.7" not in page
    assert "Mill Race" not in page
    answer = bob.post(reverse("tree-new"), typed(same=there.code))
    assert answer["Location"] == reverse("trees")
    assert there.observations.count() == 0


@pytest.mark.parametrize(
    ("metres", "same_species", "shown"),
    [(1.4, False, True), (1.6, False, False), (2.9, True, True), (3.1, True, False)],
)
def test_how_near_a_double_has_to_be(metres: float, same_species: bool, shown: bool) -> None:
    make.programme()
    there = make.tree(longitude=LON, latitude=metres_north(metres))
    other = make.species("Acer rubrum", "red maple")
    found = likely_doubles(
        person=make.bob(),
        longitude_deg=LON,
        latitude_deg=LAT,
        species_id=there.species_id if same_species else other.pk,
    )
    assert bool(found) is shown


def test_the_same_number_in_the_town_s_list_is_a_likely_double_wherever_it_stands(bob: Client) -> None:
    make.tree(code="QH-7777", longitude=LON + 0.05, inventory_source="town", inventory_number="A-12")
    answer = enter(bob, inventory_number="A-12")
    assert answer.status_code == 422
    assert "QH-7777" in answer.content.decode()


def test_the_box_round_a_tree_holds_its_whole_circle() -> None:
    west, south, east, north = box_round(LON, 60.0, 3.0)
    for lon, lat in ((west, 60.0), (east, 60.0), (LON, south), (LON, north)):
        assert metres_between(lon1=LON, lat1=60.0, lon2=lon, lat2=lat) == pytest.approx(3.0, rel=1e-3)


def test_a_scout_enters_trees_only_in_their_own_group(bob: Client) -> None:
    answer = enter(bob, group=str(make.group("Mill Race").pk))
    assert answer.status_code == 422
    assert Tree.objects.count() == 0


def test_a_stranger_and_a_reviewer_enter_no_tree() -> None:
    make.programme()
    for person in (make.charlie(), make.rhea()):
        assert enter(signed_in(person)).status_code == 403
    assert enter(Client()).status_code == 302
    assert Tree.objects.count() == 0


def test_without_a_programme_the_next_step_is_named() -> None:
    answer = enter(signed_in(make.bob()))
    assert answer.status_code == 422
    assert escape("The programme is not opened yet.") in answer.content.decode()
    assert Tree.objects.count() == 0


def picture() -> SimpleUploadedFile:
    from PIL import Image

    out = io.BytesIO()
    Image.new("RGB", (40, 30), "green").save(out, "PNG")
    return SimpleUploadedFile("leaf.png", out.getvalue(), content_type="image/png")


def test_a_photo_outlives_a_form_that_comes_back(bob: Client) -> None:
    refused = bob.post(reverse("tree-new"), typed(photo=picture(), latitude="97"))
    assert refused.status_code == 422
    token = refused.context["form"]["photo_kept"].value()
    assert token
    assert bob.post(reverse("tree-new"), typed(photo_kept=token)).status_code == 302
    assert TreeObservation.objects.get().photo.size > 0


def test_a_held_photo_is_nobody_else_s(bob: Client) -> None:
    refused = bob.post(reverse("tree-new"), typed(photo=picture(), latitude="97"))
    token = refused.context["form"]["photo_kept"].value()
    make.person("Carol")
    assert enter(signed_in(make.person("Carol")), photo_kept=token).status_code == 302
    assert not TreeObservation.objects.get().photo


def test_a_photo_is_shown_only_to_who_may_see_the_tree(bob: Client) -> None:
    bob.post(reverse("tree-new"), typed(photo=picture()))
    look = TreeObservation.objects.get()
    where = reverse("look-photo", args=[look.tree.code, look.pk])
    mine = bob.get(where)
    assert mine["Content-Type"] == "image/jpeg"
    assert mine["X-Content-Type-Options"] == "nosniff"
    assert signed_in(make.mira()).get(where).status_code == 404
    assert Client().get(where).status_code == 302


def test_an_address_shows_its_trees_and_lends_their_place(bob: Client) -> None:
    there = make.tree(address="40 Heron Row", longitude=LON, latitude=LAT)
    page = bob.get(reverse("tree-new"), {"address": "40 heron"})
    assert there.code in page.content.decode()
    assert page.context["form"].initial["longitude"] == LON


def test_a_pin_on_the_map_fills_the_place_in(bob: Client) -> None:
    page = bob.get(reverse("tree-new"), {"lon": "-87.4", "lat": "47.1"})
    assert 'value="-87.4"' in page.content.decode()
    assert bob.get(reverse("tree-new"), {"lon": "=x", "lat": "<b>"}).status_code == 200
