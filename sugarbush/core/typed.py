"""What a person typed, read as a quantity: "6.5", "6,5", "1 1/2", "1½ gal", "4 ft 6 in", "28 F"."""

import re
from decimal import ROUND_HALF_UP, Decimal, localcontext
from fractions import Fraction
from itertools import pairwise

from sugarbush.core.errors import NotANumber, OutOfRange, TwoReadings, UnknownUnit
from sugarbush.core.units import (
    G_PER,
    LEAST_C,
    ML_PER,
    MM_PER,
    MOST_C,
    MOST_G,
    MOST_ML,
    MOST_MM,
    USUAL_UNIT,
    Kind,
    System,
    from_c,
    plain,
)

LONGEST_TEXT = 40

_NAMES: dict[Kind, dict[str, str]] = {
    "volume": {
        **dict.fromkeys(("l", "ltr", "liter", "liters", "litre", "litres"), "L"),
        **dict.fromkeys(("ml", "milliliter", "milliliters", "millilitre", "millilitres"), "mL"),
        **dict.fromkeys(("gal", "gals", "gallon", "gallons", "us gal"), "gal"),
        **dict.fromkeys(("qt", "qts", "quart", "quarts"), "qt"),
        **dict.fromkeys(("pt", "pts", "pint", "pints"), "pt"),
        **dict.fromkeys(("fl oz", "floz", "fl. oz", "fluid ounce", "fluid ounces", "oz", "ounce", "ounces"), "fl oz"),
    },
    "length": {
        **dict.fromkeys(("cm", "centimeter", "centimeters", "centimetre", "centimetres"), "cm"),
        **dict.fromkeys(("mm", "millimeter", "millimeters", "millimetre", "millimetres"), "mm"),
        **dict.fromkeys(("m", "meter", "meters", "metre", "metres"), "m"),
        **dict.fromkeys(("in", "inch", "inches", '"', "''"), "in"),
        **dict.fromkeys(("ft", "foot", "feet", "'"), "ft"),
    },
    "temperature": {
        **dict.fromkeys(("c", "°c", "deg c", "degc", "celsius"), "°C"),
        **dict.fromkeys(("f", "°f", "deg f", "degf", "fahrenheit"), "°F"),
        **dict.fromkeys(("°", "deg", "degrees"), ""),
    },
    "mass": {
        **dict.fromkeys(("kg", "kgs", "kilo", "kilos", "kilogram", "kilograms"), "kg"),
        **dict.fromkeys(("g", "gr", "gram", "grams"), "g"),
        **dict.fromkeys(("lb", "lbs", "pound", "pounds"), "lb"),
        **dict.fromkeys(("oz", "ounce", "ounces"), "oz"),
    },
}
_FACTORS: dict[Kind, dict[str, Decimal]] = {"volume": ML_PER, "length": MM_PER, "mass": G_PER}
_RANGE: dict[Kind, tuple[Decimal, Decimal]] = {
    "volume": (Decimal(0), Decimal(MOST_ML)),
    "length": (Decimal(0), Decimal(MOST_MM)),
    "temperature": (LEAST_C, MOST_C),
    "mass": (Decimal(0), Decimal(MOST_G)),
}
_EXAMPLE: dict[Kind, dict[System, str]] = {
    "volume": {"metric": "6.5 L", "us": "1.7 gal"},
    "length": {"metric": "45.7 cm", "us": "18 in"},
    "temperature": {"metric": "3.5 °C", "us": "38 °F"},
    "mass": {"metric": "8.2 kg", "us": "18 lb"},
}
_VULGAR = {
    "½": "1/2", "⅓": "1/3", "⅔": "2/3", "¼": "1/4", "¾": "3/4", "⅕": "1/5", "⅖": "2/5", "⅗": "3/5", "⅘": "4/5",
    "⅙": "1/6", "⅚": "5/6", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8",
}  # fmt: skip
_SIGNS = str.maketrans(
    {"−": "-", "–": "-", "⁄": "/", "∕": "/", "″": '"', "”": '"', "“": '"', "′": "'", "’": "'", "º": "°"}
)
_NUMBER = re.compile(
    r"\s*(?:(?P<whole>[0-9]+)\s+)?(?P<top>[0-9]+)\s*/\s*(?P<bottom>[0-9]+)"
    r"|\s*(?P<decimal>[0-9]{1,3}(?: [0-9]{3})+(?:[.,][0-9]*)?|[0-9][0-9.,]*|[.,][0-9]+)"
)
_UNIT = re.compile(r"\s*([^\W\d_.]+(?:\.? [^\W\d_]+)?\.?|°\s*[A-Za-z]?|''|\"|')")


