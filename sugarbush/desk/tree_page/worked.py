"""How many taps, worked out in the open: the size, each rule with its source, and the smallest of them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.core.trunk import CONSERVATIVE
from sugarbush.parts.shown import in_words
from sugarbush.taps.facts import TreeFacts
from sugarbush.taps.said import day
from sugarbush.trees.records import Verdict


@dataclass(frozen=True, kw_only=True)
class Worked:
    """The sum in one line, the rules by name, and where the size rule comes from."""

    sum: str
    rules: tuple[tuple[str, str], ...]
    source: str
    frozen: str


def taps_words(count: int) -> str:
    return ngettext("%(n)d tap", "%(n)d taps", count) % {"n": count}


def worked_out(facts: TreeFacts, on: dt.date, act: str, units: str) -> Worked | None:
    """The working; None while there is no season or no size to work with."""
    tree, season = facts.tree, facts.season
    if season is None or not tree.diameter_um:
        return None
    allowance = facts.allowance(on, act)
    rules = [(_("Size rule"), _band(facts, units))]
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
    return Worked(sum=_sum(facts, units), rules=tuple(rules), source=_source(facts), frozen=frozen)


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


def _source(facts: TreeFacts) -> str:
    """Where the sizes come from; both sources were read in their own words, of one the abstract."""
    season = facts.season
    if season is None or season.thresholds_um != CONSERVATIVE.thresholds_um:
        return _("The programme’s own rule, at least as strict as the conservative guideline.")
    # The same two sources as core.trunk.CONSERVATIVE names, with their standing in words.
    return _(
        "Conservative guideline. First tap from 12 in: Ohio State University Extension, January 2013. "
        "Second tap from 18 in: abstract of A History of Taps and Tree Size, mapleresearch.org."
    )
