"""What is said about rows of a sheet of past years."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.parts.shown import in_words


def past_reasons() -> dict[str, str]:
    """Each reason in a few words."""
    return {
        "past_no_name": _("no tree named"),
        "past_no_tree": _("no such tree"),
        "past_two_trees": _("more than one tree fits"),
        "past_year": _("no year"),
        "past_not_past": _("a year that is not past"),
        "past_own_season": _("a year with a season of our own"),
        "past_taps": _("taps that cannot be"),
        "past_volume": _("sap that is not a number"),
        "past_too_much": _("more sap than a tree gives"),
        "past_brix": _("sugar that cannot be"),
        "past_nth": _("which tree there: not a number"),
        "past_twice": _("twice in this file"),
        "past_conflict": _("another list says otherwise"),
    }


def past_sentence(code: str, values: dict[str, Any], units: str) -> str:
    """The row's sentence."""
    if code == "past_conflict":
        told = {name: _figures(values[name], units) for name in ("theirs", "ours")}
        return _(
            "%(text)s in %(year)s: this file says %(theirs)s, a list taken before says %(ours)s. "
            "What was taken before stays. Look which is right."
        ) % {**values, **told}
    said = {
        "past_no_name": _("The row names no tree. Fill in its code, its number or its address."),
        "past_no_tree": _("No tree here has the code, number or address “%(text)s”. Look how it is written."),
        "past_two_trees": _("“%(text)s” fits more than one tree: %(codes)s. Name the tree by its code."),
        "past_year": _("“%(text)s” is no year. Write four digits."),
        "past_not_past": _("%(text)s is not past yet. Log this year’s sap at the trees."),
        "past_own_season": _("%(text)s has a season in this programme: its entries count, not an older list."),
        "past_taps": _("“%(text)s” is no number of taps. Write a whole number from 1 to 20."),
        "past_volume": _(
            "“%(text)s” is no amount of sap. Write a number with at most two decimals and no mark for thousands."
        ),
        "past_too_much": _("“%(text)s” is more than 2,000 L from one tree. Look at the unit and the decimal mark."),
        "past_brix": _("“%(text)s” is no sugar of sap. Write °Brix above 0, up to 15, or leave the cell blank."),
        "past_nth": _("“%(text)s” does not say which tree it is at its address. Write a whole number."),
        "past_twice": _("%(text)s in %(year)s stands in row %(row)s already. Leave one of the rows out."),
    }
    return said[code] % values


def _figures(figures: list[Any], units: str) -> str:
    taps, volume_ml, brix = figures
    said = [
        ngettext("%(count)d tap", "%(count)d taps", taps) % {"count": taps},
        in_words("volume", volume_ml, units, exact=True),
    ]
    if brix:
        said.append(in_words("brix", Decimal(brix), units, exact=True))
    return ", ".join(said)
