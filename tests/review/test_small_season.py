"""The small season, added by hand: every total stands here as a plain number. Page, file and function say the same.

The sums of small_season.py, worked on paper:

    out of trees   7 March 24,750 + 8 March 23,750 + 9 March 13,000 + 10 March 7,500 + 15 March 3,000 = 72,000
    rain kept      700 + 1,000 = 1,700
    tipped out     500 ice + 3,000 cloudy + 400 ice + 300 rain = 4,200
    apart          to review 3,000; not ours 900
    came in        72,000 + 1,700 + over 1,500 + to review 3,000 + not ours 900 = 79,100
    went           tipped 4,200 + not ours tipped 900 + turned away 3,000 + under 1,500 + from the tank 700 = 10,300
    is in          hands: Lena 2,250 + Otto 8,350 + Bob 5,200 + Mira 0 = 15,800; tank 3,000
    in the pan     50,000 = steam 48,950 + syrup 1,050
    check          10,300 + 15,800 + 3,000 + 50,000 = 79,100
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import re

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from sugarbush.gathering.actions import settle
from sugarbush.review import chain, reach, shown, totals
from sugarbush.sap.ledger import chain as ledger_chain
from tests import make
from tests.review.small_season import SmallSeason, at

DAYS = {7: (24_750, 0, 500), 8: (23_750, 700, 3_000), 9: (13_000, 0, 400), 10: (7_500, 0, 0), 15: (3_000, 1_000, 300)}
GROUPS = {"North Bank": (50_250, 1_000, 3_800), "Mill Race": (21_750, 700, 400)}
SPECIES = {
    "sugar maple": (32_500, 7),
    "Norway maple": (11_250, 4),
    "silver maple": (10_500, 4),
    "red maple": (5_250, 3),
    "black maple": (4_000, 2),
    "boxelder": (3_500, 2),
    "bigleaf maple": (3_250, 1),
    "bigtooth maple": (1_750, 1),
}
PEOPLE = {"Bob": 45_000, "Mira": 13_000, "Otto": 8_750, "Lena": 5_250}
NORTH_BANK_TREES = {
    "QH-0001": 9_000,
    "QH-0002": 4_000,
    "QH-0003": 3_500,
    "QH-0004": 5_000,
    "QH-0005": 11_000,
    "QH-0006": 3_000,
    "QH-0007": 1_250,
    "QH-0008": 1_000,
    "QH-0009": 8_000,
    "QH-0010": 2_500,
    "QH-0011": 0,
    "QH-0012": 2_000,
}
MILL_RACE_TREES = {
    "QH-0013": 6_000,
    "QH-0014": 3_250,
    "QH-0015": 1_500,
    "QH-0016": 2_000,
    "QH-0017": 4_000,
    "QH-0018": 0,
    "QH-0019": 1_750,
    "QH-0020": 3_250,
}
SAP = {
    "Came out of trees": 72_000,
    "Rain kept with it": 1_700,
    "Measured over at the depot": 1_500,
    "To review, not counted yet": 3_000,
    "Real, but not ours to use": 900,
    "Tipped out at the tree": 4_200,
    "Turned away at the depot": 3_000,
    "Measured under at the depot": 1_500,
    "Tipped from tanks": 700,
    "Tipped out, of what does not count": 900,
    "In people’s hands": 15_800,
    "In tanks": 3_000,
    "Put in the pans": 50_000,
}


def in_as(person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def page(person) -> str:
    answer = in_as(person).get(reverse("season-review"))
    assert answer.status_code == 200
    # Tags away, no-break spaces and runs of blanks made one blank: the words as they are read.
    text = re.sub(r"<(script|style).*?</\1>|<[^>]+>", " ", answer.content.decode(), flags=re.S)
    return " ".join(text.replace("\xa0", " ").split())


def table(person, what: str) -> list[dict[str, str]]:
    answer = in_as(person).get(reverse("season-csv", args=[what]))
    assert answer.status_code == 200
    body = answer.getvalue().decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(body)))


def total(rows, column: str) -> int:
    return sum(int(row[column]) for row in rows)


@pytest.fixture
def counted(small: SmallSeason) -> totals.Counted:
    return totals.count(small.season)


class TestTheSums:
    def test_the_season_as_a_whole(self, counted):
        whole = counted.totals
        assert (whole.sums.out_ml, whole.sums.rain_ml, whole.sums.tipped_ml) == (72_000, 1_700, 4_200)
        assert (whole.sums.review_ml, whole.sums.not_ours_ml) == (3_000, 900)
        assert (whole.holes, whole.trees_with_taps, whole.trees_with_sap, whole.people) == (24, 20, 18, 4)
        assert whole.sap_per_tap_ml == 3_000
        # 22 visits, less one to review and one not ours.
        assert (whole.entries.count, whole.entries.review) == (20, 1)
        assert whole.entries_agree

    def test_days_are_the_towns_own_also_when_the_clocks_go_forward(self, counted):
        days = {row.day: row.sums for row in counted.totals.days}
        assert len(days) == 9  # 7 to 15 March, days without sap included
        for day, expected in DAYS.items():
            found = days[dt.date(2025, 3, day)]
            assert (found.out_ml, found.rain_ml, found.tipped_ml) == expected, day

    def test_weeks_are_sevens_from_the_first_day(self, counted):
        first, second = shown.weeks(counted.totals.days)
        assert (first.first, first.last, first.sums.out_ml, first.sums.tipped_ml) == (
            dt.date(2025, 3, 7),
            dt.date(2025, 3, 13),
            69_000,
            3_900,
        )
        assert (second.sums.out_ml, second.sums.tipped_ml, second.sap_days) == (3_000, 300, 1)

    def test_freeze_thaw_days_pass_zero_and_a_low_of_just_zero_does_not(self, counted):
        # Ouranos' freeze-thaw event: under 0 °C and over 0 °C in one day. 9 March had a low of exactly 0.
        assert [row.day.day for row in counted.totals.days if row.crosses] == [7, 8, 15]

    def test_groups(self, counted):
        found = {row.name: (row.sums.out_ml, row.sums.rain_ml, row.sums.tipped_ml) for row in counted.totals.groups}
        assert found == GROUPS

    def test_kinds_of_tree_with_their_taps(self, counted):
        assert {row.name: (row.sums.out_ml, row.taps) for row in counted.totals.species} == SPECIES

    def test_trees_and_people(self, small, counted):
        mine = reach.of(small.alice)
        trees = {row.name: row.sums.out_ml for row in reach.tree_rows(counted.cells, counted.trees, mine)}
        assert trees == NORTH_BANK_TREES | MILL_RACE_TREES
        assert {row.name: row.sums.out_ml for row in reach.person_rows(counted.cells, mine)} == PEOPLE

    def test_mean_sugar_is_weighted_by_volume(self, counted):
        # (9.00 x 2.10 + 4.00 x 2.00 + 6.00 x 1.60 + 11.00 x 2.40 + 8.00 x 1.50 + 4.00 x 2.20 + 3.25 x 1.80) / 45.25
        # = 89.55 / 45.25 = 1.979
        assert counted.totals.sums.read_ml == 45_250
        assert counted.totals.sums.sugar_brix == pytest.approx(1.979, abs=0.0005)

    def test_every_millilitre_is_somewhere(self, small, counted):
        account = chain.sap(counted.totals)
        assert {line.label: line.ml for line in account.lines} == SAP
        assert (account.came_ml, account.left_ml) == (79_100, 0)
        assert ledger_chain(small.season).closes
        assert {line.label: line.ml for line in chain.pans(counted.totals).lines} == {
            "Put in the pans": 50_000,
            "Driven off as steam": 48_950,
            "Syrup drawn off": 1_050,
        }
        assert {line.label: line.ml for line in chain.syrup(counted.totals).lines} == {
            "Syrup drawn off": 1_050,
            "In lots": 1_050,
        }
        assert all(make_account(counted.totals).closes for make_account in (chain.sap, chain.pans, chain.syrup))

    def test_losses_by_reason(self, counted):
        assert dict(chain.losses(counted.totals)) == {
            "cloudy": 3_000,
            "turned away: sour": 3_000,
            "ice tipped off": 900,
            "tipped from a tank": 700,
            "rain got in": 300,
        }
        assert chain.lost_ml(counted.totals) == 7_900

    def test_the_syrup_against_what_its_sugar_promised(self, counted):
        # The tank held 20.0 L of 2.1, 15.5 L of 2.0 and 18.2 L of 1.8 °Brix: together 1.97. By mass, with the ICUMSA
        # densities (1.00584 kg/L at 1.97, 1.32266 kg/L at 66 °Brix, 20 °C): 50 L x 1.00584 x 1.97 % = 0.9908 kg of
        # sugar; a litre of syrup holds 1.32266 x 66 % = 0.87296 kg; 0.9908 / 0.87296 = 1.135 L.
        promise = counted.totals.promise
        assert promise.sap_brix == pytest.approx(1.97, abs=0.001)
        assert promise.promised_ml == pytest.approx(1_135, abs=1)
        assert promise.short_pct == pytest.approx(100 * (1_135 - 1_050) / 1_135, abs=0.1)
        assert counted.totals.ratio == pytest.approx(47.619, abs=0.001)
        # The trade's short rule, 87.1 / Brix for 66.0 °Brix (Perkins and Isselhardt, as quoted): 44.2 to 1.
        assert promise.promised_ratio == pytest.approx(87.1 / 1.97, rel=0.005)


class TestThePage:
    def test_it_says_the_same_in_litres(self, small):
        text = page(small.alice)
        for sentence in (
            "72.0 litres of sap became 1.1 litres of syrup",
            "Came out of trees 72,000 mL",
            "In people’s hands 15,800 mL",
            "Put in the pans 50,000 mL",
            "Not accounted for 0 mL",
            "Closes to the millilitre. Counted again from 20 entries.",
            "7 Mar to 13 Mar 2 4 69.000 L 3.900 L",
            "14 Mar to 15 Mar 1 1 3.000 L 0.300 L",
            "Season 3 5 72.000 L 4.200 L",
            "QH-0005 355 Larkspur Street 2 11.000 L none 11.000 L 2.40 °Brix",
            "Lost on the way 7,900 mL",
            "To review 3.000 L , 1 entry",
            "Not ours to use 0.900 L",
            "D2025-0002",
            "Two pails were poured together before they were measured.",
            "At the depot 1.500 L more was measured than entered, and elsewhere 1.500 L less.",
        ):
            assert sentence in text, sentence
        apart = r"(?:and [0-9.]+ L (?:to review, not counted|not ours to use) )*"
        for name, (out_ml, taps) in SPECIES.items():
            assert re.search(rf"{name} {apart}{taps} {out_ml / 1000:.3f} L", text), name
        for name, out_ml in PEOPLE.items():
            assert re.search(rf"{name} {apart}{out_ml / 1000:.3f} L", text), name

    def test_it_says_the_same_in_gallons_with_the_millilitres_beside(self, small):
        small.alice.units = "us"
        small.alice.save()
        text = page(small.alice)
        # 72 L and 1.05 L / 3.785411784 (NIST SP 811, gallon) = 19.0204 gal and 0.2774 gal
        assert "19.0 gallons of sap became 0.28 gallons of syrup" in text
        assert "Came out of trees 72,000 mL 19.02 gal" in text

    def test_a_lead_sees_the_whole_and_the_rows_of_their_group(self, small):
        text = page(small.lena)
        assert "72.0 litres of sap" in text
        assert "Trees of your groups only: 50.250 L of the season’s 72.000 L." in text
        assert "People in your groups only: 50.250 L of the season’s 72.000 L." in text
        assert "QH-0001" in text
        assert "QH-0013" not in text
        assert "Otto" not in text

    def test_a_volunteer_sees_totals_and_their_own_name_alone(self, small):
        text = page(small.bob)
        assert "Your own entries only: 45.000 L of the season’s 72.000 L." in text
        assert "By group" in text
        assert not re.search(r"\b(Lena|Mira|Otto)\b", text.split("By person")[1])

    def test_more_entries_and_trees_ask_no_more_queries(self, small):
        client = in_as(small.alice)
        client.get(reverse("season-review"))
        with CaptureQueriesContext(connection) as before:
            client.get(reverse("season-review"))
        for n in range(30):
            tree = make.tree(code=f"QX-{n:04d}", group=make.group("Mill Race"))
            small.trees[tree.code] = tree
            person = make.person(f"Helper {n}", group="Mill Race")
            entry = small.visit(tree.code, person, at(16), 1_000 + n)
            settle(entry=entry, by=small.alice, verdict="counts", note="The tap was written down late.")
        with CaptureQueriesContext(connection) as after:
            assert client.get(reverse("season-review")).status_code == 200
        assert len(after) == len(before) <= 64

    def test_who_has_no_role_is_shown_nothing(self, small):
        assert in_as(make.charlie()).get(reverse("season-review")).status_code == 403
        assert in_as(make.charlie()).get(reverse("season-csv", args=["by-day"])).status_code == 403
        assert Client().get(reverse("season-review")).status_code == 302


class TestTheFiles:
    @pytest.mark.parametrize("what", ["by-tree", "by-person", "by-group", "by-species", "by-day"])
    def test_each_adds_up_to_the_season(self, small, what):
        rows = table(small.alice, what)
        columns = ("volume_ml", "rain_ml", "tipped_out_ml", "kept_ml", "to_review_ml", "not_ours_ml")
        assert [total(rows, name) for name in columns] == [72_000, 1_700, 4_200, 69_500, 3_000, 900]

    def test_every_entry_is_there_and_what_counts_adds_up(self, small):
        rows = table(small.rhea, "collections")
        assert len(rows) == 22
        assert [total(rows, name) for name in ("volume_ml", "rain_ml", "discarded_ml")] == [72_000, 1_700, 4_200]
        assert total(rows, "said_volume_ml") == 72_000 + 3_000 + 900
        late = next(row for row in rows if row["tree"] == "QH-0007")
        assert (late["day"], late["time"], late["person"]) == ("2025-03-08", "2025-03-08T23:45:00-05:00", "Lena")
        dst = next(row for row in rows if row["tree"] == "QH-0009")
        assert (dst["day"], dst["time"], dst["brix"]) == ("2025-03-09", "2025-03-09T23:30:00-04:00", "1.50")

    @pytest.mark.parametrize(
        ("name", "entries", "out_ml", "trees_ml"),
        [("lena", 12, 50_250, 50_250), ("bob", 8, 45_000, 50_250), ("mira", 5, 13_000, 21_750)],
    )
    def test_each_reader_gets_their_rows_and_the_page_adds_up_to_them(self, small, name, entries, out_ml, trees_ml):
        reader = getattr(small, name)
        rows = table(reader, "collections")
        assert (len(rows), total(rows, "volume_ml")) == (entries, out_ml)
        assert total(table(reader, "by-person"), "volume_ml") == out_ml
        assert total(table(reader, "by-tree"), "volume_ml") == trees_ml
        text = page(reader)
        assert f"All these people {out_ml / 1000:.3f} L" in text
        assert re.search(rf"All these trees \d+ {trees_ml / 1000:.3f} L", text)

    def test_the_ledger_itself_is_for_coordinators_and_reviewers(self, small):
        rows = table(small.rhea, "movements")
        assert sum(int(row["counts_ml"]) for row in rows if row["cause"] == "out_of_tree") == 72_000 + 3_000 + 900
        corrected = [row for row in rows if row["tree"] == "QH-0010"]
        assert [int(row["counts_ml"]) for row in corrected] == [5_200, -5_200, 2_500]
        assert corrected[1]["reason"] == "The pail was read upside down."
        assert in_as(small.lena).get(reverse("season-csv", args=["movements"])).status_code == 403
        assert in_as(small.bob).get(reverse("season-csv", args=["movements"])).status_code == 403

    def test_a_file_nobody_has_heard_of_is_not_found(self, small):
        assert in_as(small.alice).get(reverse("season-csv", args=["by-moon"])).status_code == 404
        assert in_as(small.alice).get(reverse("season-csv", args=["by-day"]), {"year": 1999}).status_code == 404

    def test_a_name_that_is_a_formula_is_taken_as_a_name(self, small):
        small.bob.display_name = '=HYPERLINK("http://x.example","Bob")'
        small.bob.save()
        assert "'=HYPERLINK" in {row["person"][:11] for row in table(small.alice, "by-person")}
