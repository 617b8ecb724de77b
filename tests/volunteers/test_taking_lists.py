"""The lists taken away as files: each list page has one, exactly its rows, with the same rights, and written down."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import python_calamine
import vobject
from django.db import connection
from django.http.response import HttpResponseBase
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from sugarbush.audit.models import AuditEvent
from sugarbush.gathering.models import CollectionState
from sugarbush.owners.models import OwnerContact
from sugarbush.parts.sheets.answer import in_zone
from sugarbush.parts.sheets.columns import cells, found, in_pieces, volume
from sugarbush.volunteers.models import Person
from tests import make

pytestmark = pytest.mark.django_db

LISTS = (
    *("people", "groups", "containers", "depots", "weather", "seasons", "taps-in", "taps-settle", "review-list"),
    *("rounds", "rota", "board", "my-rounds", "deliveries", "tanks", "boil-days", "lots", "recalls", "owners"),
    *("files", "season-ledger", "map"),
)
WITH_ADDRESSES_OF_THEIR_OWN = ("trees-csv", "permissions-csv", "history-csv")


def client_of(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def body(answer: HttpResponseBase) -> bytes:
    assert answer.status_code == 200, answer.status_code
    return b"".join(answer.streaming_content)  # type: ignore[attr-defined]


def table(client: Client, name: str, *args: Any, **asked: str) -> list[dict[str, str]]:
    text = body(client.get(reverse(name, args=args), {"as": "csv", **asked})).decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_every_list_has_its_file_and_each_one_taken_is_written_down() -> None:
    make.season()
    make.collection()
    make.tank()
    make.container()
    alice = client_of(make.alice())
    for name in (*LISTS, *WITH_ADDRESSES_OF_THEIR_OWN):
        before = AuditEvent.objects.filter(act="take a table").count()
        heads = next(csv.reader(io.StringIO(body(alice.get(reverse(name), {"as": "csv"})).decode("utf-8-sig"))))
        assert len(heads) == len(set(heads)) > 2, name
        kinds = ("xlsx", "ods") if name in {"people", "deliveries", "trees-csv"} else ()
        for kind in kinds:
            data = body(alice.get(reverse(name), {"as": kind}))
            sheet = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(data)).get_sheet_by_index(0)
            assert [str(head) for head in sheet.to_python()[0]] == heads, name
        assert AuditEvent.objects.filter(act="take a table").count() == before + 1 + len(kinds), name
        assert alice.get(reverse(name), {"as": "exe"}).status_code == 404
    kept = AuditEvent.objects.filter(act="take a table", new__kind="ods").first()
    assert kept is not None
    assert kept.by == make.alice()
    bare = body(alice.get(reverse("people"), {"as": "csv", "bom": "no"}))
    assert bare.startswith(b'"name"')


def test_a_list_page_leads_to_its_file_with_its_filters() -> None:
    for code in ("P-01", "P-02", "D-01"):
        make.container(code)
    alice = client_of(make.alice())
    page = alice.get(reverse("containers"), {"q": "P-", "page": "1"}).content.decode()
    assert "?q=P-&amp;as=xlsx" in page
    assert page.count("Take as a file") == 1
    assert [row["code"] for row in table(alice, "containers", q="P-")] == ["P-01", "P-02"]


def test_all_pages_of_a_list_are_in_its_file_at_a_steady_price() -> None:
    bob = make.bob()
    alice = client_of(make.alice())
    for n in range(3):
        make.container(f"X-{n:03}")

    def price() -> int:
        with CaptureQueriesContext(connection) as asked:
            table(alice, "containers")
            table(alice, "people")
        return len(asked)

    few = price()
    for n in range(3, 70):
        make.container(f"X-{n:03}")
        make.person(f"Walker {n}", group=bob.memberships.get().group)
    assert price() == few
    assert [row["code"] for row in table(alice, "containers")] == [f"X-{n:03}" for n in range(70)]


def test_totals_of_a_file_are_those_of_its_page_to_the_millilitre() -> None:
    tree = make.tapped_tree()
    for litres in ("1.237", "0.001", "4.5"):
        make.collection(tree, litres=litres)
    alice = client_of(make.alice())
    season = make.season().year
    rows = table(alice, "season-csv", "collections", year=str(season))
    page = alice.get(reverse("season-review"), {"year": str(season)})
    assert sum(int(row["volume_ml"]) for row in rows) == page.context["sums"].out_ml == 5_738
    ledger = table(alice, "season-ledger", year=str(season), cause="out_of_tree")
    shown = alice.get(reverse("season-ledger"), {"year": str(season), "cause": "out_of_tree"})
    assert sum(int(row["counts_ml"]) for row in ledger) == shown.context["together"].counts_ml == 5_738


def test_a_lead_takes_no_row_of_another_group() -> None:
    own, other = make.tapped_tree(), make.tapped_tree(group=make.group("Mill Race"))
    for tree, by in ((own, make.bob()), (other, make.mira())):
        entry = make.collection(tree, by=by)
        type(entry).objects.filter(pk=entry.pk).update(state=CollectionState.REVIEW)
    make.owns(other, make.owner("Fern Abernathy-Sole", "person"))
    lena = client_of(make.lena())
    assert [row["tree"] for row in table(lena, "taps-in")] == [own.code]
    assert [row["tree"] for row in table(lena, "review-list")] == [own.code]
    assert {row["tag"] for row in table(lena, "trees-csv")} == {own.code}
    assert {row["tree"] for row in table(lena, "season-csv", "by-tree")} == {own.code}
    assert "Mira" not in {row["name"] for row in table(lena, "people")}
    assert other.code.encode() not in body(lena.get(reverse("map"), {"as": "geojson"}))
    assert other.code.encode() not in body(lena.get(reverse("trees-csv"), {"as": "gpx"}))
    assert "Fern" not in str(table(lena, "owners"))
    mill = make.group("Mill Race").pk
    assert lena.get(reverse("group", args=[mill]), {"as": "csv"}).status_code == 200  # the page, without its people
    assert b"Mira" not in lena.get(reverse("group", args=[mill]), {"as": "vcf"}).content
    bob = client_of(make.bob())
    for name in ("people", "owners", "season-ledger", "history-csv"):
        assert bob.get(reverse(name), {"as": "csv"}).status_code in {403, 404}


def test_address_cards_go_by_right_and_each_owners_is_a_look() -> None:
    Person.objects.filter(pk=make.bob().pk).update(email="bob@quillhaven.example")
    fern, mill = make.owner("Fern Abernathy-Sole", "person"), make.owner("Ida Corveaux", "person")
    OwnerContact.objects.create(owner=fern, phone="555-0142")
    OwnerContact.objects.create(owner=mill, phone="555-0143")
    make.owns(make.given_tree(), fern)
    make.owns(make.given_tree(group=make.group("Mill Race")), mill)
    lena = client_of(make.lena())
    answer = lena.get(reverse("group", args=[make.group().pk]), {"as": "vcf"})
    people = list(vobject.readComponents(body(answer).decode()))
    assert [one.email.value for one in people if one.fn.value == "Bob"] == ["bob@quillhaven.example"]
    assert AuditEvent.objects.filter(act="take cards", by=make.lena()).count() == 1
    for address in (reverse("owners"), reverse("owner", args=[fern.pk])):
        answer = lena.get(address, {"as": "vcf"})
        (card,) = vobject.readComponents(body(answer).decode())
        assert (card.fn.value, card.tel.value) == ("Fern Abernathy-Sole", "555-0142")
        assert "no-store" in answer["Cache-Control"]
    looks = AuditEvent.objects.filter(act="see contact")
    assert [(one.by, one.subject_id) for one in looks] == [(make.lena(), str(fern.pk))]
    assert lena.get(reverse("owner", args=[mill.pk]), {"as": "vcf"}).status_code == 404
    rhea = client_of(make.rhea())  # sees owners' names, and not how to reach them
    assert rhea.get(reverse("owners"), {"as": "vcf"}).status_code == 403
    assert rhea.get(reverse("owner", args=[fern.pk]), {"as": "vcf"}).status_code == 403
    assert looks.count() == 1


def test_a_cell_is_found_by_names_or_worked_out_and_pieces_keep_their_order() -> None:
    rows = [{"tree": {"code": "0042"}, "ml": 1_234}, {"tree": None, "ml": None}]
    columns = [("tree", "tree.code"), *volume("sap", "ml", "metric"), *volume("sap", "ml", "us")]
    first, second = cells(columns, rows)
    assert [str(cell) for cell in first] == ["0042", "1234", "1.234", "1234", "0.326"]
    assert second == [None] * 5
    assert found({"a": {"b": lambda: 7}}, "a.b") == 7
    taken: list[int] = []

    def many() -> Iterator[int]:
        for n in range(7):
            taken.append(n)
            yield n

    pieces = in_pieces(many(), lambda some: [n * 10 for n in some], 3)
    assert next(pieces) == 0
    assert taken == [0, 1, 2]
    assert list(pieces) == [10, 20, 30, 40, 50, 60]
    assert list(in_zone(iter(range(1_200)), ZoneInfo("America/Detroit"))) == list(range(1_200))


def test_a_long_list_is_read_in_pieces_from_the_database(monkeypatch: pytest.MonkeyPatch) -> None:
    # On PostgreSQL a chunked cursor is one on the server: without it the driver would fetch every row at once.
    make.collection()
    opened: list[str] = []
    whole = connection.chunked_cursor

    def noted() -> Any:
        opened.append("")
        return whole()

    monkeypatch.setattr(connection, "chunked_cursor", noted)
    alice = client_of(make.alice())
    for name, args in (("taps-in", ()), ("people", ()), ("trees-csv", ()), ("season-csv", ("collections",))):
        opened.clear()
        assert table(alice, name, *args)
        assert opened, name
