"""One season from trunk to jar, each figure written out (jar_season), on the page, in the ledger and in the recount."""

from __future__ import annotations

import re
from io import StringIO

import pytest
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from sugarbush.core.units import from_ml
from sugarbush.review import chain, sugar, totals
from sugarbush.review.jars import JarRow
from sugarbush.review.recount import findings
from sugarbush.sap import ledger
from sugarbush.volunteers.models import Units
from tests import make
from tests.chain.jar_season import LINES

ML = re.compile(r"([\d,−-]+)\s*mL")


def in_as(person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def text_of(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html)).strip()


def test_the_account_from_trunk_to_jar(jars):
    account = chain.whole(totals.count(jars.season).totals)
    assert {line.label: line.ml for line in account.lines} == LINES
    assert (account.came_ml, account.left_ml) == (76_000, 0)
    parts = {line.label: dict(line.parts) for line in account.lines if line.parts}
    assert parts == {
        "Tipped out": {"ice tipped off": 1_000, "tipped from a tank": 400},
        "Turned away at the depot": {"sour": 1_000},
        "Lost": {"boiled over": 1_100, "jars broken": 250},
        "Held by the filter": {"when drawing off": 50, "when packing": 30},
        "Destroyed": {"jars destroyed": 250},
    }


def test_the_ledger_itself_says_the_same(jars):
    found = ledger.chain(jars.season)
    assert (found.came_ml, found.unaccounted_ml) == (76_000, 0)
    assert found.held == {"hands": 0, "ahead": 0, "tank": 0, "pan": 0, "lot": 450}


def test_each_stretch_closes_too(jars):
    counted = totals.count(jars.season).totals
    assert [make_account(counted).left_ml for make_account in (chain.sap, chain.pans, chain.syrup)] == [0, 0, 0]
    assert {line.label: line.ml for line in chain.syrup(counted).lines} == {
        "Syrup drawn off": 1_600,
        "Destroyed": 250,
        "Held by the filter": 30,
        "Issued": 600,
        "Lost": 250,
        "Measured under": 20,
        "In lots": 450,
    }


def test_the_jars_by_size(jars):
    rows = totals.count(jars.season).totals.jars
    assert rows == [
        JarRow(size_ml=250, filled=5, broken=2, issued=3, back=1, held=0),
        JarRow(size_ml=100, filled=3, broken=0, issued=1, back=0, held=0),
    ]
    assert [(row.out, row.here, row.in_store) for row in rows] == [(2, 1, 1), (1, 2, 2)]
    assert sum(row.here_ml for row in rows) == 450
    assert sum(row.out_ml for row in rows) == 600


def test_sugar_in_against_sugar_out(jars):
    """By hand: kilograms = litres x density x °Brix / 100.

    Densities at 20 °C from ICUMSA's polynomial for sucrose, as printed in tables of sugar solutions: 1.0064 kg/L at
    2.1 %, 1.3224 at 66 %, 1.3283 at 67 % (from memory, four figures).
    Tank A: Bob's 53.0 L of his mixture, Mira's 20.4 L of hers.
    """
    found = sugar.sugar(totals.count(jars.season).totals)
    # Bob's hands: 29 kg-ish of 2.0, 19 of 2.5 and 5.5 of Mira's 1.765 (25 L at 1.80 with half a litre of rain).
    mira = 25.0 * 1.80 / 25.5
    bob = (30.0 * 2.00 + 19.0 * 2.50 + 5.5 * mira) / 54.5
    tank_a = (53.0 * bob + 20.4 * mira) / 73.4
    assert found.in_kg == pytest.approx(73.1 * 1.0064 * tank_a / 100, rel=0.004)
    assert found.out_kg == pytest.approx(0.9 * 1.3224 * 0.66 + 0.7 * 1.3283 * 0.67, rel=0.001)
    assert found.lost_pct == pytest.approx(100 * (1 - found.out_kg / found.in_kg))
    assert (found.in_ml, found.out_ml, found.out_assumed_ml) == (73_100, 1_600, 0)


def test_the_recount_finds_nothing(jars):
    assert list(findings(jars.season)) == []
    out = StringIO()
    call_command("check_ledger", stdout=out)
    assert "adds up to the millilitre" in out.getvalue()


