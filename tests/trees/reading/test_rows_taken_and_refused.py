"""What becomes of a row: a tree, or a reason with the value in it."""

import json
import time
from datetime import date
from pathlib import Path

import pytest

from sugarbush.core.trunk import diameter_from_girth_um
from sugarbush.trees.reading.files import open_table
from sugarbush.trees.reading.guess import guess_columns
from sugarbush.trees.reading.mapping import Mapping
from sugarbush.trees.reading.place import Box, draw_box
from sugarbush.trees.reading.positions import read_position
from sugarbush.trees.reading.refusals import Refused, refusal_sentence
from sugarbush.trees.reading.seen import SeenNumbers
from sugarbush.trees.reading.sizes import read_size
from sugarbush.trees.reading.species import built_in_index
from sugarbush.trees.reading.verdicts import TreeRow, compile_reader
from tests.trees.reading.making import HEADING, PLAIN, QUILLHAVEN, csv_text, read_all, tree, verdict, write

pytestmark = pytest.mark.pure


def taken(folder: Path, mapping: Mapping = PLAIN, box: Box | None = QUILLHAVEN, **changes: str) -> TreeRow:
    one = verdict(folder, mapping, box, **changes)
    assert isinstance(one, TreeRow), one
    return one


def refused(folder: Path, mapping: Mapping = PLAIN, box: Box | None = QUILLHAVEN, **changes: str) -> Refused:
    one = verdict(folder, mapping, box, **changes)
    assert isinstance(one, Refused), one
    return one


def test_a_sound_row_is_taken_as_it_stands(tmp_path: Path) -> None:
    one = taken(tmp_path, Longitude="-87.33635191", Latitude="47.05270664")
    assert (one.row, one.line, one.number, one.species_key) == (1, 2, "0412", "Acer saccharum")
    assert (one.longitude_deg, one.latitude_deg) == (-87.3363519, 47.0527066)
    assert (one.diameter_um, one.size_as_given) == (457_200, "18 in across")
    assert (one.land, one.stems, one.several_stems, one.remarks) == ("unknown", None, False, ())


@pytest.mark.parametrize(
    ("changes", "reason", "named"),
    [
        ({"Longitude": "", "Latitude": ""}, "coordinates_missing", "longitude “”"),
        ({"Latitude": " "}, "coordinates_missing", "-87.35"),
        ({"Longitude": "0", "Latitude": "0.0"}, "coordinates_missing", "longitude “0”"),
        ({"Longitude": "47.05", "Latitude": "-87.35"}, "coordinates_swapped", "look swapped"),
        ({"Longitude": "-87.35", "Latitude": "48.2"}, "outside_box", "48.2"),
        ({"Longitude": "87.35"}, "sign_missing", "minus sign"),
        ({"Longitude": "near the church"}, "coordinates_not_numbers", "near the church"),
        ({"Longitude": "nan"}, "coordinates_not_numbers", "nan"),
        ({"Longitude": "-87_35"}, "coordinates_not_numbers", "-87_35"),
        ({"Longitude": "471234.5", "Latitude": "5211234.5"}, "coordinates_out_of_range", "471234.5"),
        ({"DBH_in": "0"}, "diameter_zero", "size is 0 in across"),
        ({"DBH_in": "0.0"}, "diameter_zero", "0"),
        ({"DBH_in": "-4"}, "diameter_negative", "-4"),
        ({"DBH_in": "180"}, "diameter_absurd", "4.6 m across"),
        ({"DBH_in": "1e9"}, "diameter_absurd", "across"),
        ({"DBH_in": "1e999999999"}, "diameter_not_a_number", "1e999999999"),
        ({"DBH_in": "thick"}, "diameter_not_a_number", "thick"),
        ({"DBH_in": "17,5"}, "diameter_not_a_number", "17,5"),
        ({"Botanical": ""}, "species_missing", "names no species"),
        ({"Botanical": "Arbor ignota"}, "species_unknown", "Arbor ignota"),
        ({"Botanical": "=cmd|' /C calc'!A0"}, "species_unknown", "calc"),
        ({"Botanical": "<script>alert(1)</script>"}, "species_unknown", "<script>"),
        ({"Botanical": "Stump"}, "stump", "Stump"),
        ({"Botanical": "Vacant Site, Large"}, "vacant", "Vacant Site, Large"),
        ({"Status": "Stump", "DBH_in": "0", "Botanical": ""}, "stump", "Stump"),
        ({"Status": "Vacant"}, "vacant", "Vacant"),
        ({"Status": "Planting space"}, "vacant", "Planting space"),
        ({"Status": "Removed 2019"}, "removed", "Removed 2019"),
        ({"Status": "gefällt"}, "removed", "gefällt"),
        ({"number": "9" * 65}, "number_too_long", "longer than 64"),
    ],
)
def test_each_reason_names_the_value(tmp_path: Path, changes: dict[str, str], reason: str, named: str) -> None:
    one = refused(tmp_path, PLAIN, QUILLHAVEN, **changes)
    assert one.reason_code == reason
    assert named in one.sentence
    assert refusal_sentence(one.reason_code, json.loads(json.dumps(one.values))) == one.sentence


