"""Sap to syrup: the exact sugar balance, and the trade's short rules beside it."""

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Literal

from sugarbush.core.errors import OutOfRange, check_range, gettext_noop
from sugarbush.core.sugar import density_kg_m3

LEAST_SYRUP_BRIX = 66.0
MOST_SYRUP_BRIX = 68.9


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortRule:
    """A rule of thumb: volumes of sap for one volume of syrup = number / sap Brix.

    number: 86, 87.1 or 88.2.  syrup_brix: the syrup it was made for.  source, tag: where it comes from.
    """

    number: float
    syrup_brix: float
    source: str
    tag: str

    def ratio(self, sap_brix: float) -> float:
        """Sap per syrup.  sap_brix: above 0, at most 12; do not use it on concentrate.  Raises OutOfRange.

        >>> RULE_OF_86.ratio(2)
        43.0
        """
        check_range(sap_brix, low=0.01, high=12, quantity="sugar of the sap", unit="Brix")
        return self.number / sap_brix


RULE_OF_86 = ShortRule(
    number=86, syrup_brix=65.5, source="C. H. Jones, University of Vermont, 1946, as quoted", tag="R2"
)
RULE_OF_87_1 = ShortRule(
    number=87.1, syrup_brix=66.0, source="Perkins and Isselhardt, The Jones Rule of 86 Revisited, as quoted", tag="R2"
)
RULE_OF_88_2 = ShortRule(
    number=88.2, syrup_brix=66.9, source="Perkins and Isselhardt, The Jones Rule of 86 Revisited, as quoted", tag="R2"
)
SHORT_RULES = (RULE_OF_86, RULE_OF_87_1, RULE_OF_88_2)


def _check(sap_brix: float, syrup_brix: float) -> None:
    check_range(syrup_brix, low=50, high=85, quantity="sugar of the syrup", unit="Brix")
    check_range(sap_brix, low=0, high=syrup_brix, quantity="sugar of the sap", unit="Brix")


def sap_per_syrup(*, sap_brix: float, syrup_brix: float = LEAST_SYRUP_BRIX) -> float:
    """Volumes of sap for one volume of syrup, both at 20 °C, nothing lost.

    sap_brix: 0.01 to syrup_brix.  syrup_brix: 50 to 85.  Raises OutOfRange.
    Source: sugar in equals sugar out, with density_kg_m3 [C].

    >>> round(sap_per_syrup(sap_brix=2), 3)
    43.389
    """
    _check(sap_brix, syrup_brix)
    check_range(sap_brix, low=0.01, high=syrup_brix, quantity="sugar of the sap", unit="Brix")
    return density_kg_m3(syrup_brix) * syrup_brix / (density_kg_m3(sap_brix) * sap_brix)


def syrup_ml(*, sap_ml: float, sap_brix: float, syrup_brix: float = LEAST_SYRUP_BRIX, sap_c: float = 20.0) -> float:
    """Syrup at 20 °C that holds all the sugar of the sap; nothing lost, not rounded.

    sap_ml: 0 or more, measured at sap_c (0 to 100 °C).  sap_brix: 0 to syrup_brix.  syrup_brix: 50 to 85.
    Raises OutOfRange.  Source: sugar in equals sugar out [C].

    >>> round(syrup_ml(sap_ml=40_000, sap_brix=2))
    922
    """
    _check(sap_brix, syrup_brix)
    check_range(sap_ml, low=0, high=float("inf"), quantity="volume", unit="mL")
    sugar = sap_ml * density_kg_m3(sap_brix, sap_c) * sap_brix
    return sugar / (density_kg_m3(syrup_brix) * syrup_brix)


def syrup_from_sugar_ml(*, sugar_kg: float, syrup_brix: float = LEAST_SYRUP_BRIX) -> float:
    """Syrup at 20 °C that holds this much sugar; nothing lost, not rounded.

    sugar_kg: 0 or more.  syrup_brix: 50 to 85.  Raises OutOfRange.  Source: sugar balance [C].

    >>> round(syrup_from_sugar_ml(sugar_kg=0.84952))
    973
    """
    _check(0, syrup_brix)
    check_range(sugar_kg, low=0, high=float("inf"), quantity="sugar", unit="kg")
    return sugar_kg * 1e8 / (density_kg_m3(syrup_brix) * syrup_brix)


def concentrate_left(*, sap_brix: float, concentrate_brix: float) -> float:
    """Share of the volume left when water is taken out of sap, 0 to 1, both at 20 °C.

    sap_brix: 0 to concentrate_brix.  concentrate_brix: above 0, at most 85.  Raises OutOfRange.
    Source: sugar balance [C].

    >>> round(concentrate_left(sap_brix=2.1, concentrate_brix=4.6), 3)
    0.452
    """
    check_range(concentrate_brix, low=0.01, high=85, quantity="sugar of the syrup", unit="Brix")
    check_range(sap_brix, low=0, high=concentrate_brix, quantity="sugar of the sap", unit="Brix")
    return density_kg_m3(sap_brix) * sap_brix / (density_kg_m3(concentrate_brix) * concentrate_brix)


ColourClass = Literal["golden", "amber", "dark", "very dark"]
COLOUR_TASTES: dict[ColourClass, str] = {
    "golden": gettext_noop("Golden, delicate taste"),
    "amber": gettext_noop("Amber, rich taste"),
    "dark": gettext_noop("Dark, robust taste"),
    "very dark": gettext_noop("Very dark, strong taste"),
}
_LEAST_LIGHT: tuple[tuple[Decimal, ColourClass], ...] = (
    (Decimal("75.0"), "golden"),
    (Decimal("50.0"), "amber"),
    (Decimal("25.0"), "dark"),
)


def colour_class(light_pct: Decimal) -> ColourClass:
    """Colour class of syrup by the light it lets through.

    light_pct: transmittance at 560 nm through 10 mm, glycerol = 100; 0 to 100 %. Rounded to one decimal, half up,
    before it is judged.  Raises OutOfRange.
    Source: limits in 1 NYCRR 270.1(b) and Wisconsin DATCP table 1 [R], which adopt the US standards of 2015.

    >>> [colour_class(Decimal(light)) for light in ("75.0", "74.9", "49.9", "24.9")]
    ['golden', 'amber', 'dark', 'very dark']
    """
    if not (light_pct.is_finite() and 0 <= light_pct <= 100):
        raise OutOfRange(quantity="light through the syrup", value=light_pct, low=0, high=100, unit="%")
    rounded = light_pct.quantize(Decimal("0.1"), rounding=ROUND_HALF_UP)
    return next((name for least, name in _LEAST_LIGHT if rounded >= least), "very dark")


def density_in_range(
    syrup_brix: Decimal, *, least_brix: Decimal = Decimal("66.0"), most_brix: Decimal = Decimal("68.9")
) -> bool:
    """Whether syrup has the season's density: thinner ferments or moulds, thicker throws crystals.

    syrup_brix: 0 to 100, as read, not rounded.  least_brix, most_brix: the season's limits, both allowed.
    Raises OutOfRange.  Source: US standards, 66.0 to 68.9 [R]; Vermont asks for 66.9 at least, UVM Extension [R].

    >>> density_in_range(Decimal("65.9")), density_in_range(Decimal("66.0"))
    (False, True)
    """
    if not (syrup_brix.is_finite() and 0 <= syrup_brix <= 100):
        raise OutOfRange(quantity="sugar of the syrup", value=syrup_brix, low=0, high=100, unit="Brix")
    return least_brix <= syrup_brix <= most_brix
