# ruff: noqa: E501 - rows of the files stand on one line
"""Columns guessed from headings and values. The files are invented; their forms are common among open town lists."""

from pathlib import Path

import pytest

from sugarbush.trees.reading.files import open_table
from sugarbush.trees.reading.guess import guess_columns
from sugarbush.trees.reading.mapping import COLUMN_FIELDS, Mapping
from sugarbush.trees.reading.place import Box
from sugarbush.trees.reading.verdicts import TreeRow
from tests.trees.reading.making import read_all, write

pytestmark = pytest.mark.pure

KINDS = ["Acer rubrum", "Acer platanoides", "Fraxinus americana", "Tilia cordata"]
COMMON = ["Maple, Red", "Maple, Norway", "Ash, White", "Linden, Littleleaf"]
FORMS: dict[str, tuple[str, str, dict[str, str]]] = {
    "english inches": (
        "tree_id,block_id,created_at,tree_dbh,status,health,spc_latin,spc_common,address,zip,latitude,longitude,x_sp,y_sp",
        "{n},31{n},08/27/2015,{inch},Alive,Fair,{kind},{name},{n} LARKSPUR ST,11375,47.05{n:03d}1,-87.35{n:03d}1,1027431.1{n},202756.7{n}",
        {
            "number": "tree_id", "surveyed": "created_at", "size": "tree_dbh", "status": "status", "botanical": "spc_latin",
            "common": "spc_common", "address": "address", "latitude": "latitude", "longitude": "longitude",
            "size_unit": "in", "date_order": "mdy",
        },
    ),
    "german girths": (
        "gisid;baumnr;art_dtsch;art_bot;pflanzjahr;strname;hausnr;kronedurch;stammumfg;baumhoehe;lon;lat",
        "00:{n};{n:05d};Spitz-Ahorn;{kind};1950;Lerchenweg;{n};5,5;{girth};12;-87,35{n:03d}1;47,05{n:03d}1",
        {
            "number": "baumnr", "botanical": "art_bot", "common": "art_dtsch", "size": "stammumfg", "house": "hausnr",
            "street": "strname", "longitude": "lon", "latitude": "lat", "size_kind": "girth", "size_unit": "cm", "decimal": ",",
        },
    ),
    "french": (
        "No arbre;Essence latin;Essence fr;DHP;Rue;No civique;Côté;Date relevé;Longitude;Latitude;Remarque",
        "A{n:04d};{kind};Érable;{cm},5;Rue du Moulin;{n};N;2024-05-{day:02d};-87,35{n:03d}1;47,05{n:03d}1;",
        {
            "number": "No arbre", "botanical": "Essence latin", "common": "Essence fr", "size": "DHP", "street": "Rue",
            "house": "No civique", "side": "Côté", "surveyed": "Date relevé", "longitude": "Longitude",
            "latitude": "Latitude", "note": "Remarque", "size_unit": "cm", "decimal": ",",
        },
    ),
    "one column of points": (
        "_id,OBJECTID,STRUCTID,ADDRESS,STREETNAME,SITE,WARD,BOTANICAL_NAME,COMMON_NAME,DBH_TRUNK,geometry",
        '{n},{n}9,S{n},{n},LARKSPUR ST,Boulevard,3,{kind},"{name}",{cm},POINT (-87.35{n:03d}1 47.05{n:03d}1)',
        {
            "number": "STRUCTID", "house": "ADDRESS", "street": "STREETNAME", "site": "SITE", "botanical": "BOTANICAL_NAME",
            "common": "COMMON_NAME", "size": "DBH_TRUNK", "position": "geometry", "size_unit": "cm",
        },
    ),
    "pairs, latitude first": (
        "TreeID,qSpecies,qAddress,PlantDate,DBH,XCoord,YCoord,Location",
        '{n},{kind} :: {name},{n} Larkspur St,07/21/1988,{inch},6000609.{n},2110829.{n},"(47.05{n:03d}1, -87.35{n:03d}1)"',
        {
            "number": "TreeID", "botanical": "qSpecies", "address": "qAddress", "size": "DBH", "position": "Location",
            "size_unit": "in", "position_order": "lat lon",
        },
    ),
    "codes, x after y": (
        "Tag|SpCode|Girth cm|Trunks|Y|X",
        "{n:04d}|{code}|{girth}|1|47.05{n:03d}1|-87.35{n:03d}1",
        {
            "number": "Tag", "code": "SpCode", "size": "Girth cm", "stems": "Trunks", "longitude": "X", "latitude": "Y",
            "size_kind": "girth", "size_unit": "cm", "code_list": "street",
        },
    ),
    "crown beside trunk": (
        "Asset ID,Family,Scientific Name,Crown Diameter (m),Trunk Diameter (mm),Date Planted,Ownership,Long,Lat",
        "{n},Sapindaceae,{kind},{day},{mm},1999-01-01,Private,-87.35{n:03d}1,47.05{n:03d}1",
        {
            "number": "Asset ID", "botanical": "Scientific Name", "size": "Trunk Diameter (mm)", "land": "Ownership",
            "longitude": "Long", "latitude": "Lat", "size_unit": "mm",
        },
    ),
    "no heading": (
        "",
        "{n:04d},{kind},x{n},47.05{n:03d}1,-87.35{n:03d}1",
        {"botanical": "Column 2", "longitude": "Column 5", "latitude": "Column 4"},
    ),
    "headings the wrong way round": (
        "id,species,dbh_cm,lon,lat",
        "{n},{name},{cm},47.05{n:03d}1,-87.35{n:03d}1",
        {"number": "id", "common": "species", "size": "dbh_cm", "longitude": "lat", "latitude": "lon", "size_unit": "cm"},
    ),
}  # fmt: skip