@pytest.mark.parametrize(
    "status", ["To be removed", "Alive", "Scheduled for removal", "Vacant lot", "Good", "Not removed"]
)
def test_a_tree_that_still_stands_is_taken(tmp_path: Path, status: str) -> None:
    assert taken(tmp_path, Status=status).number == "0412"


def test_other_kinds_are_listed_too(tmp_path: Path) -> None:
    assert taken(tmp_path, Botanical="Fraxinus pennsylvanica Marshall").species_key == "Fraxinus pennsylvanica"


def test_a_dead_tree_is_taken_with_a_remark(tmp_path: Path) -> None:
    assert taken(tmp_path, Status="Dead").remark_sentences == ["The file says “Dead”: look before you plan."]


@pytest.mark.parametrize("blank", ["", " ", "-", "n/a", "NULL", "unknown", "not measured"])
def test_a_blank_size_is_a_tree_not_measured(tmp_path: Path, blank: str) -> None:
    one = taken(tmp_path, DBH_in=blank)
    assert (one.diameter_um, one.size_as_given) == (None, "")


def test_the_second_use_of_a_number_is_refused_and_names_the_first(tmp_path: Path) -> None:
    rows = [tree("7", Botanical="?"), tree("7"), tree("07"), tree("7"), tree(" 7 ")]
    verdicts = read_all(open_table(write(tmp_path, csv_text([HEADING, *rows]))), PLAIN)
    told = [(one.row, one.reason_code) for one in verdicts if isinstance(one, Refused)]
    assert told == [(1, "species_unknown"), (4, "number_twice"), (5, "number_twice")]
    assert "already used in row 2" in verdicts[3].sentence
    assert [one.number for one in verdicts if isinstance(one, TreeRow)] == ["7", "07"]


def test_trees_without_a_number_get_the_same_one_each_time(tmp_path: Path) -> None:
    rows = [tree(""), tree(""), tree("", Latitude="47.06")]
    table = open_table(write(tmp_path, csv_text([HEADING, *rows])))
    first, second = ([one.number for one in read_all(table, PLAIN)] for _ in range(2))
    assert first == second == ["at 47.0500000,-87.3500000", "at 47.0500000,-87.3500000 #2", "at 47.0600000,-87.3500000"]


def test_numbers_seen_are_told_apart_and_kept_small() -> None:
    seen = SeenNumbers()
    assert [seen.first_row(f"QH-{row}", row) for row in range(1, 100_001)] == [0] * 100_000
    assert [seen.first_row(f"QH-{row}", 0) for row in range(1, 100_001)] == list(range(1, 100_001))
    assert seen._hashes.itemsize + seen._rows.itemsize == 12
    assert len(seen._hashes) <= 100_000 * 3


def test_without_a_box_only_the_impossible_is_swapped(tmp_path: Path) -> None:
    assert refused(tmp_path, box=None, Longitude="47.05", Latitude="-87.35").reason_code == "coordinates_swapped"
    assert refused(tmp_path, box=None, Longitude="43.65", Latitude="-120.1").reason_code == "coordinates_swapped"
    assert taken(tmp_path, box=None, Longitude="13.4", Latitude="52.5").longitude_deg == 13.4


@pytest.mark.parametrize(
    ("cell", "order"),
    [
        ("POINT (-87.35 47.05)", "lon lat"),
        ("POINT(-87.35 47.05)", "lat lon"),
        ("SRID=4326;POINT Z (-87.35 47.05 200)", "lon lat"),
        ("MULTIPOINT ((-87.35 47.05))", "lon lat"),
        ("(47.05, -87.35)", "lat lon"),
        ("-87.35, 47.05", "lon lat"),
        ("-87,35; 47,05", "lon lat"),
        ('{"type": "Point", "coordinates": [-87.35, 47.05]}', "lon lat"),
    ],
)
def test_a_position_in_one_column(tmp_path: Path, cell: str, order: str) -> None:
    """WKT has x before y (OGC 06-103r4, section 7); GeoJSON longitude before latitude (RFC 7946, 3.1.1)."""
    path = write(tmp_path, csv_text([["No", "Kind", "Where"], ["1", "Acer rubrum", cell]]))
    mapping = Mapping(number="No", botanical="Kind", position="Where").with_changes(position_order=order)
    one = read_all(open_table(path), mapping)[0]
    assert isinstance(one, TreeRow)
    assert (one.longitude_deg, one.latitude_deg) == (-87.35, 47.05)


