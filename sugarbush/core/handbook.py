"""The handbook: every formula of the core with its inputs, range, source, standing, and what would change it.

For a page that lists them all, and for the panel beside any computed number: ``entry_for("boiling.water_boils_c")``.
"""

from sugarbush.core.register import fire, sap, sharing, trees
from sugarbush.core.register.entry import STANDINGS, Entry, Input, Tag

__all__ = ["ENTRIES", "STANDINGS", "Entry", "Input", "Tag", "entry_for"]

ENTRIES: tuple[Entry, ...] = (*trees.ENTRIES, *sap.ENTRIES, *fire.ENTRIES, *sharing.ENTRIES)

_BY_FUNCTION = {where: entry for entry in ENTRIES for where in entry.where}


def entry_for(where: str) -> Entry:
    """The handbook's entry for a function of the core.

    where: "module.function".  Raises KeyError for a function the handbook does not know.

    >>> entry_for("wounding.ring_growth").title, entry_for("keeping.boil_by").checked
    ('Ring growth from two girths', False)
    """
    return _BY_FUNCTION[where]
