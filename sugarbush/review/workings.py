"""How the figures of a season's page were worked out."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.core.errors import CoreError
from sugarbush.core.figures import AVERAGES, LEAST_OWN, figure
from sugarbush.parts.shown import dressed, in_words
from sugarbush.parts.worked import Working, working
from sugarbush.review import chain
from sugarbush.review.totals import Promise, Totals
from sugarbush.weather.outlook import freeze_thaw_panel


def panels(totals: Totals, units: str) -> dict[str, Working | None]:
    """A panel for each figure at the head of the page, by its name there."""
    return {
        "per_tap": _per_tap(totals, units),
        "ratio": _ratio(totals, units),
        "lost": _lost(totals, units),
        "promise": _promise(totals.promise, units) if totals.promise else None,
        "freeze": _freeze(totals),
    }


def _per_tap(totals: Totals, units: str) -> Working | None:
    """The programme's own litres beside the published ones; core.figures says which is used."""
    own_ml = totals.sap_per_tap_ml
    if own_ml is None:
        return None
    try:
        used = figure("litres_per_tap", own=own_ml / 1000, own_readings=totals.holes)
    except CoreError:
        return None
    usual = next(one for one in AVERAGES if one.kind == "litres_per_tap" and not one.species)
    low, high = (in_words("volume", round(litres * 1000), units) for litres in (usual.low, usual.high))
    holes = ngettext("%(n)d hole", "%(n)d holes", totals.holes) % {"n": totals.holes}
    return working(
        "figures.figure",
        of=_("sap for each tap"),
        units=units,
        sums=[
            _("%(sap)s ÷ %(holes)s = %(each)s")
            % {
                "sap": in_words("volume", totals.sums.out_ml, units, exact=True),
                "holes": holes,
                "each": in_words("volume", own_ml, units),
            }
        ],
        words=_("Sap out of the trees ÷ every hole of the season, whatever became of it."),
        rows=[
            (_("Used for planning"), f"{in_words('volume', round(used.value * 1000), units)}, {_(used.said)}"),
            (
                _("Published, for comparing"),
                _("%(low)s to %(high)s a season, second-hand") % {"low": low, "high": high},
            ),
        ],
        notes=[_("The programme’s own figure is used from %(n)d holes on.") % {"n": LEAST_OWN}],
    )


def _ratio(totals: Totals, units: str) -> Working | None:
    if not totals.ratio:
        return None
    return working(
        of=_("sap for one of syrup"),
        units=units,
        sums=[
            _("%(sap)s put in pans ÷ %(syrup)s drawn off = %(ratio)s")
            % {
                "sap": in_words("volume", totals.in_pans_ml, units, exact=True),
                "syrup": in_words("volume", totals.syrup_ml, units, exact=True),
                "ratio": dressed(f"{totals.ratio:.1f}"),
            }
        ],
        words=_("Measured, not reckoned: what went into the pans over what came out of them."),
        source=_("this programme’s own ledger; the rule of 86 ÷ sugar is beside it in the handbook"),
        tag="C",
    )


def _lost(totals: Totals, units: str) -> Working | None:
    whole = totals.sums.out_ml + totals.sums.rain_ml
    if whole <= 0:
        return None
    lost = chain.lost_ml(totals)
    return working(
        of=_("lost on the way"),
        units=units,
        sums=[
            _("%(lost)s lost ÷ %(all)s = %(pct)s %%")
            % {
                "lost": in_words("volume", lost, units, exact=True),
                "all": in_words("volume", whole, units, exact=True),
                "pct": dressed(f"{100 * min(1.0, lost / whole):.1f}"),
            }
        ],
        words=_("All sap, and rain kept with it, that was tipped out, turned away or spilled before it reached a pan."),
        rows=[
            (_("Sap from the trees"), in_words("volume", totals.sums.out_ml, units, exact=True)),
            (_("Rain kept with it"), in_words("volume", totals.sums.rain_ml, units, exact=True)),
        ],
        source=_("this programme’s own ledger"),
        tag="C",
    )


def _promise(promise: Promise, units: str) -> Working:
    brix = in_words("brix", promise.syrup_brix, units)
    notes = [
        _("The syrup’s density is the mean of what was read at draw-off.")
        if promise.measured_syrup
        else _("Nobody read the syrup’s density; the season’s finish is taken.")
    ]
    if promise.unmeasured_ml:
        amount = in_words("volume", promise.unmeasured_ml, units)
        notes.append(_("For %(amount)s nobody measured the sugar; the season’s mean is taken.") % {"amount": amount})
    return working(
        "syrup.sap_per_syrup",
        "sugar.pool",
        "sugar.density_kg_m3",
        of=_("syrup against what its sugar promised"),
        units=units,
        sums=[
            _("%(sap)s ÷ %(ratio)s = %(promised)s")
            % {
                "sap": in_words("volume", promise.sap_ml, units, exact=True),
                "ratio": dressed(f"{promise.promised_ratio:.1f}"),
                "promised": in_words("volume", promise.promised_ml, units, exact=True),
            },
            _("%(drawn)s drawn off: %(pct)s %% under")
            % {
                "drawn": in_words("volume", promise.drawn_off_ml, units, exact=True),
                "pct": dressed(f"{promise.short_pct:.1f}"),
            },
        ],
        words=_(
            "Sugar in equals sugar out: so many volumes of sap hold the sugar of one of syrup, both at 20 °C (68 °F)."
        ),
        inputs={"sap_brix": in_words("brix", promise.sap_brix, units, exact=True), "syrup_brix": brix},
        rows=[(_("Sap for one of syrup"), dressed(f"{promise.promised_ratio:.1f}"))],
        notes=notes,
    )


def _freeze(totals: Totals) -> Working | None:
    known = [row for row in totals.days if row.crosses is not None]
    if not known:
        return None
    days = ngettext("%(n)d day", "%(n)d days", len(known)) % {"n": len(known)}
    return freeze_thaw_panel(
        of=_("freeze-thaw days"),
        sums=[_("%(n)d of %(days)s written down") % {"n": totals.freeze_thaw_days, "days": days}],
    )
