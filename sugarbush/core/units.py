"""One unit inside, the person's units outside: the only place where a unit is changed.

Stored: millilitres, millimetres (micrometres for trunk and bit), grams, degrees Celsius. Exact arithmetic with
``Decimal``; a number is rounded once, half up, when it becomes a stored integer or a shown text.
Factors are exact by definition: 1 inch = 25.4 mm, 1 US gallon = 231 cubic inches = 3785.411784 mL, 1 pound =
453.59237 g (NIST Handbook 44, appendix C, not opened; the same in scipy.constants [C]).
"""

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import Literal

from sugarbush.core.errors import OutOfRange, UnknownUnit

System = Literal["us", "metric"]
Kind = Literal["volume", "length", "temperature", "mass"]

ML_PER = {
    "L": Decimal(1000),
    "mL": Decimal(1),
    "gal": Decimal("3785.411784"),
    "qt": Decimal("946.352946"),
    "pt": Decimal("473.176473"),
    "fl oz": Decimal("29.5735295625"),
}
MM_PER = {
    "cm": Decimal(10),
    "mm": Decimal(1),
    "m": Decimal(1000),
    "in": Decimal("25.4"),
    "ft": Decimal("304.8"),
}
G_PER = {
    "kg": Decimal(1000),
    "g": Decimal(1),
    "lb": Decimal("453.59237"),
    "oz": Decimal("28.349523125"),
}

# The unit a bare number means, and the unit a number is shown in.
USUAL_UNIT: dict[Kind, dict[System, str]] = {
    "volume": {"metric": "L", "us": "gal"},
    "length": {"metric": "cm", "us": "in"},
    "temperature": {"metric": "°C", "us": "°F"},
    "mass": {"metric": "kg", "us": "lb"},
}

# Beyond these a typing slip is certain: a million litres, a kilometre, a thousand tonnes.
MOST_ML = 1_000_000_000
MOST_MM = 1_000_000
MOST_G = 1_000_000_000
LEAST_C = Decimal(-80)
MOST_C = Decimal(200)


def _rounded(value: Decimal, places: int) -> Decimal:
    quantum = Decimal(1).scaleb(-places)
    result = value.quantize(quantum, rounding=ROUND_HALF_UP)
    return abs(result) if result == 0 else result  # no "-0.00"


def _whole(value: Decimal) -> int:
    return int(value.quantize(Decimal(1), rounding=ROUND_HALF_UP))


def _factor(table: dict[str, Decimal], unit: str, quantity: str) -> Decimal:
    try:
        return table[unit]
    except KeyError:
        raise UnknownUnit(quantity=quantity, value=unit, known=", ".join(table)) from None


def _to_base(value: Decimal, unit: str, table: dict[str, Decimal], most: int, quantity: str) -> Decimal:
    factor = _factor(table, unit, quantity)
    # Held against the limit as it will be stored: the limit's own text in gallons may say a hair more.
    if not value.is_finite() or value < 0 or value * factor > 2 * most or _whole(value * factor) > most:
        high = _rounded(Decimal(most) / factor, 0)
        raise OutOfRange(quantity=quantity, value=value, low=0, high=high, unit=unit)
    return value * factor


def to_ml(value: Decimal, unit: str) -> int:
    """Whole millilitres of a volume given in ``unit``.

    value: 0 to 1,000,000 L.  unit: "L", "mL", "gal" (US liquid), "qt", "pt", "fl oz".
    Raises UnknownUnit, OutOfRange.  Source: exact definitions (module docstring).

    >>> to_ml(Decimal(5), "gal")
    18927
    >>> to_ml(Decimal("6.5"), "L")
    6500
    """
    return _whole(_to_base(value, unit, ML_PER, MOST_ML, "volume"))


def from_ml(volume_ml: int, unit: str) -> Decimal:
    """A stored volume in another unit, not rounded.

    volume_ml: any whole number, negative for a difference.  unit: as for to_ml.  Raises UnknownUnit.

    >>> from_ml(18927, "L")
    Decimal('18.927')
    """
    return Decimal(volume_ml) / _factor(ML_PER, unit, "volume")


def to_mm(value: Decimal, unit: str) -> int:
    """Whole millimetres of a length.  value: 0 to 1 km.  unit: "cm", "mm", "m", "in", "ft".

    Raises UnknownUnit, OutOfRange.  Source: exact definitions.

    >>> to_mm(Decimal(18), "in")
    457
    """
    return _whole(_to_base(value, unit, MM_PER, MOST_MM, "length"))


