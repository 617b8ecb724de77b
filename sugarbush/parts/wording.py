"""Numbers with their units as plain words, for sentences that leave a page: refusals, commands, history."""

from __future__ import annotations

from decimal import Decimal

from sugarbush.core import units as core

NBSP = "\u00a0"


def _system(units: str) -> core.System:
    return "us" if units == "us" else "metric"


def _joined(pair: tuple[str, str]) -> str:
    return NBSP.join(pair)


def volume_words(volume_ml: int | None, units: str, *, exact: bool = False) -> str:
    """A volume in the reader's units, such as "6.50 L"; empty for None. Below zero keeps its sign."""
    if volume_ml is None:
        return ""
    sign = "−" if volume_ml < 0 else ""
    return sign + _joined(core.shown_volume(abs(volume_ml), _system(units), exact=exact))


def both_words(volume_ml: int) -> str:
    """A volume for readers whose units nobody knows: to the millilitre, in both."""
    return f"{volume_words(volume_ml, 'metric', exact=True)} ({volume_words(volume_ml, 'us')})"


def length_words(length_mm: int | None, units: str) -> str:
    return "" if length_mm is None else _joined(core.shown_length(length_mm, _system(units)))


def diameter_words(diameter_um: int | None, units: str, *, bit: bool = False) -> str:
    """A trunk or, with bit=True, a drill bit."""
    if diameter_um is None:
        return ""
    shown = core.shown_bit if bit else core.shown_diameter
    return _joined(shown(diameter_um, _system(units)))


def temperature_words(temperature_c: Decimal | None, units: str) -> str:
    return "" if temperature_c is None else _joined(core.shown_temperature(temperature_c, _system(units)))
