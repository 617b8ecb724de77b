"""A town's street lines, the base of its map."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any

from sugarbush.trees.reading.errors import CannotRead, WrongKind
from sugarbush.trees.reading.files import read_head
from sugarbush.trees.reading.geojson import Feature, FeatureFile, flat
from sugarbush.trees.reading.guess_words import heading_words
from sugarbush.trees.reading.kinds import kind_of
from sugarbush.trees.reading.place import Box
from sugarbush.trees.reading.words import gettext as _
from sugarbush.trees.reading.words import shown

MOST_NAME_LETTERS = 120
MOST_KIND_LETTERS = 40
MOST_POINTS = 100_000
_NAMES = (
    "name", "street name", "street", "full name", "fullname", "road name", "st name", "label", "strname", "rue", "nom",
    "nom rue", "nom voie", "strasse", "strassenname", "linear name full", "linear name", "name full",
)  # fmt: skip
_KINDS = ("kind", "highway", "road class", "class", "fclass", "type", "road type", "street type", "feature code desc")


@dataclass(frozen=True, slots=True)
class StreetRow:
    """One unbroken line of a street. A street in several pieces gives several rows."""

    row: int
    name: str
    kind: str
    points: tuple[tuple[float, float], ...]
    """(longitude, latitude) in degrees, at least two."""


@dataclass(frozen=True, slots=True)
class StreetRefused:
    """An entry, or a piece of one, that is no street line."""

    row: int
    reason_code: str
    values: dict[str, str]

    @property
    def sentence(self) -> str:
        """What is wrong, in the reader's language."""
        return street_refusal_sentences()[self.reason_code] % self.values


def street_refusal_sentences() -> dict[str, str]:
    """Every reason with its sentence, values still to be filled in."""
    return {
        "not_a_line": _("The shape is a %(shape)s, not a line. Bring streets as lines."),
        "no_line": _("This entry has no line. Nothing to do if it is not a street."),
        "bad_points": _(
            "The line of “%(name)s” has a place that is not on earth. Save it in longitude and latitude (WGS 84)."
        ),
        "outside_box": _("“%(name)s” is outside the programme's box. Widen the box to bring it in."),
    }


class StreetFile:
    """A street file, opened. `read_bytes` of `size_bytes` tells how far the reading has come."""

    def __init__(self, path: str | Path) -> None:
        place = Path(path)
        head = read_head(place)
        if kind_of(head) != "geojson":
            raise WrongKind("lines_as_csv")
        self._file = FeatureFile(place, head)
        self.size_bytes = self._file.size_bytes

    @property
    def read_bytes(self) -> int:
        return self._file.read_bytes

    def rows(self, *, box: Box | None = None) -> Iterator[StreetRow | StreetRefused]:
        """Every line in order. With a box, lines that never enter it are refused. May raise CannotRead on the way."""
        for feature in self._file.features():
            yield from _lines(feature, box)


def read_streets(path: str | Path, *, box: Box | None = None) -> Iterator[StreetRow | StreetRefused]:
    """Opens a GeoJSON file of street lines and gives its lines one by one. Raises CannotRead."""
    return StreetFile(path).rows(box=box)


def _lines(feature: Feature, box: Box | None) -> Iterator[StreetRow | StreetRefused]:
    geometry = feature.geometry or {}
    shape, lines = geometry.get("type"), geometry.get("coordinates")
    if shape == "LineString":
        lines = [lines]
    elif geometry and shape != "MultiLineString":
        yield StreetRefused(feature.number, "not_a_line", {"shape": shown(str(shape), most=40)})
        return
    if not isinstance(lines, list) or not lines:
        yield StreetRefused(feature.number, "no_line", {})
        return
    named = {heading_words(key): key for key in feature.properties}
    name = _said(feature.properties, named, _NAMES)[:MOST_NAME_LETTERS]
    kind = _said(feature.properties, named, _KINDS)[:MOST_KIND_LETTERS]
    for line in lines:
        points = _points(line)
        if points is None:
            yield StreetRefused(feature.number, "bad_points", {"name": shown(name)})
        elif len(points) < 2:
            yield StreetRefused(feature.number, "no_line", {})
        elif box is not None and not _meets(points, box):
            yield StreetRefused(feature.number, "outside_box", {"name": shown(name)})
        else:
            yield StreetRow(feature.number, name, kind, points)


def _said(properties: dict[str, Any], named: dict[str, str], wanted: tuple[str, ...]) -> str:
    for words in wanted:
        if words in named and (text := " ".join(flat(properties[named[words]]).split())):
            return text
    return ""


def _points(line: object) -> tuple[tuple[float, float], ...] | None:
    """The places of a line without immediate repeats; None when one of them is not on earth."""
    if not isinstance(line, list) or len(line) > MOST_POINTS:
        return None
    points: list[tuple[float, float]] = []
    for place in line:
        if not isinstance(place, list) or len(place) < 2:
            return None
        east, north = place[0], place[1]
        if not isinstance(east, int | float | Decimal) or not isinstance(north, int | float | Decimal):
            return None
        if not (-180 <= east <= 180 and -90 <= north <= 90):
            return None
        point = (round(float(east), 7), round(float(north), 7))
        if not points or points[-1] != point:
            points.append(point)
    return tuple(points)


def _meets(points: tuple[tuple[float, float], ...], box: Box) -> bool:
    """Whether the line's own box touches the programme's: quick, and never drops a street that crosses it."""
    easts = [east for east, _ in points]
    norths = [north for _, north in points]
    return (
        min(easts) <= box.east_deg
        and max(easts) >= box.west_deg
        and min(norths) <= box.north_deg
        and max(norths) >= box.south_deg
    )


__all__ = ["CannotRead", "StreetFile", "StreetRefused", "StreetRow", "read_streets"]