def _decimal(text: str, kind: Kind, system: System) -> Fraction:
    """Read digits with point or comma. A single comma before exactly three digits could be either: ask."""
    digits = text.replace(" ", "")
    comma, point = digits.count(","), digits.count(".")
    refusal = NotANumber(quantity=kind, value=text.strip(), example=_EXAMPLE[kind][system])
    if comma and point:
        mark = "," if digits.rfind(",") > digits.rfind(".") else "."
        other = "." if mark == "," else ","
        if digits.count(mark) > 1 or not re.fullmatch(rf"[0-9]{{1,3}}(\{other}[0-9]{{3}})+", digits.split(mark)[0]):
            raise refusal
        return Fraction(digits.replace(other, "").replace(mark, ".").rstrip("."))
    if comma + point > 1:
        mark = "," if comma else "."
        if not re.fullmatch(rf"[0-9]{{1,3}}(\{mark}[0-9]{{3}})+", digits):
            raise refusal
        return Fraction(digits.replace(mark, ""))
    if re.fullmatch(r"[1-9][0-9]{0,2},[0-9]{3}", digits):
        first, second = digits.replace(",", ""), digits.replace(",", ".")
        raise TwoReadings(quantity=kind, value=text.strip(), first=first, second=second)
    return Fraction("0" + digits.replace(",", ".").rstrip("."))


def _number(found: re.Match[str], kind: Kind, system: System) -> Fraction:
    if found["decimal"] is not None:
        return _decimal(found["decimal"], kind, system)
    bottom = int(found["bottom"])
    if bottom == 0:
        raise NotANumber(quantity=kind, value=found[0].strip(), example=_EXAMPLE[kind][system])
    return int(found["whole"] or 0) + Fraction(int(found["top"]), bottom)


def _unit_name(word: str, kind: Kind) -> str:
    name = " ".join(word.lower().split())
    names = _NAMES[kind]
    for spelled in (name, name.rstrip("."), name.replace("° ", "°")):
        if spelled in names:
            return names[spelled]
    known = ("°C", "°F") if kind == "temperature" else tuple(_FACTORS[kind])
    raise UnknownUnit(quantity=kind, value=word.strip(), known=", ".join(known))


def _pieces(text: str, kind: Kind, system: System) -> list[tuple[Fraction, str]]:
    """Split "4 ft 6 in" into its numbers and units; one bare number has the unit ""."""
    pieces: list[tuple[Fraction, str]] = []
    at = 0
    while at < len(text):
        found = _NUMBER.match(text, at)
        if found is None:
            raise NotANumber(quantity=kind, value=text, example=_EXAMPLE[kind][system])
        at = found.end()
        unit = _UNIT.match(text, at)
        if unit is not None:
            at = unit.end()
        elif text[at:].strip():
            raise NotANumber(quantity=kind, value=text, example=_EXAMPLE[kind][system])
        pieces.append((_number(found, kind, system), _unit_name(unit[1], kind) if unit else ""))
    return pieces


def _sum_in_base(pieces: list[tuple[Fraction, str]], text: str, kind: Kind, system: System) -> Fraction:
    factors = {name: Fraction(factor) for name, factor in _FACTORS[kind].items()}
    sizes = [factors[unit or USUAL_UNIT[kind][system]] for _, unit in pieces]
    named = all(unit for _, unit in pieces)
    falling = all(later < earlier for earlier, later in pairwise(sizes))
    if len(pieces) > 1 and not (named and falling):
        raise NotANumber(quantity=kind, value=text, example=_EXAMPLE[kind][system])
    return sum((number * size for (number, _), size in zip(pieces, sizes, strict=True)), Fraction(0))


def parse_quantity(
    text: str,
    *,
    kind: Kind,
    system: System,
    low: Decimal | int | None = None,
    high: Decimal | int | None = None,
) -> Decimal:
    """Read what a person typed; a bare number is in the usual unit of their system.

    text: at most 40 characters; point or comma, fractions, with or without a unit of either system.
    kind: the quantity.  system: "metric" (L, cm, °C, kg) or "us" (gal, in, °F, lb).
    low, high: narrower limits in the base unit, both allowed; without them 0 to 1,000,000 L, 1 km, 1,000 t, and
    -80 to 200 °C. Returns mL, mm, °C or g, not rounded.
    Raises NotANumber, TwoReadings, UnknownUnit, OutOfRange (its numbers in the person's usual unit).

    >>> parse_quantity("6,5", kind="volume", system="metric")
    Decimal('6500')
    >>> parse_quantity('18"', kind="length", system="metric")
    Decimal('457.2')
    >>> parse_quantity("1½", kind="volume", system="us")
    Decimal('5678.117676')
    """
    result = _read(text, kind=kind, system=system)
    _check(result, kind=kind, system=system, low=low, high=high)
    return result


