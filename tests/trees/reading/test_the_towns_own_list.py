"""The invented town's list, written by other code, whose mess is counted: every bad row is found, no good one lost."""

from collections import Counter
from pathlib import Path

import pytest

from sugarbush.demo.town import (
    MESS,
    TAKEN_ROWS,
    TOTAL_ROWS,
    box_deg,
    inventory_rows,
    write_inventory_csv,
    write_inventory_geojson,
    write_streets_geojson,
)
from sugarbush.trees.reading.files import open_table
from sugarbush.trees.reading.place import Box
from sugarbush.trees.reading.refusals import Refused
from sugarbush.trees.reading.streets import StreetRow, read_streets
from sugarbush.trees.reading.verdicts import TreeRow
from tests.trees.reading.making import read_all

pytestmark = pytest.mark.pure

# One of the five rows out of town stands at 0, 0, which is what systems write for no position at all.
PLACELESS = MESS["missing_coordinates"] + 1
ASTRAY = MESS["outside_town"] - 1


@pytest.mark.parametrize("form", ["plain", "old and with decimal commas", "geojson"])
def test_every_bad_row_is_found_and_no_good_one_lost(tmp_path: Path, form: str) -> None:
    path = tmp_path / "quillhaven"
    if form == "geojson":
        write_inventory_geojson(path)
    elif form == "plain":
        write_inventory_csv(path)
    else:
        write_inventory_csv(path, encoding="latin-1", delimiter=";", decimal_comma=True)
    verdicts = read_all(open_table(path), box=Box(*box_deg()))
    taken = [one for one in verdicts if isinstance(one, TreeRow)]
    reasons = Counter(one.reason_code for one in verdicts if isinstance(one, Refused))
    assert (len(verdicts), len(taken)) == (TOTAL_ROWS, TAKEN_ROWS)
    assert reasons.pop("outside_box") + reasons.pop("sign_missing") == ASTRAY
    assert reasons == {
        "vacant": MESS["vacant_site"],
        "stump": MESS["stump"],
        "coordinates_missing": PLACELESS,
        "diameter_zero": MESS["zero_diameter"],
        "coordinates_swapped": MESS["swapped_coordinates"],
        "species_unknown": MESS["unknown_species"],
        "number_twice": MESS["duplicate_number"],
    }
    assert sum(one.several_stems for one in taken) == MESS["several_stems"]
    if form != "geojson":
        written = {row["TREE_NO"]: row for row in reversed(list(inventory_rows()))}
        for one in taken:
            row = written[one.number]
            assert one.note == row["REMARKS"].strip()
            assert (one.species_as_given.partition(" / ")[0], one.address) == (row["BOTANICAL"], row["ADDRESS"])
            assert (f"{one.longitude_deg:.7f}", f"{one.latitude_deg:.7f}") == (
                f"{float(row['LON']):.7f}",
                f"{float(row['LAT']):.7f}",
            )


def test_the_towns_streets_all_come_in(tmp_path: Path) -> None:
    lines = write_streets_geojson(tmp_path / "streets.geojson")
    rows = list(read_streets(tmp_path / "streets.geojson", box=Box(*box_deg())))
    assert len(rows) == lines
    assert all(isinstance(row, StreetRow) and row.name for row in rows)