@pytest.mark.parametrize(("cell", "reason"), [("POINT EMPTY", "coordinates_missing"), ("", "coordinates_missing"),
                                              ("LINESTRING (1 2, 3 4)", "position_unreadable")])  # fmt: skip
def test_a_position_that_is_none(tmp_path: Path, cell: str, reason: str) -> None:
    path = write(tmp_path, csv_text([["No", "Kind", "Where"], ["1", "Acer rubrum", cell]]))
    one = read_all(open_table(path), Mapping(number="No", botanical="Kind", position="Where"))[0]
    assert isinstance(one, Refused)
    assert one.reason_code == reason


def test_girth_141_cm_is_44_9_cm_across() -> None:
    """141 / pi = 44.88 by hand; and the core agrees to the micrometre (d = girth / pi)."""
    size = read_size("141", kind="girth", unit="cm", decimal=".")
    assert size.as_given == "141 cm round"
    assert size.diameter_um == diameter_from_girth_um(1_410_000)
    assert round((size.diameter_um or 0) / 10_000, 1) == 44.9


@pytest.mark.parametrize(
    ("girth_cm", "diameter_cm"), [("78.5", 24.99), ("95.8", 30.49), ("100", 31.83), ("199.5", 63.50)]
)
def test_girths_of_the_table_in_trade_facts(girth_cm: str, diameter_cm: float) -> None:
    """d = girth / pi, worked out apart from this project's code and rounded to 0.01 cm."""
    size = read_size(girth_cm, kind="girth", unit="cm", decimal=".")
    assert (size.diameter_um or 0) / 10_000 == pytest.approx(diameter_cm, abs=0.01)


@pytest.mark.parametrize(
    ("cell", "unit", "decimal", "diameter_um", "as_given"),
    [
        ("18", "in", ".", 457_200, "18 in across"),
        ("18.0", "in", ".", 457_200, "18 in across"),
        ("12", "in", ".", 304_800, "12 in across"),
        ("30.48", "cm", ".", 304_800, "30.48 cm across"),
        ("30,48", "cm", ",", 304_800, "30.48 cm across"),
        ("1.204,5", "mm", ",", 1_204_500, "1204.5 mm across"),
        ("1,204.5", "mm", ".", 1_204_500, "1204.5 mm across"),
        ('18"', "cm", ".", 457_200, "18 in across"),
        ("45 cm", "in", ".", 450_000, "45 cm across"),
        ("0.45", "m", ".", 450_000, "0.45 m across"),
    ],
)
def test_sizes_as_given(cell: str, unit: str, decimal: str, diameter_um: int, as_given: str) -> None:
    size = read_size(cell, kind="diameter", unit=unit, decimal=decimal)  # type: ignore[arg-type]  # units of the table
    assert (size.diameter_um, size.as_given) == (diameter_um, as_given)


@pytest.mark.parametrize("cell", ["10/12/8", "10, 12, 8", "10;12", "4 x 10", "10 12", "10 & 12", "10 and 12 in"])
def test_a_size_for_several_stems_counts_as_not_measured(tmp_path: Path, cell: str) -> None:
    one = taken(tmp_path, DBH_in=cell)
    assert one.several_stems
    assert one.diameter_um is None
    assert one.size_as_given.endswith("in across")
    assert "several stems" in one.remark_sentences[0]


def test_a_count_of_stems_makes_the_one_size_useless(tmp_path: Path) -> None:
    rows = [["No", "Kind", "DBH cm", "Stems", "Lon", "Lat"]]
    rows += [
        [str(at), "Acer rubrum", "60", stems, "-87.35", "47.05"] for at, stems in enumerate(["1", "3", "multi", ""])
    ]
    found = read_all(open_table(write(tmp_path, csv_text(rows))))
    read = [(one.stems, one.several_stems, one.diameter_um) for one in found if isinstance(one, TreeRow)]
    assert read == [(1, False, 600_000), (3, True, None), (None, True, None), (None, False, 600_000)]


@pytest.mark.parametrize("cell", ["12-18", "6+", "<10", "> 30", "12 to 18 in"])
def test_a_range_is_no_measurement(tmp_path: Path, cell: str) -> None:
    one = taken(tmp_path, DBH_in=cell)
    assert one.diameter_um is None
    assert not one.several_stems
    assert "range" in one.remark_sentences[0]


