"""A trunk's size as towns write it: "18", "18 in", "45,5 cm", "10/12/8", "12-18"."""

import re
from decimal import Decimal, InvalidOperation
from typing import Literal, NamedTuple

from sugarbush.core.trunk import size_as_diameter_um
from sugarbush.core.units import from_um, plain, to_um
from sugarbush.trees.reading.mapping import SizeKind, SizeUnit
from sugarbush.trees.reading.words import word_set

# Above this the unit is wrong, not the tree big: the thickest street trees stay well below 4 m across.
MOST_DIAMETER_UM = 4_000_000

_BLANK = word_set("- -- . ? n/a na nan nd none null nil unknown unk x unmeasured")
_BLANK_PHRASES = frozenset({"not measured", "not recorded", "no data"})
_UNITS: dict[str, SizeUnit] = {
    "in": "in", "in.": "in", "inch": "in", "inches": "in", '"': "in", "″": "in", "”": "in", "''": "in",
    "cm": "cm", "cm.": "cm", "mm": "mm", "mm.": "mm", "m": "m", "m.": "m",
}  # fmt: skip
_UNIT = re.compile(
    r"""(?P<rest>.*?)\s*(?P<unit>in\.?|inch(?:es)?|cm\.?|mm\.?|m\.?|"|″|”|'')?\Z""", re.IGNORECASE | re.DOTALL
)
_RANGE = re.compile(r"(?:[<>≤≥]=?\s*[\d.,]+|[\d.,]+\s*\+|[\d.,]+\s*(?:-|–|—|to|bis|à)\s*[\d.,]+)\Z")
_SEVERAL = re.compile(r"\s*(?:[/;&+]|,\s+|\band\b|\s)\s*")
_TIMES = re.compile(r"\d+\s*[x×@]\s*[\d.,]+\Z", re.IGNORECASE)
_THOUSANDS = {".": re.compile(r"\d{1,3}(,\d{3})+(\.\d+)?\Z"), ",": re.compile(r"\d{1,3}(\.\d{3})+(,\d+)?\Z")}

Problem = Literal["", "diameter_zero", "diameter_negative", "diameter_absurd", "diameter_not_a_number"]


class Size(NamedTuple):
    """A size read: what it is in micrometres across, how it was given, and what is odd about it."""

    diameter_um: int | None
    as_given: str
    """"18 in across", "141 cm round"; "" for a blank."""
    several_stems: bool = False
    is_range: bool = False
    problem: Problem = ""
    metres: str = ""


BLANK = Size(None, "")


def read_size(text: str, *, kind: SizeKind, unit: SizeUnit, decimal: str) -> Size:
    """What a cell says of the trunk.

    A unit written in the cell rules over `unit`. Sizes of several stems and ranges are no measurement
    of one trunk, so they give no diameter. A girth is divided by pi and rounded down (core.trunk).

    >>> read_size("18", kind="diameter", unit="in", decimal=".")
    Size(diameter_um=457200, as_given='18 in across', several_stems=False, is_range=False, problem='', metres='')
    >>> read_size("141", kind="girth", unit="cm", decimal=".").diameter_um
    448816
    """
    given = " ".join(text.split())
    if not given or given.casefold() in _BLANK or given.casefold() in _BLANK_PHRASES:
        return BLANK
    match = _UNIT.match(given)
    bare, written = (match["rest"], match["unit"]) if match else (given, None)
    unit = _UNITS[written.casefold()] if written else unit
    way = "across" if kind == "diameter" else "round"
    value = to_decimal(bare, decimal)
    if value is None:
        if _RANGE.match(bare):
            return Size(None, f"{bare} {unit} {way}"[:60], is_range=True)
        pieces = [piece for piece in _SEVERAL.split(bare) if piece]
        if _TIMES.match(bare) or (len(pieces) > 1 and all(to_decimal(piece, decimal) for piece in pieces)):
            return Size(None, f"{bare} {unit} {way}"[:60], several_stems=True)
        return Size(None, given[:60], problem="diameter_not_a_number")
    as_given = f"{plain(value)} {unit} {way}"
    if value <= 0:
        return Size(None, as_given, problem="diameter_negative" if value else "diameter_zero")
    length_um = to_um(value, unit) if value < 100_000 else MOST_DIAMETER_UM * 4
    if length_um > MOST_DIAMETER_UM * (1 if kind == "diameter" else 3.1416):
        across = length_um if kind == "diameter" else int(length_um / 3.1416)
        metres = plain(from_um(across, "m").quantize(Decimal("0.1")))
        return Size(None, as_given[:60], problem="diameter_absurd", metres=metres)
    if length_um < 1_000:
        # Less than a millimetre is a nought in disguise, "0.0001".
        return Size(None, as_given[:60], problem="diameter_zero")
    diameter_um = size_as_diameter_um(length_um, "across" if kind == "diameter" else "round")
    return Size(diameter_um, as_given)


def to_decimal(text: str, decimal: str) -> Decimal | None:
    """The number a text writes with this decimal mark, or None.

    >>> to_decimal("1.234,5", ","), to_decimal("45,5", "."), to_decimal("1,234.5", ".")
    (Decimal('1234.5'), None, Decimal('1234.5'))
    """
    bare = text.strip().replace("\u00a0", "").replace("\u202f", "").replace("’", "")
    if _THOUSANDS[decimal].match(bare):
        bare = bare.replace("," if decimal == "." else ".", "")
    if decimal == "," and bare.count(",") == 1:
        bare = bare.replace(",", ".")
    if "_" in bare or " " in bare:
        return None
    try:
        value = Decimal(bare)
    except InvalidOperation:
        return None
    # 1e999999999 is short to write and a gigabyte to write out.
    return value if value.is_finite() and abs(value.adjusted()) <= 20 else None
