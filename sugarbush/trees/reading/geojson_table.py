"""GeoJSON points as a table: longitude, latitude, then the properties."""

from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import Any

from sugarbush.trees.reading.errors import CannotRead, EmptyFile, TooLarge
from sugarbush.trees.reading.geojson import FeatureFile, flat
from sugarbush.trees.reading.kinds import Kind
from sugarbush.trees.reading.rows import MOST_COLUMNS, RawRow, Trouble, distinct_names

# Properties are gathered from so many entries; GeoJSON has no heading to ask.
_FEATURES_LOOKED_AT = 1000


class GeoJsonTable:
    """A GeoJSON file, opened: its columns are the geometry's position and the properties met at its start."""

    def __init__(self, path: Path, head: bytes) -> None:
        self._file = FeatureFile(path, head)
        self.size_bytes = self._file.size_bytes
        self.notices: list[str] = []
        self._keys: list[str] = []
        self._has_identifier = False
        self._gather_keys()
        names = ["longitude", "latitude", *(["id"] if self._has_identifier else []), *self._keys]
        self.columns = distinct_names(names)

    @property
    def kind(self) -> Kind:
        return "geojson"

    @property
    def read_bytes(self) -> int:
        return self._file.read_bytes

    def rows(self) -> Iterator[RawRow]:
        """Every entry; one whose shape is not a point carries its trouble."""
        keys = self._keys
        for feature in self._file.features():
            longitude, latitude, trouble = _position(feature.geometry)
            values = [longitude, latitude]
            if self._has_identifier:
                values.append(flat(feature.identifier))
            properties = _level(feature.properties)
            values.extend([flat(properties.get(key)) for key in keys])
            yield RawRow(feature.number, feature.number, values, trouble)

    def sample(self, most: int = 200) -> list[RawRow]:
        """The first entries that are points, at most so many."""
        found: list[RawRow] = []
        try:
            for row in self.rows():
                if row.trouble is None:
                    found.append(row)
                    if len(found) >= most:
                        break
        except CannotRead:
            # A file that breaks further on still has a start worth showing; rows() will say where it breaks.
            pass
        return found

    def _gather_keys(self) -> None:
        keys: dict[str, None] = {}
        count = 0
        try:
            for feature in islice(self._file.features(), _FEATURES_LOOKED_AT):
                count += 1
                keys.update(dict.fromkeys(_level(feature.properties)))
                self._has_identifier = self._has_identifier or feature.identifier is not None
                if len(keys) > MOST_COLUMNS:
                    raise TooLarge("too_many_columns", limit=MOST_COLUMNS)
        except TooLarge:
            raise
        except CannotRead:
            if count == 0:
                raise
        if count == 0:
            raise EmptyFile("no_rows")
        self._keys = list(keys)


def _level(properties: dict[str, Any], before: str = "", depth: int = 0) -> dict[str, Any]:
    """Properties within properties named with dots: {"size": {"dbh": 4}} gives "size.dbh"."""
    if not any(type(value) is dict for value in properties.values()) or depth > 4:
        return {before + key: value for key, value in properties.items()} if before else properties
    result: dict[str, Any] = {}
    for key, value in properties.items():
        if isinstance(value, dict):
            result.update(_level(value, f"{before}{key}.", depth + 1))
        else:
            result[before + key] = value
    return result


def _position(geometry: dict[str, Any] | None) -> tuple[str, str, Trouble | None]:
    if geometry is None:
        return "", "", None
    kind = geometry.get("type")
    place = geometry.get("coordinates")
    if kind == "MultiPoint" and isinstance(place, list):
        if len(place) > 1:
            return "", "", Trouble("several_places", {"count": str(len(place))})
        place = place[0] if place else []
    elif kind != "Point":
        return "", "", Trouble("not_a_point", {"shape": str(kind)[:40]})
    if not isinstance(place, list) or len(place) < 2:
        return "", "", None
    return flat(place[0]), flat(place[1]), None
