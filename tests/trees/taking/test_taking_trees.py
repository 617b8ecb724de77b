"""A town's tree file on its way into the list (C06)."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from sugarbush.demo import town
from sugarbush.seasons.models import Programme
from sugarbush.trees.files import ImportRun
from sugarbush.trees.models import Land, Life, Shown, Species, SpeciesSure, Tree
from sugarbush.trees.taking import rows as sql
from sugarbush.trees.taking import run as engine
from sugarbush.trees.taking.words import _reasons, remark_words, sentence_of
from sugarbush.trees.tiles import t17
from tests import make
from tests.trees.taking.making import brought, counts, row, rows, taken, write_csv, write_town

pytestmark = pytest.mark.django_db


def test_the_town_s_whole_file_with_its_mess_counted(tmp_path: Path) -> None:
    # The counts come from the invented town, which spoils its rows one way each and counts them (demo.inventory).
    path = write_town(tmp_path)
    run = taken(path)
    assert run.state == ImportRun.State.DONE
    assert counts(run) == (town.TAKEN_ROWS, 0, 0, town.NOT_TAKEN_ROWS)
    assert Tree.objects.count() == town.TAKEN_ROWS
    assert run.rows_read == town.TOTAL_ROWS
    reasons = run.report["reasons"]
    # Of the five rows outside the town one lies at nought, nought and one lacks its minus sign.
    assert reasons == {
        "coordinates_swapped": town.MESS["swapped_coordinates"],
        "coordinates_missing": town.MESS["missing_coordinates"] + 1,
        "outside_box": town.MESS["outside_town"] - 2,
        "sign_missing": 1,
        "diameter_zero": town.MESS["zero_diameter"],
        "stump": town.MESS["stump"],
        "vacant": town.MESS["vacant_site"],
        "species_unknown": town.MESS["unknown_species"],
        "number_twice": town.MESS["duplicate_number"],
    }
    assert run.report["remarks"]["several_stems"][0] == town.MESS["several_stems"]
    assert Tree.objects.filter(diameter_um=None).count() == town.MESS["blank_diameter"] + town.MESS["several_stems"]
    # Each row that was not taken is listed under its number.
    spoilt = {number for kind in town.NOT_TAKEN for number in town.inventory().messy[kind]}
    assert {problem.number for problem in run.problems.all()} == spoilt
    assert run.problems.count() == town.NOT_TAKEN_ROWS

    again = taken(path)
    assert again.source == run.source
    assert counts(again) == (0, 0, town.TAKEN_ROWS, town.NOT_TAKEN_ROWS)
    assert Tree.objects.count() == town.TAKEN_ROWS
    assert again.report["gone"] == 0


def test_of_a_thousand_rows_with_twenty_bad_980_are_taken_and_20_listed(tmp_path: Path) -> None:
    # C06, as the job states it.
    lines = rows(1000)
    bad = {
        10: {"longitude": "47.05", "latitude": "-87.35"},
        11: {"size": "0"},
        12: {"status": "Stump"},
        13: {"botanical": "Arbor ignota"},
        14: {"longitude": "", "latitude": ""},
    }
    for turn in range(4):
        for place, changes in bad.items():
            at = place + turn * 100
            lines[at] = row(f"{at + 1:04d}", **changes)
    path = write_csv(tmp_path, lines)
    run = taken(path)
    assert counts(run) == (980, 0, 0, 20)
    listed = {problem.row_number: problem for problem in run.problems.all()}
    assert sorted(listed) == sorted(place + turn * 100 + 1 for place in bad for turn in range(4))
    assert "swapped" in sentence_of(listed[11], "us")
    assert sentence_of(listed[12], "us").startswith("The size is 0")
    assert "stump" in sentence_of(listed[13], "us")
    assert "Arbor ignota" in sentence_of(listed[14], "us")
    assert sentence_of(listed[15], "us").startswith("No position")
    assert counts(taken(path)) == (0, 0, 980, 20)
    assert Tree.objects.count() == 980


def test_what_a_row_becomes(tmp_path: Path) -> None:
    make.programme(tag_prefix="QH", next_tag=7)
    run = taken(write_csv(tmp_path, [row("0412", status="Dead", note="=1+1 <b>big</b>")]), source="parks")
    tree = Tree.objects.get()
    assert (tree.code, tree.inventory_source, tree.inventory_number) == ("QH-0007", "parks", "0412")
    assert (tree.longitude, tree.latitude) == (-87.34588, 47.05)
    assert tree.t17 == t17(longitude_deg=tree.longitude, latitude_deg=tree.latitude)
    assert tree.species == tree.inventory_species == Species.objects.get(botanical="Acer saccharum")
    assert tree.species_sure == SpeciesSure.UNCONFIRMED
    # 18 in are 457,200 um (an inch is exactly 25.4 mm: international yard and pound agreement, 1959).
    assert tree.diameter_um == tree.inventory_diameter_um == 457_200
    assert tree.size_as_given == "18 in across"
    assert (tree.life, tree.shown_state, tree.land) == (Life.LISTED, Shown.LISTED, Land.UNKNOWN)
    assert tree.inventory_note == "Dead; =1+1 <b>big</b>"
    assert (tree.edition, tree.needs_look, tree.group, tree.history.count()) == (1, False, None, 0)
    assert run.report["remarks"] == {"dead": [1, 1]}
    # A tree made by hand has the same columns: nothing was left to chance by writing them in plain SQL.
    by_hand = make.tree()
    assert {field.attname for field in by_hand._meta.concrete_fields} - {"id"} == set(sql.NEW_TREE)


def test_a_girth_in_centimetres_is_divided_by_pi(tmp_path: Path) -> None:
    path = tmp_path / "trees.csv"
    path.write_text("Nr;Art;Stammumfang;lon;lat\n1;Acer rubrum;141,5;-87,35;47,05\n", encoding="latin-1")
    taken(path)
    assert Tree.objects.get().diameter_um == int(1_415_000 / math.pi)


def test_codes_follow_on_and_none_is_used_twice(tmp_path: Path) -> None:
    make.programme(tag_prefix="QH", next_tag=1)
    make.tree(code="QH-0003")
    taken(write_csv(tmp_path, rows(4)))
    made = Tree.objects.exclude(code="QH-0003").order_by("pk").values_list("code", flat=True)
    assert list(made) == ["QH-0001", "QH-0002", "QH-0004", "QH-0005"]


def test_the_first_file_draws_the_programme_s_box_and_a_later_one_leaves_it(tmp_path: Path) -> None:
    run = taken(write_csv(tmp_path, rows(50)))
    programme = Programme.current()
    assert programme is not None
    assert programme.box == tuple(run.report["box"])
    assert programme.box[0] < -87.35 < programme.box[2]
    far = taken(write_csv(tmp_path, [row(f"{n:04d}", longitude="-70.1") for n in range(60, 65)], "far.csv"))
    assert far.report["reasons"] == {"outside_box": 5}
    assert Programme.current().box == programme.box


def test_two_lists_may_use_the_same_numbers(tmp_path: Path) -> None:
    taken(write_csv(tmp_path, rows(5)), source="streets")
    run = taken(write_csv(tmp_path, rows(5), "parks.csv"), source="parks")
    assert counts(run) == (5, 0, 0, 0)
    assert Tree.objects.count() == 10


def test_a_newer_file_of_a_list_is_known_by_its_trees(tmp_path: Path) -> None:
    taken(write_csv(tmp_path, rows(40)), source="parks")
    assert brought(write_csv(tmp_path, rows(45), "trees 2027.csv")).source == "parks"
    elsewhere = [row(f"{n:04d}", latitude="47.06") for n in range(1, 41)]
    assert brought(write_csv(tmp_path, elsewhere, "school_yards.csv")).source == "school yards"


def test_many_rows_cost_questions_by_the_piece_not_by_the_row(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engine, "ROWS_IN_A_PIECE", 1000)
    asked = {}
    for count in (300, 900):
        path = write_csv(tmp_path, rows(count), f"{count}.csv")
        with CaptureQueriesContext(
            connection,
        ) as queries:
            taken(path, source=f"list of {count}")
        # Rows written together count as one question.
        asked[count] = len(queries)
    # 900 codes are checked in two questions of 500, 300 in one.
    assert asked[900] <= asked[300] + 1


def test_a_species_the_programme_added_is_known(tmp_path: Path) -> None:
    Species.objects.create(botanical="Arbor quillensis", common="quill tree")
    run = taken(write_csv(tmp_path, [row("0001", botanical="Arbor quillensis"), row("0002")]))
    assert counts(run) == (2, 0, 0, 0)
    assert Tree.objects.get(inventory_number="0001").species.common == "quill tree"


def test_every_reason_and_remark_has_its_words() -> None:
    from sugarbush.trees.reading.refusals import _remarks, refusal_sentences
    from sugarbush.trees.reading.streets import street_refusal_sentences

    assert set(refusal_sentences()) | set(street_refusal_sentences()) <= set(_reasons())
    for code in _remarks():
        assert remark_words(code) != code
