"""Whether a lot is fit to be released, and if not, what mends it."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from django.utils.translation import gettext as _

from sugarbush.core.syrup import density_in_range
from sugarbush.lots.models import Lot, LotState
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.parts.wording import temperature_words
from sugarbush.seasons.models import Season

NO_DENSITY, THIN, THICK, NO_FILL, COLD, TASTE, OPENED = (
    "no-density",
    "thin",
    "thick",
    "no-fill",
    "cold",
    "taste",
    "opened",
)
POURED_BACK = "poured-back"


def judge(
    season: Season, *, syrup_brix: Decimal | None, fill_temperature_c: Decimal | None, off_taste: str
) -> list[str]:
    """The codes of what holds the lot; empty when nothing does."""
    held = []
    if syrup_brix is None:
        held.append(NO_DENSITY)
    elif not density_in_range(syrup_brix, least_brix=season.syrup_least_brix, most_brix=season.syrup_most_brix):
        held.append(THIN if syrup_brix < season.syrup_least_brix else THICK)
    if fill_temperature_c is None:
        held.append(NO_FILL)
    elif fill_temperature_c < season.fill_least_c:
        held.append(COLD)
    if off_taste.strip():
        held.append(TASTE)
    return held


def why_held(lot: Lot, units: str) -> list[Reason]:
    """What holds the lot, each with its remedy."""
    return reasons(lot, lot.held_because, units)


def reasons(lot: Lot, codes: Iterable[str], units: str) -> list[Reason]:
    season = lot.season
    words = {
        "brix": lot.syrup_brix,
        "least": season.syrup_least_brix,
        "most": season.syrup_most_brix,
        "fill": temperature_words(lot.fill_temperature_c, units),
        "fill_least": temperature_words(season.fill_least_c, units),
        "taste": lot.off_taste,
    }
    said = {
        NO_DENSITY: (
            _("Nobody measured the density."),
            _("Thin syrup ferments or moulds, thick syrup throws crystals."),
            _("Measure it and write it down"),
        ),
        THIN: (
            _("%(brix)s °Brix is thin; it has to be %(least)s at least."),
            _("Thin syrup ferments or moulds in the jar."),
            _("Open the jars, boil it on to %(least)s °Brix, measure and pack again"),
        ),
        THICK: (
            _("%(brix)s °Brix is thick; %(most)s is the most."),
            _("Thick syrup throws sugar crystals in the jar."),
            _("Open the jars, thin it with hot sap or hot water, heat, measure and pack again"),
        ),
        NO_FILL: (
            _("Nobody wrote how hot it was filled."),
            _("Only hot filling keeps mould out of the jar."),
            _("Write the temperature down, or reheat and fill again"),
        ),
        COLD: (
            _("Filled at %(fill)s; it has to be %(fill_least)s at least."),
            _("Below that the lid does not clear the jar of mould."),
            _("Open the jars, reheat, and fill clean jars again at %(fill_least)s or more"),
        ),
        TASTE: (
            _("It tastes off: %(taste)s."),
            _("A second taster decides; scorched or sour syrup is not given out."),
            _("Taste again and write what was found, or destroy the lot"),
        ),
        OPENED: (
            _("The jars were opened again."),
            _("The syrup is back in its vessel."),
            _("Pack it again, or pour it back into a pan"),
        ),
        POURED_BACK: (_("All of it was poured back into a pan."), "", ""),
    }
    return [
        Reason(code=code, fact=said[code][0] % words, detail=said[code][1] % words, next_text=said[code][2] % words)
        for code in codes
    ]


def is_opened(lot: Lot) -> bool:
    return OPENED in lot.held_because


def judge_lot(lot: Lot) -> None:
    lot.held_because = judge(
        lot.season,
        syrup_brix=lot.syrup_brix,
        fill_temperature_c=lot.fill_temperature_c,
        off_taste=lot.off_taste,
    )
    lot.state = LotState.HELD if lot.held_because else LotState.PACKED


def must_be_here(lot: Lot) -> None:
    """Only a lot of which nothing was released can be measured again or opened."""
    if lot.state not in {LotState.HELD, LotState.PACKED}:
        raise Refused(
            [
                Reason(
                    code=lot.state,
                    fact=_("Lot %(lot)s is %(state)s.") % {"lot": lot.code, "state": lot.get_state_display()},
                    detail=_("Only a lot that is not released yet can be measured again or opened."),
                )
            ]
        )
