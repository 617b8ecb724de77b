"""A row of a town's tree file becomes a tree to list, or a reason why not."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from sugarbush.trees.reading.mapping import DateOrder, Mapping
from sugarbush.trees.reading.memo import Memo
from sugarbush.trees.reading.place import Box
from sugarbush.trees.reading.positions import read_degrees, read_position, wrong_with
from sugarbush.trees.reading.refusals import Refused, remark_sentence
from sugarbush.trees.reading.rows import RawRow
from sugarbush.trees.reading.seen import SeenNumbers
from sugarbush.trees.reading.site_words import Land, Site, land_of, site_of
from sugarbush.trees.reading.sizes import BLANK, Size, read_size
from sugarbush.trees.reading.species import SpeciesIndex
from sugarbush.trees.reading.words import shown

MOST_NUMBER_LETTERS = 64
MOST_ADDRESS_LETTERS = 200
MOST_SIDE_LETTERS = 40
MOST_NOTE_LETTERS = 2000
_SAME_PLACE_LIMIT = 500

Remark = tuple[str, dict[str, str]]
Reader = Callable[[RawRow], "TreeRow | Refused"]


@dataclass(slots=True)
class TreeRow:
    """A tree as the town lists it."""

    row: int
    line: int
    number: str
    """The town's own number, zeros kept. Where the file gives none, one made of the position, "at 43.65,-79.38"."""
    longitude_deg: float
    latitude_deg: float
    species_key: str
    """Botanical name in the species table; "Acer sp." where only the genus is sure."""
    species_as_given: str
    diameter_um: int | None
    size_as_given: str
    several_stems: bool
    """The size speaks of several stems, so it counts as not measured."""
    stems: int | None
    address: str
    side: str
    land: Land
    note: str
    surveyed: date | None
    remarks: tuple[Remark, ...] = ()

    @property
    def remark_sentences(self) -> list[str]:
        """What a person should know about the row, in the reader's language."""
        return [remark_sentence(code, values) for code, values in self.remarks]


class _Kind(NamedTuple):
    key: str
    as_given: str
    reason: str
    values: dict[str, str]
    remarks: tuple[Remark, ...]


def read_row(
    raw: RawRow, *, mapping: Mapping, columns: list[str], known: SpeciesIndex, box: Box | None = None
) -> TreeRow | Refused:
    """One row alone, for a preview or a test. A whole file is read with `compile_reader`, which also sees doubles."""
    return compile_reader(mapping=mapping, columns=columns, known=known, box=box)(raw)


