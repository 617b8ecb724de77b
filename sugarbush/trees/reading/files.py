"""The door: open a tree file of whatever kind."""

from pathlib import Path

from sugarbush.trees.reading.csv_table import CsvTable
from sugarbush.trees.reading.geojson_table import GeoJsonTable
from sugarbush.trees.reading.kinds import kind_of, unreadable
from sugarbush.trees.reading.rows import RawRow, Table

HEAD_BYTES = 1 << 20

__all__ = ["RawRow", "Table", "open_table", "read_head"]


def read_head(path: Path) -> bytes:
    """The first megabyte of a file. Raises CannotRead when the file cannot be opened."""
    try:
        with path.open("rb") as stream:
            return stream.read(HEAD_BYTES)
    except OSError as error:
        raise unreadable(error) from error


def open_table(path: str | Path) -> Table:
    """Opens a town's tree file: CSV of any delimiter and encoding, or GeoJSON.

    Reads only its start. Raises CannotRead, whose sentence says what is wrong and what to do.
    """
    place = Path(path)
    head = read_head(place)
    return GeoJsonTable(place, head) if kind_of(head) == "geojson" else CsvTable(place, head)
