"""Pails and drums: what they hold, and whether food may go in."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from sugarbush.kit import codes
from sugarbush.kit.models import Container
from sugarbush.volunteers.changing import edition_of
from sugarbush.volunteers.models import Person
from tests import make

pytestmark = pytest.mark.django_db
MANY = {"count": "10", "first": "P-01", "capacity_ml": "8", "material": "plastic", "food_safe": "yes", "held_by": ""}


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def test_ten_pails_of_8_litres_are_added_at_once() -> None:
    assert signed_in(make.lena()).post(reverse("container-new"), MANY).status_code == 302
    rows = Container.objects.values_list("code", "capacity_ml", "food_safe")
    assert list(rows) == [(f"P-{number:02d}", 8_000, "yes") for number in range(1, 11)]
    assert all(container.history.count() == 1 for container in Container.objects.all())


def test_a_pail_of_two_gallons_is_kept_in_millilitres() -> None:
    # 2 x 3785.411784 mL = 7570.8 mL (NIST Handbook 44, appendix C: a US gallon is 231 cubic inches)
    typed = {**MANY, "count": "1", "capacity_ml": "2 gal"}
    assert signed_in(make.lena()).post(reverse("container-new"), typed).status_code == 302
    assert Container.objects.get().capacity_ml == 7_571


def test_a_code_that_is_taken_stops_all_of_them_and_is_named() -> None:
    make.container("P-09")
    answer = signed_in(make.lena()).post(reverse("container-new"), {**MANY, "material": "tinned steel"})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "On the list already: P-09." in page
    assert 'value="tinned steel"' in page
    assert Container.objects.count() == 1


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"first": "Pail"}, "has to end in a number"),
        ({"first": "ABCDEFGHIJKLMNOPQR-9"}, "longer than 20 signs"),
        ({"count": "0"}, "greater than or equal to 1"),
        ({"count": "501"}, "less than or equal to 500"),
        ({"capacity_ml": "-8"}, "Please look"),
        ({"capacity_ml": "0"}, "too little"),
        ({"food_safe": ""}, "This answer is needed"),
    ],
)
def test_what_cannot_be_is_named(changes: dict[str, str], sentence: str) -> None:
    answer = signed_in(make.lena()).post(reverse("container-new"), {**MANY, **changes})
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert not Container.objects.exists()


@pytest.mark.parametrize(
    ("first", "count", "last"), [("P-99", 2, "P-100"), ("7", 3, "9"), ("D0009", 2, "D0010"), ("A1-09", 2, "A1-10")]
)
def test_codes_count_up_and_keep_their_noughts(first: str, count: int, last: str) -> None:
    assert codes.run_of(first, count)[-1] == last
    assert len(set(codes.run_of(first, count))) == count


def test_a_volunteer_reads_the_list_and_changes_nothing() -> None:
    pail = make.container()
    bob = signed_in(make.bob())
    assert bob.get(reverse("containers")).status_code == 200
    assert bob.get(reverse("container", args=[pail.pk])).status_code == 200
    assert bob.post(reverse("container", args=[pail.pk]), {"code": "X-1"}).status_code == 403
    assert bob.post(reverse("container-new"), MANY).status_code == 403
    assert signed_in(make.charlie()).get(reverse("containers")).status_code == 403
    assert signed_in(make.lena()).get(reverse("container", args=[999_999])).status_code == 404


def test_who_has_a_pail_is_seen_only_by_those_who_see_people() -> None:
    pail = make.container()
    pail.held_by = make.mira()
    pail.save()
    for person, sees in ((make.alice(), True), (make.bob(), False)):
        for url in (reverse("containers"), reverse("container", args=[pail.pk])):
            assert ("Mira" in signed_in(person).get(url).content.decode()) is sees


def test_a_lead_gives_a_pail_to_their_own_people_only() -> None:
    lena, bob, mira, pail = make.lena(), make.bob(), make.mira(), make.container(capacity_ml=8_000)
    columns = ["code", "capacity_ml", "material", "food_safe", "held_by"]
    typed = {"code": "P-01", "capacity_ml": "8", "material": "", "food_safe": "yes"}
    url = reverse("container", args=[pail.pk])
    typed["edition"] = edition_of(pail, columns)
    assert signed_in(lena).post(url, {**typed, "held_by": str(mira.pk)}).status_code == 422
    assert signed_in(lena).post(url, {**typed, "held_by": str(bob.pk)}).status_code == 302
    pail.refresh_from_db()
    assert pail.held_by == bob
    stale = signed_in(lena).post(url, {**typed, "material": "glass", "held_by": ""})
    assert stale.status_code == 409
    assert "Bob" in stale.content.decode()
    assert 'value="glass"' in stale.content.decode()


def test_a_long_list_asks_as_many_questions_as_a_short_one() -> None:
    alice, bob = make.alice(), make.bob()
    client = signed_in(alice)
    make.container()
    client.get(reverse("containers"))
    with CaptureQueriesContext(connection) as few:
        client.get(reverse("containers"))
    Container.objects.bulk_create(Container(code=f"D-{n}", capacity_ml=20_000, held_by=bob) for n in range(2_000))
    with CaptureQueriesContext(connection) as many:
        assert client.get(reverse("containers")).status_code == 200
    assert len(many) == len(few)


def test_the_caution_about_lead_and_food_stands_where_pails_are_added() -> None:
    page = signed_in(make.lena()).get(reverse("container-new")).content.decode()
    assert "may hold lead" in page
