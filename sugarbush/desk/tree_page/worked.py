"""How many taps, worked out in the open: the size, each rule with its source, and the smallest of them."""

from __future__ import annotations

import datetime as dt

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.core.trunk import CONSERVATIVE
from sugarbush.parts.shown import in_words
from sugarbush.parts.worked import Working, working
from sugarbush.seasons import guidelines
from sugarbush.taps.facts import TreeFacts
from sugarbush.taps.said import day
from sugarbush.trees.records import Verdict


def taps_words(count: int) -> str:
    return ngettext("%(n)d tap", "%(n)d taps", count) % {"n": count}


NEAR_UM = 5_000
"""A trunk within 5 mm of a limit is told so, to the last digit: a tape is good to about a millimetre."""


def worked_out(facts: TreeFacts, on: dt.date, act: str, units: str) -> Working | None:
    """The working; None while there is no season or no size to work with."""
    tree, season = facts.tree, facts.season
    if season is None or not tree.diameter_um:
        return None
    allowance = facts.allowance(on, act)
    rules = [(_("Size rule"), _band(facts, units))]
    rules += _edges(tree.diameter_um, season.thresholds_um, units)
    for slip in facts.live(on, act):
        if slip.most_taps is not None:
            rules.append((slip.label, _("at most %(taps)s") % {"taps": taps_words(slip.most_taps)}))
        if slip.least_diameter_um:
            least = in_words("diameter", slip.least_diameter_um, units)
            rules.append((slip.label, _("from %(least)s across") % {"least": least}))
    rules.append((_("Health"), _health(facts)))
    rules.append((_("Smallest of these"), taps_words(allowance.taps)))
    holes = ngettext("%(n)d hole", "%(n)d holes", allowance.holes) % {"n": allowance.holes}
    rules.append((_("Holes this season"), _("%(holes)s, whatever became of them") % {"holes": holes}))
    rules.append((_("Left"), taps_words(allowance.left)))
    frozen = _("Rule of the %(year)d season.") % {"year": season.year}
    if season.frozen_at:
        frozen = _("Rule of the %(year)d season, frozen on %(day)s.") % {
            "year": season.year,
            "day": day(season.frozen_at.date()),
        }
    own = season.thresholds_um != CONSERVATIVE.thresholds_um
    round_ = tree.size_as_given.rstrip().endswith("round")
    return working(
        "trunk.allowed_taps",
        *(["trunk.diameter_from_girth_um"] if round_ else []),
        of=_("how many taps"),
        units=units,
        sums=[_sum(facts, units)],
        rows=rules,
        words=guidelines.sentence(season, units)
        + " "
        + _("A permission, a permit or a health check may lower the number. Nothing raises it."),
        notes=[
            frozen,
            _("The programme’s own rule, at least as strict as the conservative guideline.")
            if own
            else _("Conservative guideline."),
        ],
    )


def _edges(size_um: int, thresholds_um: tuple[int, ...], units: str) -> list[tuple[str, str]]:
    """A trunk that lies near a limit: by how much, to the stored digit."""
    said = []
    for taps, limit_um in enumerate(thresholds_um, start=1):
        beyond_um = size_um - limit_um
        if abs(beyond_um) >= NEAR_UM:
            continue
        names = {
            "size": in_words("diameter", size_um, units, exact=True),
            "limit": in_words("diameter", limit_um, units, exact=True),
            "by": in_words("diameter", abs(beyond_um), units, exact=True),
            "taps": taps_words(taps),
        }
        if beyond_um < 0:
            text = _("%(size)s is %(by)s under the %(limit)s for %(taps)s")
        elif beyond_um > 0:
            text = _("%(size)s is %(by)s over the %(limit)s for %(taps)s")
        else:
            text = _("%(size)s is just the %(limit)s for %(taps)s")
        said.append((_("Close to a limit"), text % names))
    return said


def _sum(facts: TreeFacts, units: str) -> str:
    """ "girth ÷ π = 141 cm ÷ 3.1416 = 44.9 cm across", or the diameter as it was given."""
    size, given = facts.tree.diameter_um, facts.tree.size_as_given
    across = in_words("diameter", size, units)
    if given.rstrip().endswith("round"):
        girth = in_words("girth", size, units)
        return _("girth ÷ π = %(girth)s ÷ 3.1416 = %(across)s across") % {"girth": girth, "across": across}
    return _("measured %(across)s across") % {"across": across}


def _band(facts: TreeFacts, units: str) -> str:
    season, size = facts.season, facts.tree.diameter_um or 0
    if season is None:
        return ""
    first = in_words("diameter", season.first_tap_um, units)
    if size < season.first_tap_um:
        return _("under %(first)s across: no tap") % {"first": first}
    if season.second_tap_um is None:
        return _("from %(first)s across: 1 tap, never more") % {"first": first}
    second = in_words("diameter", season.second_tap_um, units)
    if size < season.second_tap_um:
        return _("%(first)s to under %(second)s across: 1 tap") % {"first": first, "second": second}
    return _("from %(second)s across: 2 taps, never more") % {"second": second}


def _health(facts: TreeFacts) -> str:
    if facts.check is None:
        return _("not checked")
    return {
        Verdict.PASS: _("pass: no lower limit"),
        Verdict.WATCH: _("watch: at most 1 tap"),
        Verdict.FAIL: _("fail: no tap"),
    }[Verdict(facts.check.verdict)]
