"""The words an owner agrees to, with their version.

Whoever changes a sentence gives it a new version; a test holds the two together. What an owner had before them is kept
whole with their answer, so an old version needs no home here.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from dataclasses import dataclass

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from sugarbush.owners.models import Permission
from sugarbush.parts.wording import diameter_words, length_words
from sugarbush.seasons.models import Season

VERSION = "1"
SENTENCES = (
    gettext_lazy("I own the trees named here, or I may decide about them."),
    gettext_lazy("%(programme)s may tap them from %(start)s until %(end)s, within the limits named here."),
    gettext_lazy(
        "Tapping drills a small hole for each spout. The tree closes it over in the following years; the wood behind "
        "it stays out of use."
    ),
    gettext_lazy("People of the programme may come to the trees by day to hang pails, empty them and take them down."),
    gettext_lazy("The sap goes into the common pan. I pay nothing and am paid nothing; I say below what I wish for."),
    gettext_lazy(
        "I can stop this at any time, without a reason. No new hole is drilled from then on, and the spouts are pulled."
    ),
)


@dataclass(frozen=True)
class Wording:
    """What is agreed to: its version, the tags of the trees, its sentences, and the limits in words."""

    version: str
    codes: tuple[str, ...]
    sentences: tuple[str, ...]
    limits: tuple[str, ...]

    @property
    def text(self) -> str:
        """All of it as one text, to be kept with the answer."""
        trees = _("Trees: %(trees)s.") % {"trees": ", ".join(self.codes)}
        return "\n".join([trees, *self.sentences, *self.limits])

    @property
    def mark(self) -> str:
        """Other words have another mark. The form carries it, so that nobody agrees to what they never read."""
        return hashlib.sha256(f"{self.version}\n{self.text}".encode()).hexdigest()[:32]


def days_of(slip: Permission) -> tuple[dt.date, dt.date] | None:
    """First and last day of the yes: the slip's own, else the season's; None where there are none."""
    if slip.date_from and slip.date_to:
        return slip.date_from, slip.date_to
    season = Season.current()
    if slip.date_from or slip.date_to or season is None:
        return None
    return season.tapping_from, season.tapping_to


def wording_of(slip: Permission, *, programme: str, units: str) -> Wording:
    """The words for one slip; without days of any kind the places for them stay empty."""
    days = days_of(slip)
    values = {
        "programme": programme,
        "start": date_format(days[0], "j F Y") if days else "",
        "end": date_format(days[1], "j F Y") if days else "",
    }
    return Wording(
        version=VERSION,
        codes=tuple(slip.lines.order_by("tree__code").values_list("tree__code", flat=True)),
        sentences=tuple(str(sentence) % values for sentence in SENTENCES),
        limits=tuple(limits_of(slip, units)),
    )


def limits_of(slip: Permission, units: str) -> list[str]:
    """The limits and conditions of a slip, a plain sentence each."""
    said = []
    if slip.most_taps is not None:
        said.append(
            ngettext("At most %(n)d spout a tree.", "At most %(n)d spouts a tree.", slip.most_taps)
            % {"n": slip.most_taps}
        )
    else:
        said.append(_("One spout a tree, two at most where the trunk is wide enough."))
    if slip.least_diameter_um:
        said.append(
            _("Only trunks of at least %(size)s across.") % {"size": diameter_words(slip.least_diameter_um, units)}
        )
    if slip.most_height_mm:
        said.append(_("No hole higher than %(height)s.") % {"height": length_words(slip.most_height_mm, units)})
    if slip.largest_bit_um:
        bit = diameter_words(slip.largest_bit_um, units, bit=True)
        said.append(_("No hole wider than %(size)s.") % {"size": bit})
    if slip.most_depth_mm:
        said.append(_("No hole deeper than %(depth)s.") % {"depth": length_words(slip.most_depth_mm, units)})
    if slip.conditions.strip():
        said.append(slip.conditions.strip())
    return said
