"""The tap guideline of a season: the conservative one, one tap at most, or the programme's own stricter sizes."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from sugarbush.core import trunk
from sugarbush.core.trunk import CONSERVATIVE, FIRST_TAP_UM, SECOND_TAP_UM, Guideline
from sugarbush.parts.shown import in_words
from sugarbush.seasons.models import Season

STANDARD, ONE, OWN = "conservative", "one", "own"
ONE_NAME, OWN_NAME = "One tap at most", "Own, stricter"
NAMES = {STANDARD: CONSERVATIVE.name, ONE: ONE_NAME, OWN: OWN_NAME}


def words(name: str) -> str:
    """The stored name of a guideline in the reader's language."""
    known = {CONSERVATIVE.name: _("Conservative"), ONE_NAME: _("One tap at most"), OWN_NAME: _("Own, stricter")}
    return known.get(name, name)


def choice_of(first_um: int, second_um: int | None) -> str:
    """Which of the three these sizes are."""
    if first_um == FIRST_TAP_UM and second_um in {SECOND_TAP_UM, None}:
        return STANDARD if second_um else ONE
    return OWN


def sizes_of(choice: str) -> tuple[int, int | None]:
    """First and second size of a preset."""
    return (FIRST_TAP_UM, None) if choice == ONE else (FIRST_TAP_UM, SECOND_TAP_UM)


def guideline_of(season: Season) -> Guideline:
    """The season's rule for the core.  Raises TooLoose where it would be looser than the conservative one."""
    return trunk.stricter_guideline(
        name=season.guideline_name, first_um=season.first_tap_um, second_um=season.second_tap_um
    )


def sentence(season: Season, units: str) -> str:
    """The rule in one plain sentence, in the reader's units."""
    first = in_words("diameter", season.first_tap_um, units)
    if season.second_tap_um is None:
        return _("A trunk of %(first)s or more across carries one tap. Never more than one.") % {"first": first}
    second = in_words("diameter", season.second_tap_um, units)
    return _(
        "A trunk of %(first)s or more across carries one tap, one of %(second)s or more carries two. "
        "Never more than two."
    ) % {"first": first, "second": second}


@dataclass(frozen=True, kw_only=True)
class Worked:
    """An example trunk under the season's rule."""

    girth_um: int
    diameter_um: int
    taps: int


def example(season: Season, units: str) -> Worked:
    """A trunk just under 18 in across, where the rounded number and the rule part ways."""
    girth_um = 56 * trunk.INCH_UM if units == "us" else 1_430_000
    diameter_um = trunk.diameter_from_girth_um(girth_um)
    return Worked(
        girth_um=girth_um, diameter_um=diameter_um, taps=trunk.allowed_taps(diameter_um, guideline_of(season))
    )
