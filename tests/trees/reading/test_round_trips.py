"""A row written in any delimiter, encoding, decimal mark, unit and form reads back equal."""

import csv
import io
import json
import tempfile
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from sugarbush.core.units import MM_PER, plain
from sugarbush.trees.reading.errors import CannotRead
from sugarbush.trees.reading.files import open_table
from sugarbush.trees.reading.guess import guess_columns
from sugarbush.trees.reading.mapping import Mapping
from sugarbush.trees.reading.species import built_in_species
from sugarbush.trees.reading.verdicts import TreeRow
from tests.trees.reading.making import QUILLHAVEN, collection, point, read_all

pytestmark = pytest.mark.pure

SPECIES = [one.botanical for one in built_in_species()]
# Letters of Windows-1252, without controls, so that each encoding below can hold them.
LETTERS = st.characters(codec="cp1252", exclude_categories=("Cc", "Zs", "Zl", "Zp"))
NAMES = st.text(LETTERS, min_size=1, max_size=20)
TREES = st.lists(
    st.tuples(
        st.integers(min_value=-874_000_000, max_value=-873_000_000),
        st.integers(min_value=470_000_000, max_value=471_000_000),
        st.sampled_from(SPECIES),
        st.integers(min_value=1_000, max_value=3_999_999),
        NAMES,
    ),
    min_size=1,
    max_size=12,
)
UNITS = ["in", "cm", "mm", "m"]


def _written(number: int, unit: str) -> str:
    """A size of so many micrometres in a unit, exact in metric ones."""
    return plain((Decimal(number) / 1000 / MM_PER[unit]).quantize(Decimal("1e-9")))


def _is_also_utf8(text: str) -> bool:
    try:
        return text.encode("cp1252").decode("utf-8") != text
    except UnicodeDecodeError:
        return False


@given(
    trees=TREES,
    delimiter=st.sampled_from([",", ";", "\t", "|"]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]),
    decimal=st.sampled_from([".", ","]),
    unit=st.sampled_from(UNITS),
    end=st.sampled_from(["\n", "\r\n"]),
    quoting=st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]),
)
def test_csv(
    trees: list[tuple[int, int, str, int, str]],
    delimiter: str,
    encoding: str,
    decimal: str,
    unit: str,
    end: str,
    quoting: int,
) -> None:
    # Two letters such as "Â¡" in Windows-1252 are the very bytes of "¡" in UTF-8: nobody can tell those apart.
    assume(encoding != "cp1252" or not any(_is_also_utf8(note) for *_, note in trees))

    def number(value: Decimal) -> str:
        return format(value, "f").replace(".", decimal)

    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter, lineterminator=end, quoting=quoting)  # type: ignore[arg-type]  # csv's own
    writer.writerow(["Tree No", "Botanical", f"DBH {unit}", "Longitude", "Latitude", "Note"])
    for at, (east, north, kind, size_um, note) in enumerate(trees):
        degrees = [number(Decimal(value) / 10_000_000) for value in (east, north)]
        writer.writerow([f"{at:04d}", kind, _written(size_um, unit).replace(".", decimal), *degrees, note])
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "trees.csv"
        path.write_bytes(out.getvalue().encode(encoding))
        mapping = Mapping(
            number="Tree No", botanical="Botanical", size=f"DBH {unit}", longitude="Longitude", latitude="Latitude",
            note="Note",
        ).with_changes(size_unit=unit, decimal=decimal)  # fmt: skip
        table = open_table(path)
        assert guess_columns(table.columns, table.sample()).size_unit == unit
        verdicts = read_all(table, mapping, box=QUILLHAVEN)
    read = [
        (one.number, one.longitude_deg, one.latitude_deg, one.species_key, one.diameter_um, one.note)
        for one in verdicts
        if isinstance(one, TreeRow)
    ]
    assert read == [
        (f"{at:04d}", east / 10_000_000, north / 10_000_000, kind, size_um, note)
        for at, (east, north, kind, size_um, note) in enumerate(trees)
    ]


@given(trees=TREES, by_line=st.booleans(), encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]))
def test_geojson(trees: list[tuple[int, int, str, int, str]], by_line: bool, encoding: str) -> None:
    features = [
        point(east / 1e7, north / 1e7, tree_no=f"{at:04d}", species=kind, dbh_mm=size_um / 1000, note=note)
        for at, (east, north, kind, size_um, note) in enumerate(trees)
    ]
    text = "\n".join(json.dumps(one, ensure_ascii=False) for one in features) if by_line else collection(features)
    mapping = Mapping(
        number="tree_no", botanical="species", size="dbh_mm", size_unit="mm", note="note",
        longitude="longitude", latitude="latitude",
    )  # fmt: skip
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "trees.geojson"
        path.write_bytes(text.encode(encoding))
        verdicts = read_all(open_table(path), mapping)
    read = [
        (one.number, one.longitude_deg, one.latitude_deg, one.species_key, one.diameter_um, one.note)
        for one in verdicts
        if isinstance(one, TreeRow)
    ]
    assert read == [
        (f"{at:04d}", east / 10_000_000, north / 10_000_000, kind, size_um, note)
        for at, (east, north, kind, size_um, note) in enumerate(trees)
    ]


@given(st.binary(max_size=400))
def test_no_bytes_stop_the_reader_without_a_sentence(content: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "anything"
        path.write_bytes(content)
        try:
            table = open_table(path)
            rows = list(table.rows())
        except CannotRead as told:
            assert told.sentence.endswith(".")
        else:
            assert all(len(row.values) == len(table.columns) for row in rows)
            guessed = guess_columns(table.columns, table.sample())
            assert Mapping.from_json(guessed.to_json()) == guessed
