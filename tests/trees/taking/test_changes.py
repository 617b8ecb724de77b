"""A newer file of the same list: what changed is reported; what people found stays."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from sugarbush.trees.files import ImportRun
from sugarbush.trees.keeping import keep
from sugarbush.trees.models import Life, Shown, Species, SpeciesSure, Tree
from sugarbush.trees.taking.words import sentence_of
from tests import make
from tests.trees.taking.making import counts, row, rows, taken, write_csv

pytestmark = pytest.mark.django_db


def listed(tmp_path: Path, *changed: list[str]) -> Tree:
    """One tree of the list "town", then a newer file whose rows are `changed`."""
    taken(write_csv(tmp_path, [row("0412")]), source="town")
    return Tree.objects.get()


def newer(tmp_path: Path, *lines: list[str]) -> ImportRun:
    return taken(write_csv(tmp_path, lines, "newer.csv"), source="town")


def told(run: ImportRun, units: str = "us") -> list[str]:
    return [sentence_of(problem, units) for problem in run.problems.all()]


def test_a_tree_only_the_town_described_follows_the_file(tmp_path: Path) -> None:
    tree = listed(tmp_path)
    run = newer(
        tmp_path,
        row(
            "0412", size="19.5", botanical="Acer rubrum", latitude="47.0501", address="35 Larkspur Street", note="wires"
        ),
    )
    assert counts(run) == (0, 1, 0, 0)
    tree.refresh_from_db()
    assert tree.species == tree.inventory_species == Species.objects.get(botanical="Acer rubrum")
    assert (tree.diameter_um, tree.inventory_diameter_um, tree.size_as_given) == (495_300, 495_300, "19.5 in across")
    assert (tree.latitude, tree.address, tree.inventory_note) == (47.0501, "35 Larkspur Street", "wires")
    # Whoever has its form open is told.
    assert tree.edition == 2
    sentence = told(run)[0]
    assert "species: “sugar maple” → “red maple”" in sentence
    assert "18.0\u00a0in → 19.5\u00a0in" in sentence
    # A ten-thousandth of a degree of latitude is 11.1 m (earth radius 6,371 km, IUGG mean).
    assert "position moved by 11.1 m" in sentence
    assert run.report["changes"] == {"species": 1, "size": 1, "place": 1, "address": 1, "note": 1}
    assert "45.7\u00a0cm → 49.5\u00a0cm" in told(run, "metric")[0]
    # And the newer file once more changes nothing.
    assert counts(newer(tmp_path, row("0412", size="19.5", botanical="Acer rubrum", latitude="47.0501",
                                      address="35 Larkspur Street", note="wires"))) == (0, 0, 1, 0)  # fmt: skip


def test_what_people_found_stays_beside_the_file_s_word(tmp_path: Path) -> None:
    make.season()
    tree = listed(tmp_path)
    sugar = tree.species
    tree.life, tree.diameter_um, tree.address = Life.CANDIDATE, 400_000, "33a Larkspur Street"
    tree.species_sure = SpeciesSure.CONFIRMED
    keep(tree, by=make.lena())
    run = newer(tmp_path, row("0412", size="20", botanical="Acer platanoides"))
    tree.refresh_from_db()
    assert (tree.species, tree.diameter_um, tree.address) == (sugar, 400_000, "33a Larkspur Street")
    assert tree.inventory_species.botanical == "Acer platanoides"
    assert tree.inventory_diameter_um == 508_000
    assert tree.species_in_conflict
    # Two people proved it; a list is no proof against them.
    assert tree.species_sure == SpeciesSure.CONFIRMED
    assert "ours stays “sugar maple”" in told(run)[0]
    assert "Look which is right." in told(run)[0]
    assert tree.history.first().history_change_reason == "the town’s list"


def test_a_species_nobody_is_sure_of_is_then_in_dispute_and_needs_a_look(tmp_path: Path) -> None:
    make.season()
    tree = listed(tmp_path)
    tree.life = Life.CANDIDATE
    keep(tree, by=make.lena())
    assert not tree.needs_look
    newer(tmp_path, row("0412", botanical="Acer platanoides"))
    tree.refresh_from_db()
    assert tree.species_sure == SpeciesSure.DISPUTED
    assert tree.needs_look


def test_a_listed_tree_somebody_corrected_keeps_the_correction(tmp_path: Path) -> None:
    tree = listed(tmp_path)
    tree.latitude = 47.0503
    keep(tree, by=make.alice())
    assert tree.shown_state == Shown.LISTED
    run = newer(tmp_path, row("0412", size="19"))
    tree.refresh_from_db()
    assert tree.latitude == 47.0503
    assert run.report["changes"] == {"size": 1, "place": 1}


def test_a_tree_of_the_programme_that_left_the_file_is_named(tmp_path: Path) -> None:
    make.season()
    taken(write_csv(tmp_path, rows(6)), source="town")
    ours = Tree.objects.get(inventory_number="0003")
    ours.life = Life.CANDIDATE
    keep(ours, by=make.lena())
    run = newer(tmp_path, row("0001"), row("0002"), row("0005", status="Stump"), row("0006"))
    assert counts(run) == (0, 0, 3, 1)
    # Number 4 is only listed; number 5 is a stump now; number 3 is ours.
    assert run.report["gone"] == 3
    gone = run.problems.get(reason="gone")
    assert (gone.number, gone.row_number) == ("0003", 0)
    assert ours.code in sentence_of(gone, "us")
    assert Tree.objects.count() == 6


def test_a_second_entry_merged_away_stays_out_of_sight(tmp_path: Path) -> None:
    from sugarbush.trees.merging import merge

    make.season()
    tree = listed(tmp_path)
    other = make.tree(code="HB-0001", inventory_source="other", inventory_number="9")
    merge(by=make.alice(), kept=other, loser=tree)
    run = newer(tmp_path, row("0412", size="20"))
    assert counts(run)[0] == 0
    tree.refresh_from_db()
    other.refresh_from_db()
    assert tree.merged_into == other
    assert other.diameter_um == 16 * make.INCH_UM
    assert other.inventory_diameter_um is None or other.inventory_diameter_um != 508_000


def test_thousands_of_changes_are_taken_in_few_questions(tmp_path: Path, django_assert_max_num_queries: Any) -> None:
    taken(write_csv(tmp_path, rows(1500)), source="town")
    path = write_csv(tmp_path, [row(f"{n:04d}", size="19") for n in range(1, 1501)], "newer.csv")
    with django_assert_max_num_queries(75):
        run = taken(path, source="town")
    assert counts(run) == (0, 1500, 0, 0)
    assert Tree.objects.filter(diameter_um=482_600).count() == 1500
