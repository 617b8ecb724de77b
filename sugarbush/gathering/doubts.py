"""Two kinds of doubt about an entry: what puts it to review, and what is only asked once more before saving."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from sugarbush.core.units import from_ml, to_ml
from sugarbush.gathering.models import Outcome
from sugarbush.owners.models import OwnerKind
from sugarbush.parts.wording import volume_words
from sugarbush.seasons.models import Season
from sugarbush.taps.facts import TreeFacts, read_facts
from sugarbush.taps.models import Tap
from sugarbush.trees.models import Land, Tree

LEAST_BRIX, MOST_BRIX = Decimal("0.8"), Decimal("5.0")  # outside is asked about; design choice, trade-facts 9.3
FULLEST = Decimal("1.1")  # a pail holds a little more than its mark


@dataclass(frozen=True, kw_only=True)
class Doubt:
    """A question to the person before saving. `meant_ml` is what they probably meant, where that can be told."""

    code: str
    sentence: str
    meant_ml: int | None = None


def tap_in_at(facts: TreeFacts, when: dt.datetime) -> Tap | None:
    """The tap whose spout was in the tree at that moment; of two, the one placed first."""
    return next((t for t in facts.taps if t.placed_at <= when and (t.out_at is None or when <= t.out_at)), None)


def review_reasons(*, facts: TreeFacts, when: dt.datetime, outcome: str) -> list[str]:
    """Why an entry is kept but not counted yet; empty means it counts.

    A removal visit always goes through. No tap in at that time, a tap still to settle, or a permission that did not
    count at that moment each put the entry to review.
    """
    if outcome == Outcome.REMOVAL:
        return []
    local = timezone.localtime(when)
    reasons = []
    tap = tap_in_at(facts, when)
    at = date_format(local, "j F, H:i")
    if tap is None:
        reasons.append(str(_("This tree had no tap at %(time)s.") % {"time": at}))
    elif tap.state == "to_settle":
        reasons.append(str(_("The tap in this tree is still to settle.")))
    if not permitted_at(facts, when):
        reasons.append(str(_("No permission for this tree counted at %(time)s.") % {"time": at}))
    if when > timezone.now() + dt.timedelta(minutes=10):
        reasons.append(str(_("The time of the entry lies in the future.")))
    return reasons


def permitted_at(facts: TreeFacts, when: dt.datetime) -> bool:
    """Whether every owner's yes counted at a moment that may be past."""
    day = timezone.localdate(when)
    live = [p for p in facts.permissions if p.live_at(when, day)]
    said = {p.owner_id for p in live}
    tree = facts.tree
    if tree.land == Land.UNKNOWN or any(row.owner_id not in said for row in facts.owners):
        return False
    if tree.land == Land.PUBLIC:
        return any(p.owner.kind == OwnerKind.PUBLIC for p in live)
    return facts.someone_owns()


def odd_numbers(
    *,
    facts: TreeFacts,
    season: Season,
    when: dt.datetime,
    volume_ml: int,
    sugar_brix: Decimal | None,
    units: str,
) -> list[Doubt]:
    """Questions about numbers that look like a slip. They never refuse: with a note the entry stands."""
    doubts = []
    taps = [t for t in facts.taps if t.placed_at <= when and (t.out_at is None or when <= t.out_at)]
    pail_ml = sum(t.container_ml for t in taps) or 8_000
    if volume_ml > pail_ml * FULLEST:
        times = (Decimal(volume_ml) / pail_ml).quantize(Decimal("0.1"), ROUND_HALF_UP).normalize()
        meant = meant_ml(volume_ml, pail_ml, units)
        sentence = _("%(given)s from a pail of %(pail)s is %(times)s pails.") % {
            "given": volume_words(volume_ml, units),
            "pail": volume_words(pail_ml, units),
            "times": f"{times:f}",
        }
        if meant is not None:
            sentence += " " + _("Did you mean %(meant)s?") % {"meant": volume_words(meant, units)}
        doubts.append(Doubt(code="pails", sentence=sentence, meant_ml=meant))
    if sugar_brix is not None and not LEAST_BRIX <= sugar_brix <= MOST_BRIX:
        doubts.append(
            Doubt(
                code="brix",
                sentence=_("Maple sap usually has %(low)s to %(high)s °Brix; this says %(given)s.")
                % {"low": LEAST_BRIX, "high": MOST_BRIX, "given": sugar_brix},
            )
        )
    local = timezone.localdate(when)
    if not season.tapping_from <= local <= season.tapping_to:
        doubts.append(
            Doubt(code="day", sentence=_("%(day)s is outside the season.") % {"day": date_format(local, "j F Y")})
        )
    return doubts


def meant_ml(volume_ml: int, pail_ml: int, units: str) -> int | None:
    """What was probably meant: a decimal point left out, or the other system's unit. None when neither fits.

    A whole number most likely lacks its point: 15 gal for 1.5. One that has a point has none to lack, so the unit is
    the likelier slip: 6.5 gal for 6.5 L.
    """
    tenth = int((Decimal(volume_ml) / 10).to_integral_value(ROUND_HALF_UP))
    guesses = [tenth]
    if units == "us":
        gallons = from_ml(volume_ml, "gal")
        litres = int((gallons * 1000).to_integral_value(ROUND_HALF_UP))
        whole = to_ml(gallons.to_integral_value(ROUND_HALF_UP), "gal") == volume_ml
        guesses = [tenth, litres] if whole else [litres, tenth]
    return next((guess for guess in guesses if guess <= pail_ml * FULLEST), None)


def facts_of(tree: Tree, season: Season) -> TreeFacts:
    return read_facts([tree.pk], season)[tree.pk]