def _read(text: str, *, kind: Kind, system: System) -> Decimal:
    """What was typed, in the base unit, not yet held against any limit."""
    given = text.strip()
    cleaned = given.translate(_SIGNS)
    for sign, fraction in _VULGAR.items():
        cleaned = cleaned.replace(sign, f" {fraction} ")
    cleaned = " ".join(cleaned.split())
    if not cleaned or len(given) > LONGEST_TEXT:
        raise NotANumber(quantity=kind, value=given[:LONGEST_TEXT], example=_EXAMPLE[kind][system])
    negative = cleaned.startswith("-")
    pieces = _pieces(cleaned[1:] if cleaned[0] in "+-" else cleaned, kind, system)
    if kind == "temperature":
        base = _celsius(pieces, given, system, negative)
    else:
        size = _sum_in_base(pieces, given, kind, system)
        base = -size if negative else size
    return Decimal(base.numerator) / Decimal(base.denominator)


def _celsius(pieces: list[tuple[Fraction, str]], text: str, system: System, negative: bool) -> Fraction:
    if len(pieces) != 1:
        raise NotANumber(quantity="temperature", value=text, example=_EXAMPLE["temperature"][system])
    number, unit = pieces[0]
    degrees = -number if negative else number
    in_fahrenheit = (unit or USUAL_UNIT["temperature"][system]) == "°F"
    return (degrees - 32) * Fraction(5, 9) if in_fahrenheit else degrees


def _rounded(number: Decimal, step: Decimal) -> Decimal:
    """To the nearest step, whatever fits into the longest text: the usual 28 figures are fewer than one can type."""
    with localcontext(prec=100):
        return number.quantize(step, rounding=ROUND_HALF_UP)


def _check(
    value: Decimal, *, kind: Kind, system: System, low: Decimal | int | None, high: Decimal | int | None
) -> None:
    least, most = _RANGE[kind]
    least = least if low is None else max(least, Decimal(low))
    most = most if high is None else min(most, Decimal(high))
    if least <= value <= most:
        return
    unit = USUAL_UNIT[kind][system]

    def shown(base: Decimal) -> str:
        number = from_c(base, unit) if kind == "temperature" else base / _FACTORS[kind][unit]
        return plain(_rounded(number, Decimal("0.01")))

    raise OutOfRange(quantity=kind, value=shown(value), low=shown(least), high=shown(most), unit=unit)


def _stored(text: str, *, kind: Kind, system: System, low: int, high: int, step: Decimal = Decimal(1)) -> Decimal:
    """Read and round to what is stored, then hold it against the limits.

    Rounded first: a limit of 8,000 mL reads "2.1134 gal", and who types that means the limit, not 0.09 mL more.
    """
    value = _rounded(_read(text, kind=kind, system=system), step)
    _check(value, kind=kind, system=system, low=low, high=high)
    return value


def parse_volume_ml(text: str, system: System, *, low_ml: int = 0, high_ml: int = MOST_ML) -> int:
    """Whole millilitres of a typed volume.  Range and errors as parse_quantity.

    >>> parse_volume_ml("5 gal", "metric")
    18927
    """
    return int(_stored(text, kind="volume", system=system, low=low_ml, high=high_ml))


def parse_length_mm(text: str, system: System, *, low_mm: int = 0, high_mm: int = MOST_MM) -> int:
    """Whole millimetres of a typed height or distance.  Range and errors as parse_quantity.

    >>> parse_length_mm("3 ft 6 in", "us")
    1067
    """
    return int(_stored(text, kind="length", system=system, low=low_mm, high=high_mm))


def parse_length_um(text: str, system: System, *, low_mm: int = 0, high_mm: int = MOST_MM) -> int:
    """Whole micrometres of a typed trunk size or bit.  Limits in mm; errors as parse_quantity.

    >>> parse_length_um("5/16 in", "metric")
    7938
    """
    length_mm = _stored(text, kind="length", system=system, low=low_mm, high=high_mm, step=Decimal("0.001"))
    return int(length_mm * 1000)


def parse_temperature_c(text: str, system: System) -> Decimal:
    """A typed temperature in °C with 1 decimal, as it is stored.  Range and errors as parse_quantity.

    >>> parse_temperature_c("28 F", "metric")
    Decimal('-2.2')
    """
    return parse_quantity(text, kind="temperature", system=system).quantize(Decimal("0.1"), rounding=ROUND_HALF_UP)


def parse_mass_g(text: str, system: System, *, low_g: int = 0, high_g: int = MOST_G) -> int:
    """Whole grams of a typed mass.  Range and errors as parse_quantity.

    >>> parse_mass_g("42 lb", "metric")
    19051
    """
    return int(_stored(text, kind="mass", system=system, low=low_g, high=high_g))
