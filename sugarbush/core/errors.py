"""What the core refuses, and why: one small family, each error carrying the quantity and the value.

The core knows no translation machinery. Each error keeps its English sentence as a template with named gaps, so that
a page may translate it: ``error.sentence(gettext)``. ``str(error)`` is the English sentence.
"""

# Named after what is wrong, not "...Error": a page and a test read "raises OutOfRange".
# ruff: noqa: N818

from collections.abc import Callable
from typing import Any


def gettext_noop(message: str) -> str:
    """Mark a sentence for the translators and give it back unchanged.

    >>> gettext_noop("volume")
    'volume'
    """
    return message


# The words that fill the gaps of the templates below; listed here so that the translators meet them.
QUANTITIES = (
    gettext_noop("volume"),
    gettext_noop("length"),
    gettext_noop("temperature"),
    gettext_noop("mass"),
    gettext_noop("girth"),
    gettext_noop("diameter"),
    gettext_noop("sugar"),
    gettext_noop("sugar of the sap"),
    gettext_noop("sugar of the syrup"),
    gettext_noop("density"),
    gettext_noop("height"),
    gettext_noop("depth"),
    gettext_noop("drill bit"),
    gettext_noop("compass side"),
    gettext_noop("dead part of the crown"),
    gettext_noop("smallest size for one tap"),
    gettext_noop("smallest size for two taps"),
    gettext_noop("pressure"),
    gettext_noop("elevation"),
    gettext_noop("time"),
    gettext_noop("taps"),
    gettext_noop("sizes in the guideline"),
    gettext_noop("weight"),
    gettext_noop("pool"),
    gettext_noop("road salt"),
    gettext_noop("area"),
    gettext_noop("rate"),
    gettext_noop("heat"),
    gettext_noop("efficiency"),
    gettext_noop("longitude"),
    gettext_noop("latitude"),
    gettext_noop("stops"),
    gettext_noop("people"),
    gettext_noop("pans"),
    gettext_noop("hours worked"),
    gettext_noop("share of the pool"),
    gettext_noop("light through the syrup"),
    gettext_noop("trees"),
)


class CoreError(ValueError):
    """A value the core does not take. ``quantity`` names what was given, ``value`` is what was given."""

    template: str = gettext_noop("Please look: %(value)s can't be the %(quantity)s.")

    def __init__(self, *, quantity: str, value: object, **details: Any) -> None:
        self.quantity = quantity
        self.value = value
        self.details = details
        super().__init__(self.sentence())

    def sentence(self, translate: Callable[[str], str] = gettext_noop) -> str:
        """Say it in plain words, in the reader's language if a translating function is given.

        >>> CoreError(quantity="volume", value="-3 L").sentence()
        "Please look: -3 L can't be the volume."
        """
        words = {
            name: translate(held) if isinstance(held, str) and held else held for name, held in self.details.items()
        }
        return translate(self.template) % {**words, "quantity": translate(self.quantity), "value": self.value}


class OutOfRange(CoreError):
    """A number outside the range a function takes.

    quantity, value: what was given.  low, high: the limits, both allowed.  unit: the unit of all three numbers.

    >>> str(OutOfRange(quantity="sugar", value=130, low=0, high=100, unit="Brix"))
    'Please look: the sugar is given as 130 Brix. It has to be from 0 to 100 Brix.'
    """

    template = gettext_noop(
        "Please look: the %(quantity)s is given as %(value)s %(unit)s. It has to be from %(low)s to %(high)s %(unit)s."
    )

    def __init__(self, *, quantity: str, value: object, low: object, high: object, unit: str) -> None:
        self.low = low
        self.high = high
        self.unit = unit
        super().__init__(quantity=quantity, value=value, low=low, high=high, unit=unit)


class NotANumber(CoreError):
    """Typed text that is no quantity.  example: what could be typed instead.

    >>> str(NotANumber(quantity="volume", value="a lot", example="6.5 L"))
    'Please look: "a lot" is not a volume. Type it like this: 6.5 L.'
    """

    template = gettext_noop('Please look: "%(value)s" is not a %(quantity)s. Type it like this: %(example)s.')

    def __init__(self, *, quantity: str, value: object, example: str) -> None:
        self.example = example
        super().__init__(quantity=quantity, value=value, example=example)


class TwoReadings(CoreError):
    """Typed text that can be read in two ways, such as "1,234".  first, second: the two ways.

    >>> str(TwoReadings(quantity="volume", value="1,234", first="1234", second="1.234"))
    'Please look: "1,234" can be read in two ways. Type 1234 or 1.234.'
    """

    template = gettext_noop('Please look: "%(value)s" can be read in two ways. Type %(first)s or %(second)s.')

    def __init__(self, *, quantity: str, value: object, first: str, second: str) -> None:
        super().__init__(quantity=quantity, value=value, first=first, second=second)


class UnknownUnit(CoreError):
    """A unit that does not measure this quantity.  known: the units that do.

    >>> str(UnknownUnit(quantity="volume", value="kg", known="L, mL, gal"))
    'Please look: "kg" does not measure a volume here. Use one of: L, mL, gal.'
    """

    template = gettext_noop('Please look: "%(value)s" does not measure a %(quantity)s here. Use one of: %(known)s.')

    def __init__(self, *, quantity: str, value: object, known: str) -> None:
        self.known = known
        super().__init__(quantity=quantity, value=value, known=known)


class TooLoose(CoreError):
    """A tapping rule that would allow more than the conservative guideline.  low: the least that is taken.

    >>> str(TooLoose(quantity="smallest size for one tap", value="25.4", low="30.48", unit="cm"))
    'Please look: the smallest size for one tap is given as 25.4 cm. It may be 30.48 cm or more, never less.'
    """

    template = gettext_noop(
        "Please look: the %(quantity)s is given as %(value)s %(unit)s. It may be %(low)s %(unit)s or more, never less."
    )

    def __init__(self, *, quantity: str, value: object, low: object, unit: str) -> None:
        self.low = low
        self.unit = unit
        super().__init__(quantity=quantity, value=value, low=low, unit=unit)


class Missing(CoreError):
    """Something a sum needs and was not given.

    >>> str(Missing(quantity="diameter", value=None))
    'Please look: the diameter is not measured yet.'
    """

    template = gettext_noop("Please look: the %(quantity)s is not measured yet.")


def check_range(value: float, *, low: float, high: float, quantity: str, unit: str) -> None:
    """Refuse a number outside low to high (both allowed), and what is no number (nan).

    Raises OutOfRange.

    >>> check_range(5, low=0, high=10, quantity="sugar", unit="Brix")
    """
    if not low <= value <= high:
        raise OutOfRange(quantity=quantity, value=value, low=low, high=high, unit=unit)
