"""Which column says what, guessed from headings and values. A person corrects it by hand."""

from collections.abc import Callable
from typing import cast

from sugarbush.trees.reading.column_facts import ColumnFacts, day_order, facts_of
from sugarbush.trees.reading.guess_words import (
    GIRTH_WORDS,
    PASSING_NUMBERS,
    SIZE_UNITS,
    STEADY_NUMBERS,
    heading_score,
    heading_words,
)
from sugarbush.trees.reading.mapping import COLUMN_FIELDS, Mapping, PositionOrder, SizeUnit
from sugarbush.trees.reading.place import NORTHERNMOST_TOWN_DEG, Box
from sugarbush.trees.reading.positions import read_position
from sugarbush.trees.reading.rows import RawRow
from sugarbush.trees.reading.species import CodeList, SpeciesIndex, built_in_index

_LEAST_SCORE = 5
# When two fields want one column at the same score, the earlier field has it.
_FIELDS = (
    "position", "longitude", "latitude", "botanical", "common", "code", "number", "size", "stems", "surveyed",
    "house", "street", "address", "side", "status", "site", "land", "note",
)  # fmt: skip


def guess_columns(
    columns: list[str], sample: list[RawRow], *, known: SpeciesIndex | None = None, box: Box | None = None
) -> Mapping:
    """The likeliest mapping; fields the file does not seem to have stay "".

    sample: rows from the start of the file, some 200.  box: the programme's, to tell longitude from latitude.
    """
    facts = facts_of(columns, sample, known or built_in_index())
    chosen = _choose(facts)
    by_name = {one.name: one for one in facts}
    unsure: list[str] = []

    order = _order_position(chosen, by_name, box)
    _order_degrees(chosen, facts, box, unsure)
    size_kind, size_unit = "diameter", "cm"
    if chosen["size"]:
        size = by_name[chosen["size"]]
        size_kind = "girth" if any(word in heading_words(size.name) for word in GIRTH_WORDS) else "diameter"
        size_unit, sure = _unit_of(size, girth=size_kind == "girth")
        if not sure:
            unsure.append("size_unit")
    code_list = _code_list(by_name.get(chosen["code"]))
    if chosen["code"] and not code_list and not (chosen["botanical"] or chosen["common"]):
        unsure.append("code_list")
    numeric = [by_name[chosen[field]] for field in ("size", "longitude", "latitude") if chosen[field]]
    surveyed = by_name.get(chosen["surveyed"])
    return Mapping(
        **chosen,
        size_kind="girth" if size_kind == "girth" else "diameter",
        size_unit=cast(SizeUnit, size_unit),
        decimal="," if any(one.comma_share > 0.2 for one in numeric) else ".",
        position_order=order,
        date_order=day_order(surveyed.texts) if surveyed else "ymd",
        code_list=code_list,
        unsure=tuple(unsure),
    )


def _choose(facts: list[ColumnFacts]) -> dict[str, str]:
    """The best pairs of field and column first; no column serves two fields."""
    scores: list[tuple[float, int, int, str, str]] = [
        (score + _VALUES[field](one), -_FIELDS.index(field), -at, field, one.name)
        for at, one in enumerate(facts)
        for field in _FIELDS
        if (score := heading_score(field, one.name)) or field in _TOLD_BY_VALUES
    ]
    chosen = dict.fromkeys(COLUMN_FIELDS, "")
    taken: set[str] = set()
    for total, _, _, field, name in sorted(scores, reverse=True):
        if total >= _LEAST_SCORE and not chosen[field] and name not in taken:
            chosen[field] = name
            taken.add(name)
    return chosen


def _number(one: ColumnFacts) -> float:
    words = heading_words(one.name)
    if one.distinct_share < 0.9 or one.fine_share > 0.5 or one.position_share > 0.5:
        return -20
    steady = 2 if any(words.startswith(word) for word in STEADY_NUMBERS) else 0
    return steady - (3 if words in PASSING_NUMBERS else 0)


def _botanical(one: ColumnFacts) -> float:
    return _told(one.botanical_share)


def _common(one: ColumnFacts) -> float:
    return _told(one.common_share)


def _code(one: ColumnFacts) -> float:
    return _told(one.code_share) if one.words_share < 0.2 else -20


def _told(share: float) -> float:
    """A heading alone may lie ("species" holds codes); values decide, and can do so alone."""
    return 7 if share > 0.5 else 2 if share > 0.2 else -3


def _size(one: ColumnFacts) -> float:
    if not one.filled:
        return -1
    return 2 if one.number_share > 0.6 and min(one.numbers) >= 0 else -20


def _degrees(limit: float) -> Callable[[ColumnFacts], float]:
    def score(one: ColumnFacts) -> float:
        if one.number_share < 0.5:
            return -20
        return 3 if one.fine_share > 0.3 and abs(one.middle) <= limit else 0 if abs(one.middle) <= limit else -6

    return score


def _position(one: ColumnFacts) -> float:
    return 8 if one.position_share > 0.6 else -20


def _day(one: ColumnFacts) -> float:
    return 2 if one.day_share > 0.5 else -20 if one.filled else 0


def _texts(one: ColumnFacts) -> float:
    return -20 if one.position_share > 0.3 or one.fine_share > 0.5 else 0


def _street(one: ColumnFacts) -> float:
    return -20 if one.number_share > 0.9 and one.filled else _texts(one)


def _address(one: ColumnFacts) -> float:
    if one.position_share > 0.3 or one.fine_share > 0.3 or one.number_share > 0.8:
        return -20
    return 1 if one.words_share > 0.5 else 0


def _house(one: ColumnFacts) -> float:
    with_figures = sum(text[0].isdigit() for text in one.texts)
    return -20 if with_figures * 2 < len(one.texts) or one.words_share > 0.5 else 1


