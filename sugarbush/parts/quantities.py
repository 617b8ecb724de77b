"""Form fields for measured numbers: typed in the person's unit, stored once."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.text import format_lazy
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.core import units
from sugarbush.core.errors import CoreError, NotANumber, OutOfRange
from sugarbush.core.typed import parse_quantity
from sugarbush.core.units import Kind, System
from sugarbush.parts.shown import in_words, system_of

Words = Any  # text, or text that is translated when a page is drawn


@dataclass(frozen=True, kw_only=True)
class _Measure:
    """How one kind of quantity is typed and stored. `stored_per` stored units make one base unit of the core."""

    kind: Kind
    signs: dict[System, str]
    hints: dict[System, Words]
    stored_per: int = 1
    others: tuple[str, ...] = ()  # units a bare number may have been meant in


_LENGTH_SIGNS: dict[System, str] = {"metric": "cm", "us": "in"}
_LENGTH_HINTS: dict[System, Words] = {
    "metric": gettext_lazy("in centimetres (cm)"),
    "us": gettext_lazy("in inches (in)"),
}
_LENGTH_UNITS = ("cm", "mm", "in", "m", "ft")

MEASURES: dict[str, _Measure] = {
    "volume": _Measure(
        kind="volume",
        signs={"metric": "L", "us": "gal"},
        hints={"metric": gettext_lazy("in litres (L)"), "us": gettext_lazy("in US gallons (gal)")},
        others=("L", "mL", "gal", "qt"),
    ),
    "jar": _Measure(
        kind="volume",
        signs={"metric": "mL", "us": "fl oz"},
        hints={"metric": gettext_lazy("in millilitres (mL)"), "us": gettext_lazy("in US fluid ounces (fl oz)")},
        others=("mL", "L", "fl oz"),
    ),
    "length": _Measure(kind="length", signs=_LENGTH_SIGNS, hints=_LENGTH_HINTS, others=_LENGTH_UNITS),
    "diameter": _Measure(
        kind="length", signs=_LENGTH_SIGNS, hints=_LENGTH_HINTS, stored_per=1000, others=_LENGTH_UNITS
    ),
    "bit": _Measure(
        kind="length",
        signs={"metric": "mm", "us": "in"},
        hints={
            "metric": gettext_lazy("in millimetres (mm)"),
            "us": gettext_lazy("in inches (in), 5/16 for example"),
        },
        stored_per=1000,
        others=("mm", "in", "cm"),
    ),
    "temperature": _Measure(
        kind="temperature",
        signs={"metric": "°C", "us": "°F"},
        hints={"metric": gettext_lazy("in degrees Celsius (°C)"), "us": gettext_lazy("in degrees Fahrenheit (°F)")},
        others=("°C", "°F"),
    ),
    "mass": _Measure(
        kind="mass",
        signs={"metric": "kg", "us": "lb"},
        hints={"metric": gettext_lazy("in kilograms (kg)"), "us": gettext_lazy("in pounds (lb)")},
        others=("kg", "g", "lb", "oz"),
    ),
}
_BARE = re.compile(r"[-+−]?[0-9\s.,/½¼¾⅛⅜⅝⅞⅓⅔]+", re.ASCII)


class QuantityField(forms.Field):
    """A measured number. The person types their own unit (or names another); it cleans to the stored number.

    kind: "volume" (mL), "jar" (mL, typed in mL or fl oz), "length" (mm), "diameter" or "bit" (micrometres),
    "temperature" (°C with 1 decimal), "mass" (g). smallest, largest: limits in the stored unit, both allowed. A bound
    initial value that comes back as it was shown stays the very same stored number, so changing units never changes
    what is stored.
    """

    widget = forms.TextInput

    def __init__(
        self,
        *,
        kind: str,
        smallest: int | Decimal | None = None,
        largest: int | Decimal | None = None,
        units: str = "metric",
        **kwargs: Any,
    ) -> None:
        self.measure = MEASURES[kind]
        self.quantity = kind
        self.smallest, self.largest = smallest, largest
        self.own_help = kwargs.pop("help_text", "")
        self.kept: int | Decimal | None = None
        super().__init__(**kwargs)
        self.use_units(units)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        mode = "text" if self.quantity in {"temperature", "bit"} else "decimal"  # minus and fractions need all keys
        return {"inputmode": mode, "autocomplete": "off"}

    def use_units(self, name: str) -> None:
        """Show and read this field in "us" or "metric"."""
        self.system: System = system_of(name)
        self.unit_sign = self.measure.signs[self.system]
        hint = self.measure.hints[self.system]
        self.help_text = format_lazy("{} {}", self.own_help, hint) if self.own_help else hint

    def keep(self, stored: Any) -> None:
        """Remember the number this form was opened with."""
        self.kept = stored if isinstance(stored, int | Decimal) else None

    def typed_form(self, stored: int | Decimal) -> str:
        """The stored number as a person would type it, with as many decimals as it needs."""
        unit = self.unit_sign
        if self.quantity == "bit":
            return units.shown_bit(int(stored), self.system)[0]
        if self.measure.kind == "temperature":
            return units.shown_temperature(Decimal(stored), self.system)[0]
        if self.quantity == "jar":
            return units.plain(Decimal(units.shown_jar(int(stored), self.system)[0]))
        if self.quantity == "diameter":
            text = units.shown_diameter(int(stored), self.system, exact=True)[0]
        elif self.measure.kind == "volume":
            text = units.shown_volume(int(stored), self.system, exact=True)[0]
        elif self.measure.kind == "length":
            text = units.shown_length(int(stored), self.system, exact=True)[0]
        else:
            text = str(units.from_g(int(stored), unit).quantize(Decimal("0.001"), rounding=ROUND_HALF_UP))
        return units.plain(Decimal(text))

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, int | Decimal) and not isinstance(value, bool):
            return self.typed_form(value)
        return value  # what was typed stays as it was typed

    def to_python(self, value: Any) -> int | Decimal | None:
        if value in self.empty_values:
            return None
        if isinstance(value, int | Decimal):
            return value
        text = str(value).strip()
        if not text:
            return None
        if self.kept is not None and text == self.typed_form(self.kept):
            return self.kept
        return self._stored(self._read(text))

    def has_changed(self, initial: Any, data: Any) -> bool:
        self.keep(initial)
        return super().has_changed(initial, data)

    def validate(self, value: Any) -> None:
        super().validate(value)
        if value is None or value == self.kept:
            return
        if (self.smallest is not None and value < self.smallest) or (self.largest is not None and value > self.largest):
            raise ValidationError(self._out_of_range(value), code="out_of_range")

    def clean(self, value: Any) -> Any:
        self._typed = str(value or "").strip()
        stored = self._at_the_limit(self.to_python(value))
        self.validate(stored)
        self.run_validators(stored)
        return stored

    def _at_the_limit(self, stored: int | Decimal | None) -> int | Decimal | None:
        """A number that reads the same as the limit is the limit: "at most 1.72 gal" must take 1.72 gal."""
        if stored is None or stored == self.kept:
            return stored
        for limit, beyond in ((self.smallest, -1), (self.largest, 1)):
            if limit is not None and (stored - limit) * beyond > 0 and self._words(stored) == self._words(limit):
                return limit
        return stored

    def _read(self, text: str) -> Decimal:
        """Typed text in the core's base unit."""
        if self.quantity == "bit" and self.system == "metric" and _BARE.fullmatch(text):
            text += " in" if "/" in text else " mm"  # a fraction is an inch bit on any page
        if self.quantity == "jar" and _BARE.fullmatch(text):
            text += f" {self.unit_sign}"  # a jar is too small for the litres and gallons of other volumes
        try:
            return parse_quantity(text, kind=self.measure.kind, system=self.system)
        except NotANumber as refusal:
            example = f"{self._example()} {self.unit_sign}"
            raise ValidationError(
                _("“%(typed)s” can’t be read as a number. Write it like this: %(example)s.")
                % {"typed": text, "example": example},
                code="not_a_number",
            ) from refusal
        except OutOfRange as refusal:
            below = text.lstrip().startswith(("-", "−", "–")) and self.measure.kind != "temperature"
            sentence = _("Less than nothing can’t be. Write 0 or more.") if below else refusal.sentence(_)
            guess = self._guess(text)
            raise ValidationError(f"{sentence} {guess}".strip(), code="out_of_range") from refusal
        except CoreError as refusal:
            raise ValidationError(refusal.sentence(_), code="unclear") from refusal

    def _stored(self, base: Decimal) -> int | Decimal:
        if self.measure.kind == "temperature":
            return base.quantize(Decimal("0.1"), rounding=ROUND_HALF_UP)
        return int((base * self.measure.stored_per).quantize(Decimal(1), rounding=ROUND_HALF_UP))

    def _example(self) -> str:
        examples = {
            "volume": ("6.5", "1.75"),
            "jar": ("330", "12"),
            "length": ("90", "36"),
            "diameter": ("45.7", "18"),
            "bit": ("8", "5/16"),
            "temperature": ("3.5", "38"),
            "mass": ("8.2", "18"),
        }
        metric, us = examples[self.quantity]
        return us if self.system == "us" else metric

    def _words(self, stored: int | Decimal) -> str:
        return in_words(self.quantity, stored, self.system)

    def _out_of_range(self, value: int | Decimal) -> str:
        names = {"typed": self._words(value)}
        if self.smallest is not None and value < self.smallest:
            sentence = _("%(typed)s is too little here; it is at least %(limit)s.") % {
                **names,
                "limit": self._words(self.smallest),
            }
        else:
            sentence = _("%(typed)s is too much here; it is at most %(limit)s.") % {
                **names,
                "limit": self._words(self.largest or 0),
            }
        return f"{sentence} {self._guess(self._typed)}".strip()

    def _guess(self, text: str) -> str:
        """What was probably meant: the same number in the unit that makes it possible, and the least strange."""
        number = re.match(r"\s*[0-9]+(?:[.,][0-9]+)?", text)
        if not number:
            return ""
        typed_unit = text[number.end() :].strip().lower()
        # The own unit first: "141 m" most likely lacks a letter.
        own = self.unit_sign
        for unit in (own, *(other for other in self.measure.others if other != own)):
            if typed_unit == unit.lower() or (not typed_unit and unit == own):
                continue
            try:
                base = parse_quantity(f"{number[0].strip()} {unit}", kind=self.measure.kind, system=self.system)
            except CoreError:
                continue
            stored = self._stored(base)
            if (self.smallest is None or stored >= self.smallest) and (self.largest is None or stored <= self.largest):
                return _("Did you mean %(guess)s?") % {"guess": f"{number[0].strip()}\u00a0{unit}"}
        return ""


class BrixField(forms.DecimalField):
    """Sugar by refractometer or hydrometer, °Brix, 2 decimals; a comma will do."""

    unit_sign = "°Brix"

    def __init__(self, **kwargs: Any) -> None:
        messages = {
            "invalid": gettext_lazy("Write a number, 2.2 for example."),
            "min_value": gettext_lazy("Sugar is from 0 to 100 °Brix."),
            "max_value": gettext_lazy("Sugar is from 0 to 100 °Brix."),
            "max_digits": gettext_lazy("Sugar is from 0 to 100 °Brix."),
            "max_whole_digits": gettext_lazy("Sugar is from 0 to 100 °Brix."),
            "max_decimal_places": gettext_lazy("Two decimals are enough, 2.25 for example."),
        }
        kwargs["error_messages"] = messages | kwargs.get("error_messages", {})
        kwargs.setdefault("min_value", Decimal(0))
        kwargs.setdefault("max_value", Decimal(100))
        kwargs.setdefault("help_text", gettext_lazy("in °Brix, per cent sugar by mass"))
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}))
        super().__init__(max_digits=5, decimal_places=2, **kwargs)

    def to_python(self, value: Any) -> Any:
        return super().to_python(value.replace(",", ".") if isinstance(value, str) else value)