def compile_reader(*, mapping: Mapping, columns: list[str], known: SpeciesIndex, box: Box | None = None) -> Reader:
    """A function that reads the rows of one file, in order; it remembers numbers to tell a second use.

    Raises ValueError when the mapping does not fit the columns; `Mapping.problems` says it in sentences.
    """
    if problems := mapping.problems(columns):
        raise ValueError(problems[0])
    # A cell that is always blank stands at the end, so that a column not mapped costs no question per row.
    blank = len(columns)
    place = {name: at for at, name in enumerate(columns)}
    place[""] = blank
    number_at, note_at, side_at = place[mapping.number], place[mapping.note], place[mapping.side]
    longitude_at, latitude_at, position_at = place[mapping.longitude], place[mapping.latitude], place[mapping.position]
    botanical_at, common_at, code_at = place[mapping.botanical], place[mapping.common], place[mapping.code]
    # Where no column tells whose land it is, the kind of site may: "Street", "Park".
    size_at, stems_at, land_at = place[mapping.size], place[mapping.stems], place[mapping.land or mapping.site]
    address_at, house_at, street_at = place[mapping.address], place[mapping.house], place[mapping.street]
    status_at, site_at, surveyed_at = place[mapping.status], place[mapping.site], place[mapping.surveyed]
    has_position = bool(mapping.position)
    order = mapping.position_order
    in_box = _inside(box)

    kinds = Memo(_kind_reader(known, mapping))
    sizes: Memo[str, Size] = Memo(_size_reader(mapping))
    stem_counts = Memo(read_stems)
    lands = Memo(land_of)
    sites = Memo(site_of)
    days: Memo[str, date | None] = Memo(_day_reader(mapping.date_order))
    sides = Memo(_side)
    seen = SeenNumbers()

    def read(raw: RawRow) -> TreeRow | Refused:
        row, line, values, trouble = raw
        values = [*values, ""]
        number = values[number_at].strip()
        if trouble is not None:
            return Refused(row, line, number[:MOST_NUMBER_LETTERS], trouble.code, trouble.values)
        remarks: tuple[Remark, ...] = ()

        for at in (status_at, site_at):
            if site := sites[values[at]]:
                if site != "dead":
                    return _refused(row, line, number, site, text=shown(values[at]))
                remarks = (("dead", {"text": shown(values[at])}),)
        kind = kinds[(values[botanical_at], values[common_at], values[code_at])]
        if kind.reason in ("stump", "vacant", "removed"):
            return Refused(row, line, number[:MOST_NUMBER_LETTERS], kind.reason, kind.values)

        if has_position and (pair := read_position(values[position_at], order)):
            east, north = pair
        else:
            east, north = values[longitude_at], values[latitude_at]
        try:
            longitude_deg, latitude_deg = float(east), float(north)
            good = in_box(longitude_deg, latitude_deg) and "_" not in east + north
        except ValueError:
            good = False
        if not good:
            degrees = _look_again(east, north, values[position_at], box)
            if isinstance(degrees, str):
                named = {"longitude": shown(east), "latitude": shown(north), "position": shown(values[position_at])}
                return _refused(row, line, number, degrees, **named)
            longitude_deg, latitude_deg = degrees

        if kind.reason:
            return Refused(row, line, number[:MOST_NUMBER_LETTERS], kind.reason, kind.values)
        size = sizes[values[size_at]]
        if size.problem:
            return _refused(row, line, number, size.problem, size=size.as_given, metres=size.metres)
        stems, several = stem_counts[values[stems_at]]
        several = size.several_stems or (several and size is not BLANK)
        if kind.remarks:
            remarks += kind.remarks
        if several:
            remarks += (("several_stems", {}),)
        elif size.is_range:
            remarks += (("size_range", {"size": size.as_given}),)

        longitude_deg, latitude_deg = round(longitude_deg, 7), round(latitude_deg, 7)
        if not number:
            number = _made_number(longitude_deg, latitude_deg, row, seen)
        elif len(number) > MOST_NUMBER_LETTERS:
            return _refused(row, line, number, "number_too_long", text=shown(number))
        elif first := seen.first_row(number, row):
            return _refused(row, line, number, "number_twice", text=shown(number), first=str(first))
        note = values[note_at]
        # Split and joined again, an address from two cells or two lines stands on one.
        address = values[address_at] or f"{values[house_at]} {values[street_at]}"
        return TreeRow(
            row, line, number, longitude_deg, latitude_deg, kind.key, kind.as_given,
            None if several else size.diameter_um, size.as_given, several, stems,
            " ".join(address.split())[:MOST_ADDRESS_LETTERS], sides[values[side_at]], lands[values[land_at]],
            note.strip()[:MOST_NOTE_LETTERS] if note else "", days[values[surveyed_at]], remarks,
        )  # fmt: skip

    return read


def _refused(row: int, line: int, number: str, reason: str, **values: str) -> Refused:
    return Refused(row, line, number[:MOST_NUMBER_LETTERS], reason, values)


def _inside(box: Box | None) -> Callable[[float, float], bool]:
    """The quick yes for a place that needs no second look."""
    if box is None:
        return lambda longitude_deg, latitude_deg: not wrong_with(longitude_deg, latitude_deg, None)
    west, south, east, north = box.west_deg, box.south_deg, box.east_deg, box.north_deg

    def inside(longitude_deg: float, latitude_deg: float) -> bool:
        # Nought, nought is what systems write for "no position", even where the box would hold it.
        return (
            west <= longitude_deg <= east
            and south <= latitude_deg <= north
            and (longitude_deg != 0 or latitude_deg != 0)
        )

    return inside


