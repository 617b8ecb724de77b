"""What the handbook holds for each formula."""

from dataclasses import dataclass
from typing import Literal

from sugarbush.core.errors import gettext_noop

Tag = Literal["R", "R2", "C", "M", "common practice"]
STANDINGS: dict[Tag, str] = {
    "R": gettext_noop("read in the publisher's own text"),
    "R2": gettext_noop("second-hand, not checked"),
    "C": gettext_noop("worked out here and cross-checked"),
    "M": gettext_noop("from memory, no source opened"),
    "common practice": gettext_noop("common practice, no source"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """What goes into a formula.

    name: the argument of the entry's first function.  said: in words.  unit: "" for none.
    low, high: both allowed; None where there is no fixed limit.
    """

    name: str
    said: str
    unit: str = ""
    low: float | None = None
    high: float | None = None

    @property
    def limits(self) -> str:
        """Its range for a page, numbers and unit; "" where it has none.

        >>> Input(name="sap_ml", said="sap", unit="mL", low=0).limits
        'from 0 mL'
        """
        low, high = (None if limit is None else f"{limit:,.10g}" for limit in (self.low, self.high))
        if low is None:
            return "" if high is None else f"to {high} {self.unit}".strip()
        return f"from {low} {self.unit}".strip() if high is None else f"{low} to {high} {self.unit}".strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One formula of the handbook.

    title, words: what it is, and the formula in words.  where: its functions, "module.function", the main one first.
    inputs: of the main one.  gives: the result and its unit.  source, tag: where it comes from and the weakest
    standing of anything in it.  changes: what would change it.  The texts are marked for the translators.
    """

    title: str
    words: str
    where: tuple[str, ...]
    gives: str
    source: str
    tag: Tag
    changes: str
    inputs: tuple[Input, ...] = ()

    @property
    def checked(self) -> bool:
        """Whether it may be shown as checked: read at its source, or worked out and cross-checked here."""
        return self.tag in ("R", "C")

    @property
    def standing(self) -> str:
        """Its standing in words."""
        return STANDINGS[self.tag]