def test_address_side_land_note_and_day(tmp_path: Path) -> None:
    rows = [
        ["Tag", "Kind", "Lon", "Lat", "House no", "Street", "Side", "Owner", "Remarks", "Surveyed"],
        [
            "1",
            "Acer rubrum",
            "-87.35",
            "47.05",
            "12A",
            " Larkspur\nStreet",
            " north ",
            "City ROW",
            " by the gate ",
            "2025-09-14",
        ],
        ["2", "Acer rubrum", "-87.36", "47.06", "", "Orchard Bank", "", "Private", "", ""],
    ]
    first, second = read_all(open_table(write(tmp_path, csv_text(rows))))
    assert isinstance(first, TreeRow)
    assert isinstance(second, TreeRow)
    assert (first.address, first.side, first.land, first.note) == (
        "12A Larkspur Street",
        "north",
        "public",
        "by the gate",
    )
    assert first.surveyed == date(2025, 9, 14)
    assert (second.address, second.land, second.surveyed) == ("Orchard Bank", "private", None)


@pytest.mark.parametrize(
    ("order", "text", "day"),
    [
        ("ymd", "2025-09-14T10:00:00Z", date(2025, 9, 14)),
        ("mdy", "9/14/2025 10:00", date(2025, 9, 14)),
        ("dmy", "14.09.25", date(2025, 9, 14)),
        ("mdy", "2025/09/14", date(2025, 9, 14)),
        ("ymd", "20250914", date(2025, 9, 14)),
        ("dmy", "31.02.2025", None),
        ("ymd", "last autumn", None),
    ],
)
def test_days(tmp_path: Path, order: str, text: str, day: date | None) -> None:
    rows = [["No", "Kind", "Lon", "Lat", "Surveyed"], ["1", "Acer rubrum", "-87.35", "47.05", text]]
    mapping = Mapping(number="No", botanical="Kind", longitude="Lon", latitude="Lat", surveyed="Surveyed")
    one = read_all(open_table(write(tmp_path, csv_text(rows))), mapping.with_changes(date_order=order))[0]
    assert isinstance(one, TreeRow)
    assert one.surveyed == day


def test_a_mapping_that_does_not_fit_is_told_in_sentences() -> None:
    columns = ["No", "Kind", "Lon", "Lat"]
    assert Mapping(botanical="Kind", longitude="Lon", latitude="Lat").problems(columns) == []
    said = Mapping(number="Number", longitude="Lon").problems(columns)
    assert len(said) == 3
    assert "“Number”" in said[0]
    with pytest.raises(ValueError, match="no column"):
        compile_reader(mapping=Mapping(number="Number"), columns=columns, known=built_in_index())


def test_the_box_is_drawn_around_most_trees_not_around_strays() -> None:
    places = [(-87.35 + at / 10_000, 47.05 + at / 10_000) for at in range(100)]
    box = draw_box([*places, (47.05, -87.35), (0.0, 0.0), (13.4, 52.5)])
    assert box is not None
    assert all(box.holds(*place) for place in places)
    assert not box.holds(47.05, -87.35)
    assert box.east_deg - box.west_deg < 0.1
    assert draw_box([]) is None


def test_a_thousand_rows_with_twenty_bad_ones(tmp_path: Path) -> None:
    """980 in, 20 listed with row number and why."""
    bad = {
        50: {"Longitude": "47.05", "Latitude": "-87.35"},
        100: {"DBH_in": "0"},
        150: {"Status": "Stump"},
        200: {"Botanical": "Arbor ignota"},
    }
    rows = []
    for number in range(1, 1_001):
        changes = bad[(number // 50 - 1) % 4 * 50 + 50] if number % 50 == 0 else {}
        rows.append(tree(f"{number:04d}", **changes))
    table = open_table(write(tmp_path, csv_text([HEADING, *rows])))
    assert guess_columns(table.columns, table.sample(), box=QUILLHAVEN).with_changes() == PLAIN
    verdicts = read_all(table)
    listed = [one for one in verdicts if isinstance(one, Refused)]
    assert len(verdicts) - len(listed) == 980
    assert [one.row for one in listed] == list(range(50, 1_001, 50))
    assert {one.reason_code for one in listed} == {"coordinates_swapped", "diameter_zero", "stump", "species_unknown"}


def test_a_cell_full_of_blanks_is_read_at_once():
    """By the patterns alone each of these took minutes."""
    blanks = " " * 100_000
    began_s = time.process_time()
    assert read_position(f"43.65{blanks}x", "lat lon") is None
    assert read_position(f"43.65{blanks}-79.38", "lat lon") == ("-79.38", "43.65")
    assert read_position("{" + '"coordinates": [1.1, 2.2], ' * 4_000 + "x", "lat lon") is None
    assert built_in_index().look(common=f"sugar{blanks}maple") == built_in_index().look(common="sugar maple")
    assert time.process_time() - began_s < 2