def from_mm(length_mm: int, unit: str) -> Decimal:
    """A stored length in another unit, not rounded.  length_mm: any whole number.  Raises UnknownUnit.

    >>> from_mm(457, "cm")
    Decimal('45.7')
    """
    return Decimal(length_mm) / _factor(MM_PER, unit, "length")


def to_um(value: Decimal, unit: str) -> int:
    """Whole micrometres of a length.  value: 0 to 1 km.  unit: as for to_mm.  Raises UnknownUnit, OutOfRange.

    >>> to_um(Decimal(18), "in")
    457200
    """
    return _whole(_to_base(value, unit, MM_PER, MOST_MM, "length") * 1000)


def from_um(length_um: int, unit: str) -> Decimal:
    """A stored trunk or bit size in another unit, not rounded.  length_um: any whole number.  Raises UnknownUnit.

    >>> from_um(457200, "in")
    Decimal('18')
    """
    return Decimal(length_um) / (1000 * _factor(MM_PER, unit, "length"))


def to_g(value: Decimal, unit: str) -> int:
    """Whole grams of a mass.  value: 0 to 1,000 t.  unit: "kg", "g", "lb", "oz".  Raises UnknownUnit, OutOfRange.

    >>> to_g(Decimal(1), "lb")
    454
    """
    return _whole(_to_base(value, unit, G_PER, MOST_G, "mass"))


def from_g(mass_g: int, unit: str) -> Decimal:
    """A stored mass in another unit, not rounded.  mass_g: any whole number.  Raises UnknownUnit.

    >>> from_g(19040, "kg")
    Decimal('19.04')
    """
    return Decimal(mass_g) / _factor(G_PER, unit, "mass")


def to_c(value: Decimal, unit: str) -> Decimal:
    """Degrees Celsius, not rounded.  value: -80 to 200 °C.  unit: "°C" or "°F".  Raises UnknownUnit, OutOfRange.

    >>> to_c(Decimal(28), "°F").quantize(Decimal("0.1"))
    Decimal('-2.2')
    """
    if unit not in ("°C", "°F"):
        raise UnknownUnit(quantity="temperature", value=unit, known="°C, °F")
    celsius = value if unit == "°C" else (value - 32) * 5 / 9
    if not value.is_finite() or not LEAST_C <= celsius <= MOST_C:
        low, high = (LEAST_C, MOST_C) if unit == "°C" else (from_c(LEAST_C, unit), from_c(MOST_C, unit))
        raise OutOfRange(quantity="temperature", value=value, low=plain(low), high=plain(high), unit=unit)
    return celsius


def from_c(temperature_c: Decimal, unit: str) -> Decimal:
    """A stored temperature in another unit, not rounded.  unit: "°C" or "°F".  Raises UnknownUnit.

    >>> from_c(Decimal(100), "°F")
    Decimal('212')
    """
    if unit == "°C":
        return temperature_c
    if unit == "°F":
        return temperature_c * 9 / 5 + 32
    raise UnknownUnit(quantity="temperature", value=unit, known="°C, °F")


