"""The lists of owners and permissions: found, narrowed, taken away as CSV, at a steady price."""

from __future__ import annotations

import csv
import io
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from sugarbush.owners.models import Owner, Permission
from tests import make

pytestmark = pytest.mark.django_db


def numbers(client: Client, **asked: Any) -> list[str]:
    return [slip.number for slip in client.get("/permissions/", asked).context["page"]]


def rows_of(client: Client, **asked: Any) -> list[dict[str, str]]:
    answer = client.get("/permissions/permissions.csv", asked)
    return list(csv.DictReader(io.StringIO(answer.getvalue().decode("utf-8-sig"))))


def test_slips_are_found_by_number_permit_owner_tag_and_street(client: Client) -> None:
    tree = make.tree(address="12 Heron Row")
    slip = make.permission(tree, public_number="QPS/77", owner=make.owner("Halloway Trust"))
    make.permission(make.tree())
    client.force_login(make.alice())
    for q in (slip.number, "qps/77", "halloway", tree.code.lower(), "heron"):
        assert numbers(client, q=q) == [slip.number], q
    assert numbers(client, q="nothing like it") == []


def test_slips_are_narrowed_by_state_and_group(client: Client) -> None:
    asked = make.permission(make.tree(), state="asked")
    far = make.permission(make.tree(group=make.group("Mill Race")))
    client.force_login(make.alice())
    assert numbers(client, state="asked") == [asked.number]
    assert set(numbers(client, state=["asked", "granted"])) == {asked.number, far.number}
    assert numbers(client, group=make.group("Mill Race").pk) == [far.number]
    # What cannot be meant narrows nothing.
    assert len(numbers(client, state="nonsense", group="x", page="-3")) == 2


@pytest.mark.parametrize(("within", "ends"), [("7", [7]), ("30", [7, 30]), ("60", [7, 30, 60])])
def test_slips_that_end_soon_are_listed_by_their_last_day(client: Client, within: str, ends: list[int]) -> None:
    slips = {n: make.permission(make.tree(), date_to=make.today() + make.days(n)) for n in (60, 7, 8, 31, 61, 30)}
    make.permission(make.tree(), date_to=make.today() - make.days(1))
    make.permission(make.tree(), date_to=make.today() + make.days(3), state="revoked")
    client.force_login(make.alice())
    days = sorted(n for n in slips if n <= int(within))
    assert set(ends) <= set(days)
    assert numbers(client, ends=within) == [slips[n].number for n in days]


def test_a_lead_lists_the_slips_of_the_groups_trees_alone(client: Client) -> None:
    near, far = make.permission(make.tree()), make.permission(make.tree(group=make.group("Mill Race")))
    client.force_login(make.lena())
    assert numbers(client) == [near.number]
    assert [row["number"] for row in rows_of(client)] == [near.number]
    assert numbers(client, q=far.number) == []


def test_the_csv_carries_units_and_only_the_tags_in_reach(client: Client) -> None:
    near, far = make.tree(), make.tree(group=make.group("Mill Race"))
    slip = make.permission(near, far, most_height_mm=1219, least_diameter_um=457_200, largest_bit_um=7938, most_taps=1)
    lena = make.lena()
    client.force_login(lena)
    (row,) = rows_of(client)
    assert (row["trunk at least (cm)"], row["hole no higher than (cm)"], row["largest bit (mm)"]) == (
        "45.720",
        "121.90",
        "7.938",
    )
    assert (row["number"], row["trees"], row["tags"]) == (slip.number, "2", near.code)
    lena.units = "us"
    lena.save()
    client.force_login(lena)
    (row,) = rows_of(client)
    # 1 in = 25.4 mm exactly: NIST Handbook 44, appendix C.
    assert (row["trunk at least (in)"], row["hole no higher than (in)"]) == ("18.000", "47.99")


def test_a_formula_in_an_owners_name_stays_text(client: Client) -> None:
    # OWASP, "CSV Injection": cells that begin with = + - @ are run by spreadsheets.
    owner = Owner.objects.create(name='=HYPERLINK("http://x","y")<script>', group=make.group())
    make.permission(make.tree(), owner=owner, signed_by="@SUM(A1)")
    client.force_login(make.alice())
    (row,) = rows_of(client)
    assert row["owner"].startswith("'=")
    assert row["name of who said it"].startswith("'@")
    assert "<script>" not in client.get("/owners/").content.decode().replace('<script type="module"', "")


def test_owners_are_found_by_name_kind_and_their_trees(client: Client) -> None:
    tree = make.tree(address="3 Heron Row")
    owner = Owner.objects.create(name="Osric Pell", group=make.group())
    make.owns(tree, owner)
    town = make.owner()
    client.force_login(make.alice())

    def found(**asked: Any) -> list[Owner]:
        return list(client.get("/owners/", asked).context["page"])

    assert found(q="pell") == found(q=tree.code) == found(q="heron") == found(kind="person") == [owner]
    assert found(kind="public") == [town]
    assert found(group=make.group().pk) == [owner]


def queries(client: Client, url: str) -> int:
    with CaptureQueriesContext(connection) as caught:
        assert client.get(url).status_code == 200
    return len(caught)


def test_long_lists_ask_the_database_no_more_than_short_ones(client: Client) -> None:
    make.season()
    client.force_login(make.alice())

    def grow(many: int) -> None:
        for _n in range(many):
            tree = make.tree(land="private")
            owner = Owner.objects.create(name=f"Owner of {tree.code}", group=make.group())
            make.owns(tree, owner)
            make.permission(tree, owner=owner)

    urls = ("/owners/", "/permissions/", "/permissions/?q=owner&ends=60", "/owners/?q=QH")
    grow(5)
    few = [queries(client, url) for url in urls]
    grow(60)
    assert [queries(client, url) for url in urls] == few


def test_a_slip_with_many_trees_costs_no_more_than_one_with_few(client: Client) -> None:
    make.season()
    client.force_login(make.alice())
    small = make.permission(*[make.tree() for _n in range(3)])
    large = make.permission(*[make.tree() for _n in range(120)])
    counts = {slip.number: queries(client, f"/permissions/{slip.number}/") for slip in (small, large)}
    assert counts[large.number] <= counts[small.number]
    assert Permission.objects.count() == 2
