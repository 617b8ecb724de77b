"""Reading holds a few rows, however many there are."""

import tracemalloc
from pathlib import Path

import pytest

from sugarbush.trees.reading.files import open_table
from sugarbush.trees.reading.species import built_in_index
from sugarbush.trees.reading.verdicts import TreeRow, compile_reader
from tests.trees.reading.making import HEADING, PLAIN, QUILLHAVEN, collection, csv_text, point, tree

pytestmark = pytest.mark.pure


def _peak_bytes(path: Path) -> tuple[int, int]:
    built_in_index()
    tracemalloc.start()
    try:
        table = open_table(path)
        mapping = PLAIN if table.kind == "csv" else PLAIN.with_changes(longitude="longitude", latitude="latitude")
        reader = compile_reader(mapping=mapping, columns=table.columns, known=built_in_index(), box=QUILLHAVEN)
        count = sum(isinstance(reader(row), TreeRow) for row in table.rows())
        return count, tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


@pytest.mark.parametrize("kind", ["csv", pytest.param("geojson", marks=pytest.mark.slow)])
def test_five_times_the_rows_need_no_more_memory_but_the_seen_numbers(tmp_path: Path, kind: str) -> None:
    peaks = []
    for many in (4_000, 20_000):
        path = tmp_path / f"{many}.{kind}"
        if kind == "csv":
            path.write_text(csv_text([HEADING, *(tree(f"{number:06d}") for number in range(many))]))
        else:
            named = {"Botanical": "Acer rubrum", "DBH in": 18, "Status": ""}
            path.write_text(
                collection([point(-87.35, 47.05, **{"Tree No": f"{at:06d}", **named}) for at in range(many)])
            )
        count, peak = _peak_bytes(path)
        assert count == many
        peaks.append(peak)
    # The seen numbers take 12 bytes a slot, 2^15 slots for 20,000 numbers, and half as much again while growing.
    assert peaks[1] - peaks[0] < 1.5 * 12 * 2**15 + 2_500_000