def _stems(one: ColumnFacts) -> float:
    return -20 if one.numbers and (max(one.numbers) > 60 or one.fine_share > 0) else 1


def _status(one: ColumnFacts) -> float:
    return 3 if one.site_share > 0 else -20 if one.number_share > 0.9 and one.filled else 0


def _short_words(one: ColumnFacts) -> float:
    return -20 if one.filled and (one.number_share > 0.9 or (one.distinct_share > 0.9 and one.filled > 20)) else 0


_VALUES: dict[str, Callable[[ColumnFacts], float]] = {
    "position": _position, "longitude": _degrees(180), "latitude": _degrees(90), "botanical": _botanical,
    "common": _common, "code": _code, "number": _number, "size": _size, "stems": _stems, "surveyed": _day,
    "house": _house, "street": _street, "address": _address, "side": _short_words, "status": _status, "site": _status,
    "land": _short_words, "note": _texts,
}  # fmt: skip
_TOLD_BY_VALUES = frozenset({"position", "botanical", "common", "code"})


def _order_position(chosen: dict[str, str], by_name: dict[str, ColumnFacts], box: Box | None) -> PositionOrder:
    """The order of a bare pair in the position column."""
    if not chosen["position"]:
        return "lon lat"
    one = by_name[chosen["position"]]
    pairs = [pair for text in one.texts if (pair := read_position(text, "lon lat"))]
    first = sorted(float(pair[0]) for pair in pairs)[len(pairs) // 2]
    second = sorted(float(pair[1]) for pair in pairs)[len(pairs) // 2]
    if any(text.lstrip().upper().startswith(("POINT", "MULTIPOINT", "SRID", "{")) for text in one.texts):
        return "lon lat"
    if box is not None and (box.holds(first, second) or box.holds(second, first)):
        return "lon lat" if box.holds(first, second) else "lat lon"
    if "lat" in heading_words(one.name) and "lon" in heading_words(one.name):
        words = heading_words(one.name)
        return "lat lon" if words.index("lat") < words.index("lon") else "lon lat"
    return "lat lon" if _is_turned(first, second) else "lon lat"


def _order_degrees(chosen: dict[str, str], facts: list[ColumnFacts], box: Box | None, unsure: list[str]) -> None:
    """Longitude and latitude by their values, where headings say nothing or have them the wrong way round."""
    if chosen["position"] and not (chosen["longitude"] and chosen["latitude"]):
        chosen["longitude"] = chosen["latitude"] = ""
        return
    # Two columns of degrees say which is which; a pair in one cell has to be guessed.
    chosen["position"] = ""
    if not (chosen["longitude"] and chosen["latitude"]):
        taken = {name for name in chosen.values() if name}
        fine = [one for one in facts if one.fine_share > 0.6 and abs(one.middle) <= 180 and one.name not in taken]
        known = [one for one in facts if one.name in (chosen["longitude"], chosen["latitude"])]
        pair = (known + fine)[:2]
        if len(pair) < 2:
            return
        chosen["longitude"], chosen["latitude"] = pair[0].name, pair[1].name
        unsure += ["longitude", "latitude"]
    by_name = {one.name: one for one in facts}
    east, north = by_name[chosen["longitude"]].middle, by_name[chosen["latitude"]].middle
    told_by_box = box is not None and (box.holds(east, north) or box.holds(north, east))
    turned = box.holds(north, east) and not box.holds(east, north) if box is not None and told_by_box else False
    if turned or (not told_by_box and _is_turned(east, north, headed="longitude" not in unsure)):
        chosen["longitude"], chosen["latitude"] = chosen["latitude"], chosen["longitude"]
        unsure += [field for field in ("longitude", "latitude") if field not in unsure]


def _is_turned(east: float, north: float, *, headed: bool = False) -> bool:
    """Whether what was taken for longitude and latitude must be the other way round.

    headed: the headings name them, so only the impossible turns them: a latitude where no town stands.
    """
    if abs(north) > NORTHERNMOST_TOWN_DEG:
        return abs(east) <= NORTHERNMOST_TOWN_DEG
    if headed or abs(east) > NORTHERNMOST_TOWN_DEG:
        return False
    # Both could be latitudes. Maple country lies north of the equator: a negative one is the longitude;
    # with two positive ones Europe is likelier, where the latitude is the larger.
    if (east < 0) != (north < 0):
        return north < 0
    return east > north


def _unit_of(size: ColumnFacts, *, girth: bool) -> tuple[str, bool]:
    """The unit, and whether it is said (in the heading or the cells) or only likely from how large the numbers are."""
    for word in heading_words(size.name).split():
        if word in SIZE_UNITS:
            return SIZE_UNITS[word], True
    if size.unit:
        return size.unit, True
    large = size.at_share(0.9)
    # Nine street trees in ten are under about 30 in (75 cm) across, hardly a town's tenth is under 12 in (30 cm):
    # common practice, no source. The limits lie between what inches, centimetres and millimetres would give.
    limits = (4, 120, 700) if girth else (1.2, 40, 220)
    unit = "m" if large < limits[0] else "in" if large < limits[1] else "cm" if large < limits[2] else "mm"
    return (unit if size.numbers else "cm"), False


def _code_list(code: ColumnFacts | None) -> CodeList:
    """ACSA1 stands only in street lists, ACSA3 only among PLANTS symbols; ACSA2 in both, with two meanings."""
    if code is None:
        return ""
    codes = {text.upper() for text in code.texts}
    if "ACSA1" in codes and "ACSA3" not in codes:
        return "street"
    return "plants" if "ACSA3" in codes and "ACSA1" not in codes else ""