class TestThePage:
    def test_each_line_opens_the_movements_behind_it(self, jars):
        client = in_as(jars.rhea)
        page = client.get(reverse("season-review")).content.decode()
        links = re.findall(
            r'<a href="(/season/ledger/\?[^"]+)">([^<]+)</a></th>|<a href="(/season/ledger/\?[^"]+)">([^<]+)</a><span',
            page,
        )
        opened = {}
        for first, label, second, other in links:
            answer = client.get((first or second).replace("&amp;", "&"))
            assert answer.status_code == 200
            found = answer.context["together"]
            opened[label or other] = found.left_ml if answer.context["asked"].place else found.counts_ml
        assert opened == LINES

    def test_it_says_so_in_millilitres_and_gallons(self, jars):
        page = text_of(in_as(jars.alice).get(reverse("season-review")).content.decode())
        for label, ml in LINES.items():
            assert re.search(rf"{label}.*? {ml:,} mL", page), label
        assert "Not accounted for 0 mL" in page
        assert "Closes to the millilitre." in page
        alice = jars.alice
        alice.units = Units.US
        alice.save()
        page = text_of(in_as(alice).get(reverse("season-review")).content.decode())
        assert f"{from_ml(75_000, 'gal'):.1f}" in page
        assert re.search(r"Came out of trees 75,000 mL 19\.8", page), page[page.index("Came out of trees") :][:200]

    def test_the_ledger_leads_to_what_made_each_movement(self, jars):
        page = in_as(jars.rhea).get(reverse("season-ledger"), {"page": 1}).content.decode()
        for name, pk in (
            ("delivery", jars.bobs.pk),
            ("batch", jars.batch.pk),
            ("log-entry", jars.entries[0].pk),
        ):
            assert reverse(name, args=[pk]) in page

    def test_a_vessel_shows_what_was_left_after_each(self, jars):
        answer = in_as(jars.rhea).get(reverse("season-ledger"), {"vessel": "b"})
        assert [(line.ml, line.balance_ml) for line in answer.context["lines"]] == [
            (13_400, 13_400),
            (-400, 13_000),
            (100, 13_100),
            (-13_100, 0),
        ]
        only = in_as(jars.rhea).get(reverse("season-ledger"), {"vessel": jars.b.pk, "cause": "measured_over"})
        assert [(line.ml, line.balance_ml) for line in only.context["lines"]] == [(100, 13_100)]

    def test_what_was_taken_back_names_its_other_half(self, jars):
        answer = in_as(jars.rhea).get(reverse("season-ledger"), {"cause": "issued"})
        first, back, again, pantry = answer.context["lines"]
        assert [line.ml for line in (first, back, again, pantry)] == [750, -750, 500, 100]
        assert (first.taken_back_by, back.move.reverses_id) == (back.move.seq, first.move.seq)
        assert answer.context["together"].counts_ml == 600

    @pytest.mark.parametrize(
        ("asked", "count"),
        [
            ({"who": "mira"}, 5),
            ({"kind": "hand_over"}, 1),
            ({"cause": "discarded", "detail": "ice"}, 1),
            ({"place": "pan"}, 7),
            ({"day": "2001-01-01"}, 0),
        ],
    )
    def test_it_can_be_narrowed(self, jars, asked, count):
        answer = in_as(jars.alice).get(reverse("season-ledger"), asked)
        assert answer.status_code == 200
        assert answer.context["together"].count == count

    @pytest.mark.parametrize(
        "asked", [{"who": "Zzyzx"}, {"vessel": "Q-99"}, {"day": "yesterday"}, {"day": "9999-12-31"}]
    )
    def test_what_cannot_be_meant_is_said_so(self, jars, asked):
        answer = in_as(jars.alice).get(reverse("season-ledger"), asked)
        assert answer.status_code == 422
        assert answer.context["asked"].wrong
        assert not answer.context["lines"]

    @pytest.mark.parametrize(
        "asked", [{"cause": "stolen"}, {"kind": "x"}, {"place": "cellar"}, {"act": "1"}, {"vessel": "0" * 32}]
    )
    def test_what_no_link_says_is_not_found(self, jars, asked):
        assert in_as(jars.alice).get(reverse("season-ledger"), asked).status_code == 404

    def test_who_may_read_it(self, jars):
        for person, status in (
            (jars.alice, 200),
            (jars.rhea, 200),
            (jars.bob, 403),
            (jars.dora, 403),
            (jars.lena, 403),
        ):
            assert in_as(person).get(reverse("season-ledger")).status_code == status
        assert Client().get(reverse("season-ledger")).status_code == 302

    @pytest.mark.heavy
    def test_a_long_ledger_asks_no_more_than_a_short_one(self, jars):
        """What a page of 50 rows needs does not grow with the rows behind it."""
        client = in_as(jars.rhea)
        client.get(reverse("season-ledger"))
        counts = []
        for asked in ({"vessel": jars.a.pk}, {"vessel": jars.a.pk, "page": 2}):
            with CaptureQueriesContext(connection) as queries:
                assert client.get(reverse("season-ledger"), asked).status_code == 200
            counts.append(len(queries))
            for _ in range(60):
                make.collection(jars.first, by=jars.bob, litres="1")
        assert max(counts) <= 16
        assert len(set(counts)) == 1