def plain(value: Decimal) -> str:
    """A number without exponent and without empty decimals.

    >>> plain(Decimal("1.200E+3")), plain(Decimal("0.50"))
    ('1200', '0.5')
    """
    text = format(value, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def shown_volume(volume_ml: int, system: System, *, exact: bool = False) -> tuple[str, str]:
    """A volume as people read it: text and unit, 2 decimals of L or US gal.

    volume_ml: any whole number, negative for a difference.  exact: so many decimals that the millilitre shows: 3 for
    L; for gal the fewest of 2, 3 or 4 that lead back to it, so that 1 gal typed reads 1.00 and not 0.9999.
    The point is ".", no mark between thousands; the page may dress it for the reader.

    >>> shown_volume(18927, "metric"), shown_volume(18927, "us")
    (('18.93', 'L'), ('5.00', 'gal'))
    >>> shown_volume(18920, "metric", exact=True), shown_volume(3785, "us", exact=True)
    (('18.920', 'L'), ('1.00', 'gal'))
    >>> shown_volume(3786, "us", exact=True)
    ('1.0002', 'gal')
    """
    unit = USUAL_UNIT["volume"][system]
    amount = from_ml(volume_ml, unit)
    if not exact:
        return str(_rounded(amount, 2)), unit
    if system == "metric":
        return str(_rounded(amount, 3)), unit
    # Four places always lead back: a ten-thousandth of a gallon is 0.38 mL.
    texts = (_rounded(amount, places) for places in (2, 3))
    short = (text for text in texts if _whole(text * ML_PER[unit]) == volume_ml)
    return str(next(short, _rounded(amount, 4))), unit


def shown_length(length_mm: int, system: System, *, exact: bool = False) -> tuple[str, str]:
    """A height or distance as people read it: text and unit, 1 decimal of cm or in.

    length_mm: any whole number.  exact: so many decimals that each millimetre shows (1 for cm, 2 for in).

    >>> shown_length(900, "metric"), shown_length(900, "us")
    (('90.0', 'cm'), ('35.4', 'in'))
    """
    unit = USUAL_UNIT["length"][system]
    return str(_rounded(from_mm(length_mm, unit), 2 if exact and system == "us" else 1)), unit


def shown_diameter(diameter_um: int, system: System, *, exact: bool = False) -> tuple[str, str]:
    """A trunk's size as people read it: text and unit, 1 decimal of cm or in.

    diameter_um: any whole number.  exact: so many decimals that each micrometre shows (4 for cm, 5 for in). Taps are
    judged on the stored number, so a trunk of 45.7194 cm reads "45.7 cm" and is still below 45.72 cm.

    >>> shown_diameter(457_200, "metric"), shown_diameter(304_800, "us")
    (('45.7', 'cm'), ('12.0', 'in'))
    """
    unit = USUAL_UNIT["length"][system]
    places = (4 if system == "metric" else 5) if exact else 1
    return str(_rounded(from_um(diameter_um, unit), places)), unit


def shown_bit(bit_um: int, system: System) -> tuple[str, str]:
    """A drill bit as people read it: millimetres with 1 decimal, or the inch fraction printed on the bit.

    bit_um: above 0. Within 0.02 mm of a 64th of an inch the fraction is shown, else the inch with 3 decimals.

    >>> shown_bit(7938, "us"), shown_bit(7938, "metric")
    (('5/16', 'in'), ('7.9', 'mm'))
    """
    if system == "metric":
        return str(_rounded(from_um(bit_um, "mm"), 1)), "mm"
    inches = from_um(bit_um, "in")
    sixty_fourths = _whole(inches * 64)
    if abs(Decimal(sixty_fourths) / 64 - inches) * Decimal("25.4") <= Decimal("0.02"):
        whole, rest = divmod(Fraction(sixty_fourths, 64), 1)
        parts = [str(part) for part in (whole, rest) if part]
        return " ".join(parts) or "0", "in"
    return str(_rounded(inches, 3)), "in"


def shown_temperature(temperature_c: Decimal, system: System) -> tuple[str, str]:
    """A temperature as people read it: text and unit, 1 decimal of °C or °F.

    A stored tenth of a degree Celsius is wider than a tenth of a degree Fahrenheit: where a whole degree Fahrenheit
    is stored as this very tenth, the whole degree is what somebody read, and is shown.

    >>> shown_temperature(Decimal("3.3"), "metric"), shown_temperature(Decimal("-2.2"), "us")
    (('3.3', '°C'), ('28.0', '°F'))
    >>> shown_temperature(Decimal("76.7"), "us")
    ('170.0', '°F')
    """
    unit = USUAL_UNIT["temperature"][system]
    shown = _rounded(from_c(temperature_c, unit), 1)
    whole = _rounded(shown, 0)
    if unit == "°F" and _rounded((whole - 32) * 5 / 9, 1) == temperature_c:
        shown = whole.quantize(Decimal("0.1"))
    return str(shown), unit


def shown_jar(size_ml: int, system: System) -> tuple[str, str]:
    """The size of a jar as it is printed on it: whole mL, or US fluid ounces with at most 1 decimal.

    >>> shown_jar(330, "metric"), shown_jar(355, "us")
    (('330', 'mL'), ('12.0', 'fl oz'))
    """
    if system == "metric":
        return str(size_ml), "mL"
    return str(_rounded(from_ml(size_ml, "fl oz"), 1)), "fl oz"


def shown_temperature_step(difference_c: Decimal, system: System) -> tuple[str, str]:
    """A difference of two temperatures, such as "4.0 °C above boiling water": 1 decimal.

    >>> shown_temperature_step(Decimal("4.0"), "us")
    ('7.2', '°F')
    """
    unit = USUAL_UNIT["temperature"][system]
    return str(_rounded(difference_c if system == "metric" else difference_c * 9 / 5, 1)), unit


def shown_mass(mass_g: int, system: System) -> tuple[str, str]:
    """A mass as people read it: text and unit, 1 decimal of kg or lb.  mass_g: any whole number.

    >>> shown_mass(19_040, "metric"), shown_mass(19_040, "us")
    (('19.0', 'kg'), ('42.0', 'lb'))
    """
    unit = USUAL_UNIT["mass"][system]
    return str(_rounded(from_g(mass_g, unit), 1)), unit