def made(heading: str, line: str) -> str:
    lines = [heading] if heading else []
    for n in range(1, 80):
        inch = 3 + n * 7 % 28
        name = COMMON[n % 4] if '"{name}"' in line or "{name}" not in line else COMMON[n % 4].replace(", ", " ")
        lines.append(
            line.format(
                n=n, inch=inch, cm=round(inch * 2.54), mm=round(inch * 25.4), girth=round(inch * 7.98), day=1 + n % 28,
                kind=KINDS[n % 4], name=name, code=["ACSA1", "ACSA2", "ACRU", "QURU"][n % 4],
            )
        )  # fmt: skip
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize("form", FORMS)
def test_columns_are_guessed_in_the_forms_towns_use(tmp_path: Path, form: str) -> None:
    heading, line, wanted = FORMS[form]
    table = open_table(write(tmp_path, made(heading, line)))
    guessed = guess_columns(table.columns, table.sample())
    named = {field: getattr(guessed, field) for field in COLUMN_FIELDS if getattr(guessed, field)}
    said = {field: value for field, value in wanted.items() if field in COLUMN_FIELDS}
    assert named == said
    assert {field: getattr(guessed, field) for field in wanted} == wanted
    assert guessed.problems(table.columns) == []
    verdicts = read_all(table, guessed, Box(-87.40, 47.00, -87.30, 47.10))
    assert all(isinstance(one, TreeRow) for one in verdicts)
    assert len(verdicts) == 79


def test_the_box_tells_longitude_from_latitude(tmp_path: Path) -> None:
    text = "a,b,kind\n" + "".join(f"52.5{n:04d},53.1{n:04d},Acer rubrum\n" for n in range(40))
    table = open_table(write(tmp_path, text))
    west = guess_columns(table.columns, table.sample(), box=Box(52, 53, 53, 54))
    east = guess_columns(table.columns, table.sample(), box=Box(53, 52, 54, 53))
    assert (west.longitude, west.latitude) == ("a", "b")
    assert (east.longitude, east.latitude) == ("b", "a")
    assert "longitude" in east.unsure


def test_a_unit_only_likely_is_marked_for_a_look(tmp_path: Path) -> None:
    table = open_table(
        write(
            tmp_path, "id,kind,dbh,lon,lat\n" + "".join(f"{n},Acer rubrum,{n},-87.351,47.051\n" for n in range(1, 30))
        )
    )
    guessed = guess_columns(table.columns, table.sample())
    assert guessed.size_unit == "in"
    assert "size_unit" in guessed.unsure
    assert guessed.with_changes(size_unit="cm").unsure == ()


def test_a_file_about_something_else_is_not_forced(tmp_path: Path) -> None:
    table = open_table(write(tmp_path, "Bus line,Stops,Drivers\n12,8,3\n14,9,4\n"))
    guessed = guess_columns(table.columns, table.sample())
    assert len(guessed.problems(table.columns)) == 2


def test_an_empty_sample_is_no_trouble() -> None:
    assert guess_columns(["TreeID", "DBH", "Latitude", "Longitude"], []).number in ("", "TreeID")


def test_a_mapping_goes_to_json_and_back() -> None:
    mapping = Mapping(number="Nº", botanical="Kind", size="Ø", size_unit="mm", unsure=("size_unit",))
    assert Mapping.from_json(mapping.to_json()) == mapping
    for bad in ('{"number": 4}', '{"size_unit": "feet"}', '{"colour": "red"}', "[]", "{"):
        with pytest.raises(ValueError):
            Mapping.from_json(bad)
    with pytest.raises(ValueError, match="size_kind"):
        mapping.with_changes(size_kind="height")
