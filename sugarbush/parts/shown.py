"""Stored numbers as this reader sees them: the number, then its unit. Tags, forms and documents share it."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from django.utils.formats import number_format
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from sugarbush.core import trunk, units
from sugarbush.core.units import System

MINUS = "\u2212"


def system_of(name: object) -> System:
    """ "us" or "metric"; whatever else comes counts as metric."""
    return "us" if str(name) == "us" else "metric"


def _temperature(temperature_c: Decimal, system: System, *, exact: bool = False) -> tuple[str, str]:
    return units.shown_temperature(Decimal(temperature_c), system)


def _step(difference_c: Decimal, system: System, *, exact: bool = False) -> tuple[str, str]:
    return units.shown_temperature_step(Decimal(difference_c), system)


def _mass(mass_g: int, system: System, *, exact: bool = False) -> tuple[str, str]:
    if exact and system == "metric":
        return str(units.from_g(mass_g, "kg").quantize(Decimal("0.001"))), "kg"
    return units.shown_mass(mass_g, system)


def _bit(bit_um: int, system: System, *, exact: bool = False) -> tuple[str, str]:
    return units.shown_bit(bit_um, system)


def _girth(diameter_um: int, system: System, *, exact: bool = False) -> tuple[str, str]:
    return units.shown_diameter(trunk.girth_from_diameter_um(diameter_um), system, exact=exact)


def _jar(size_ml: int, system: System, *, exact: bool = False) -> tuple[str, str]:
    return units.shown_jar(size_ml, system)


def _brix(sugar_brix: Decimal, system: System, *, exact: bool = False) -> tuple[str, str]:
    return str(Decimal(sugar_brix).quantize(Decimal("0.01" if exact else "0.1"))), _("°Brix")


def _share(per_cent: Decimal | float, system: System, *, exact: bool = False) -> tuple[str, str]:
    return str(Decimal(str(per_cent)).quantize(Decimal("0.1"))), "%"


SHOWN: dict[str, Callable[..., tuple[str, str]]] = {
    "volume": units.shown_volume,
    "length": units.shown_length,
    "diameter": units.shown_diameter,
    "girth": _girth,
    "bit": _bit,
    "jar": _jar,
    "temperature": _temperature,
    "temperature_step": _step,
    "mass": _mass,
    "brix": _brix,
    "per_cent": _share,
}


def dressed(text: str) -> str:
    """A number of the core in the reader's language: marks between thousands, a real minus.

    >>> dressed("-7.50")
    '−7.50'
    """
    try:
        number = Decimal(text)
    except ArithmeticError:
        return text  # a bit such as "5/16"
    places = len(text.partition(".")[2])
    return number_format(number, decimal_pos=places, force_grouping=True).replace("-", MINUS, 1)


def number_and_unit(kind: str, value: Any, system: object, *, exact: bool = False) -> tuple[str, str]:
    """Text and unit for this reader. kind: a name in SHOWN. value: the stored number, never None."""
    text, unit = SHOWN[kind](value, system_of(system), exact=exact)
    return dressed(text), unit


def in_words(kind: str, value: Any, system: object, *, exact: bool = False) -> str:
    """The quantity as plain text for a sentence, parted by a space that does not break."""
    if value is None:
        return _("not measured")
    return "\u00a0".join(number_and_unit(kind, value, system, exact=exact))


def quantity_html(kind: str, value: Any, system: object, *, exact: bool = False) -> SafeString | str:
    """The quantity as pages show it; None is said in words."""
    if value is None:
        return _("not measured")
    text, unit = number_and_unit(kind, value, system, exact=exact)
    return format_html('<span class="qty">{}<span class="unit">{}</span></span>', text, unit)
