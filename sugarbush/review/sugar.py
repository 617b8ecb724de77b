"""Sugar in against sugar out: a second, softer balance beside the millilitres."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from sugarbush.core.errors import CoreError
from sugarbush.core.sugar import pool
from sugarbush.parts.shown import dressed, in_words
from sugarbush.parts.worked import Working, working
from sugarbush.review.totals import Totals


@dataclass(frozen=True, slots=True, kw_only=True)
class Sugar:
    """Sugar that went into the pans and that came out as syrup, in kilograms; what was read and what was assumed.

    in_read_ml, out_read_ml: volumes whose sugar somebody measured.
    """

    in_kg: float
    out_kg: float
    in_ml: int
    in_read_ml: int
    in_brix: float
    assumed_brix: float
    out_ml: int
    out_read_ml: int
    out_brix: float
    finish_brix: float

    @property
    def lost_kg(self) -> float:
        return self.in_kg - self.out_kg

    @property
    def lost_pct(self) -> float:
        """Per cent of the sugar that is in no syrup; below zero where more came out than the readings allow."""
        return 100 * self.lost_kg / self.in_kg if self.in_kg else 0.0

    @property
    def in_assumed_ml(self) -> int:
        return self.in_ml - self.in_read_ml

    @property
    def out_assumed_ml(self) -> int:
        return self.out_ml - self.out_read_ml


def sugar(totals: Totals) -> Sugar | None:
    """None while nothing was drawn off: until then the sugar is in the pans, not lost."""
    if not totals.into_pans or not totals.drawn_off:
        return None
    in_read = sum(ml for ml, brix in totals.into_pans if brix is not None)
    out_read = [(ml, brix) for ml, brix in totals.drawn_off if brix is not None]
    try:
        sap = pool(totals.into_pans, assumed_brix=totals.assumed_brix)
        syrup = pool(totals.drawn_off, assumed_brix=totals.syrup_brix)
    except CoreError:
        return None
    if not sap.sugar_brix or not syrup.sugar_brix:
        return None
    return Sugar(
        in_kg=sap.sugar_kg,
        out_kg=syrup.sugar_kg,
        in_ml=sap.volume_ml,
        in_read_ml=in_read,
        in_brix=sap.sugar_brix,
        assumed_brix=totals.assumed_brix,
        out_ml=syrup.volume_ml,
        out_read_ml=sum(ml for ml, _brix in out_read),
        out_brix=syrup.sugar_brix,
        finish_brix=totals.syrup_brix,
    )


def panel(found: Sugar, units: str) -> Working:
    """How the loss of sugar was worked out, and what of it was measured."""

    def amount(ml: int) -> str:
        return in_words("volume", ml, units, exact=True)

    notes = []
    if found.in_assumed_ml:
        notes.append(
            _("For %(ml)s of sap nobody read the sugar; %(brix)s is assumed.")
            % {"ml": amount(found.in_assumed_ml), "brix": in_words("brix", found.assumed_brix, units, exact=True)}
        )
    if found.out_assumed_ml:
        notes.append(
            _("For %(ml)s of syrup nobody read the density; the season’s finish, %(brix)s, is assumed.")
            % {"ml": amount(found.out_assumed_ml), "brix": in_words("brix", found.finish_brix, units)}
        )
    if found.lost_kg < 0:
        notes.append(_("More sugar came out than went in: a reading is off, or sap went in that nobody wrote down."))
    return working(
        "sugar.sugar_kg",
        "sugar.density_kg_m3",
        of=_("sugar in against sugar out"),
        units=units,
        sums=[
            _("in: %(ml)s at %(brix)s = %(kg)s")
            % {
                "ml": amount(found.in_ml),
                "brix": in_words("brix", found.in_brix, units, exact=True),
                "kg": mass_words(found.in_kg, units),
            },
            _("out: %(ml)s at %(brix)s = %(kg)s")
            % {
                "ml": amount(found.out_ml),
                "brix": in_words("brix", found.out_brix, units, exact=True),
                "kg": mass_words(found.out_kg, units),
            },
            _("%(lost)s ÷ %(in)s = %(pct)s %%")
            % {
                "lost": mass_words(found.lost_kg, units),
                "in": mass_words(found.in_kg, units),
                "pct": dressed(f"{found.lost_pct:.1f}"),
            },
        ],
        words=_("All sugar that was put in the pans, less the sugar in all syrup that was drawn off, both at 20 °C."),
        rows=[
            (_("Sugar of the sap measured for"), _of(found.in_read_ml, found.in_ml, units)),
            (_("Density of the syrup measured for"), _of(found.out_read_ml, found.out_ml, units)),
        ],
        notes=notes,
    )


def _of(part_ml: int, whole_ml: int, units: str) -> str:
    return _("%(part)s of %(whole)s") % {
        "part": in_words("volume", part_ml, units, exact=True),
        "whole": in_words("volume", whole_ml, units, exact=True),
    }


def mass_words(kg: float, units: str) -> str:
    """A mass of sugar to the gram, or to the hundredth of a pound."""
    if units == "us":
        return dressed(f"{kg / 0.45359237:,.2f}") + " lb"
    return dressed(f"{kg:,.3f}") + " kg"