def _look_again(east: str, north: str, position: str, box: Box | None) -> tuple[float, float] | str:
    """Degrees after all (a decimal comma), or the reason code."""
    if not east.strip() or not north.strip():
        unread = position.strip() and not east.strip() and not north.strip() and "EMPTY" not in position.upper()
        return "position_unreadable" if unread else "coordinates_missing"
    longitude_deg, latitude_deg = read_degrees(east), read_degrees(north)
    if longitude_deg is None or latitude_deg is None:
        return "coordinates_not_numbers"
    return wrong_with(longitude_deg, latitude_deg, box) or (longitude_deg, latitude_deg)


def _kind_reader(known: SpeciesIndex, mapping: Mapping) -> Callable[[tuple[str, str, str]], _Kind]:
    def read(names: tuple[str, str, str]) -> _Kind:
        botanical, common, code = (" ".join(name.split()) for name in names)
        as_given = " / ".join(name for name in (botanical, common, code) if name)[:120]
        text = {"text": shown(as_given)}
        if not as_given:
            return _Kind("", "", "species_missing", {}, ())
        finding = known.look(botanical=botanical, common=common, code=code, code_list=mapping.code_list)
        if finding.species is None:
            site: Site = site_of(as_given)
            reason = site if site and site != "dead" else "species_unknown"
            return _Kind("", as_given, reason, text, ())
        remarks: tuple[Remark, ...] = ()
        if finding.doubt:
            remarks = ((finding.doubt, {**text, "genus": finding.species.common}),)
        return _Kind(finding.species.botanical, as_given, "", {}, remarks)

    return read


def _size_reader(mapping: Mapping) -> Callable[[str], Size]:
    def read(text: str) -> Size:
        return read_size(text, kind=mapping.size_kind, unit=mapping.size_unit, decimal=mapping.decimal)

    return read


def read_stems(text: str) -> tuple[int | None, bool]:
    """How many stems, where the text says, and whether they are several.

    >>> read_stems("3"), read_stems("multi-stem"), read_stems("")
    ((3, True), (None, True), (None, False))
    """
    bare = text.strip().casefold()
    if not bare:
        return None, False
    if match := re.match(r"(\d{1,3})(?:[.,]0+)?\b", bare):
        count = int(match[1])
        return (count, count > 1) if count else (None, False)
    several = bare.startswith(("multi", "several", "plusieurs", "mehr")) or bare in ("yes", "y", "true", "oui", "ja")
    return (None, True) if several else ((1, False) if bare.startswith("single") else (None, False))


def _day_reader(order: DateOrder) -> Callable[[str], date | None]:
    def read(text: str) -> date | None:
        match = re.match(r"\s*(\d{1,4})[-/. ](\d{1,2})[-/. ](\d{1,4})", text) or re.match(
            r"\s*(\d{4})(\d\d)(\d\d)", text
        )
        if match is None:
            return None
        first, middle, last = int(match[1]), int(match[2]), int(match[3])
        # A year of four figures in front is unmistakable, whatever order was chosen.
        if order == "ymd" or len(match[1]) == 4:
            year, month, day = first, middle, last
        elif order == "mdy":
            year, month, day = last, first, middle
        else:
            year, month, day = last, middle, first
        try:
            return date(year + 2000 if year < 80 else year, month, day) if year < 80 or year > 1800 else None
        except ValueError:
            return None

    return read


def _side(text: str) -> str:
    return " ".join(text.split())[:MOST_SIDE_LETTERS]


def _made_number(longitude_deg: float, latitude_deg: float, row: int, seen: SeenNumbers) -> str:
    """A number for a tree that has none: its position, with a count for trees listed at one place.

    The same file read again gives the same numbers, so nothing is doubled.
    """
    base = f"at {latitude_deg:.7f},{longitude_deg:.7f}"
    number = base
    for count in range(2, _SAME_PLACE_LIMIT):
        if not seen.first_row(number, row):
            return number
        number = f"{base} #{count}"
    return f"{base} row {row}"
