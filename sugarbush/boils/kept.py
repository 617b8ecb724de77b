"""How one tank's sap keeps, in words: by when, which clock rules and why, and what had to be assumed."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.boils.climate import CAREFUL_C, Basis, Stretch
from sugarbush.core.keeping import WARM_C, Policy, SapAge, Standing, growth_weight
from sugarbush.parts.reasons import Reason
from sugarbush.parts.shown import in_words
from sugarbush.sap.models import Vessel
from sugarbush.seasons.models import Season

ClockName = Literal["days", "warmth", "log"]


def policy_of(season: Season) -> Policy:
    """The season's keeping rules: the core's own, or stricter."""
    return Policy(
        limit_h=season.keep_limit_h,
        soon_h=season.keep_soon_h,
        warm_limit_h=min(season.keep_warm_h, season.keep_limit_h),
    )


def moment_words(at: dt.datetime) -> str:
    """A moment on the programme's clock, such as "Thursday 12 March, 18:00"."""
    return date_format(timezone.localtime(at), "l j F, H:i")


def hours_words(hours: float) -> str:
    """A stretch of time in days and hours: "4 days 6 h"."""
    whole = max(0, round(hours))
    days, rest = divmod(whole, 24)
    if not days:
        return _("%(h)d h") % {"h": rest}
    words = ngettext("%(n)d day", "%(n)d days", days) % {"n": days}
    return f"{words} " + _("%(h)d h") % {"h": rest} if rest else words


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """One clock: how far it is, where it ends, when it runs out, and whether it is the one that rules.

    runs_out_at: None where it does not run at this temperature.
    """

    name: ClockName
    used_h: float
    limit_h: float
    runs_out_at: dt.datetime | None
    rules: bool = False

    @property
    def label(self) -> str:
        return {
            "days": _("since it left the tree"),
            "warmth": _("with warm hours counted more"),
            "log": _("above the warm mark, by the log of the sap"),
        }[self.name]

    @property
    def is_out(self) -> bool:
        return self.used_h > self.limit_h

    @property
    def share_pct(self) -> int:
        return min(100, round(100 * self.used_h / self.limit_h)) if self.limit_h else 100


@dataclass(frozen=True, slots=True, kw_only=True)
class TankKeeping:
    """How one tank's sap keeps at a moment.

    oldest_at: when the oldest of it left its tree.  entered: False where nobody entered it and its delivery counts.
    boil_by_at: the moment the first clock runs out; in the past where it is late.  temperature_c, basis: from now on.
    spells: the stretches it stood in this tank, the newest last.
    """

    tank: Vessel
    volume_ml: int
    at: dt.datetime
    oldest_at: dt.datetime
    entered: bool
    age: SapAge
    policy: Policy
    standing: Standing
    boil_by_at: dt.datetime
    temperature_c: float
    basis: Basis
    clocks: tuple[Clock, ...]
    spells: tuple[Stretch, ...]

    @property
    def is_late(self) -> bool:
        return self.standing == "late"

    @property
    def is_soon(self) -> bool:
        return self.standing == "boil soon"

    @property
    def standing_words(self) -> str:
        return {"keeps": _("keeps"), "boil soon": _("boil soon"), "late": _("too late")}[self.standing]

    @property
    def ruling(self) -> Clock:
        return next(clock for clock in self.clocks if clock.rules)

    @property
    def left_h(self) -> float:
        """Hours left; below 0 where it is late."""
        return (self.boil_by_at - self.at).total_seconds() / 3600

    @property
    def old_h(self) -> float:
        return (self.at - self.oldest_at).total_seconds() / 3600

    def sentence(self) -> str:
        """The one line for lists and labels."""
        when = moment_words(self.boil_by_at)
        if self.is_late:
            return _("It was to be boiled by %(when)s, %(late)s ago.") % {
                "when": when,
                "late": hours_words(-self.left_h),
            }
        return _("Boil it by %(when)s: %(left)s left.") % {"when": when, "left": hours_words(self.left_h)}

    def why(self, units: str) -> str:
        """Which clock rules, and why it is that one."""
        warm = in_words("temperature", Decimal(str(round(self.temperature_c, 1))), units)
        limit = hours_words(self.policy.limit_h)
        if self.ruling.name == "days":
            return _("Sap keeps %(limit)s from the tree at most, however cold it stands.") % {"limit": limit}
        if self.ruling.name == "log":
            return _("The log shows it above %(mark)s; there it keeps %(limit)s at most.") % {
                "mark": in_words("temperature", Decimal(str(WARM_C)), units),
                "limit": hours_words(self.policy.warm_limit_h),
            }
        weight = growth_weight(self.temperature_c, policy=self.policy)
        return _("It stands at %(warm)s, where an hour counts as %(weight)s h; cold sap keeps %(limit)s.") % {
            "warm": warm,
            "weight": f"{weight:.1f}",
            "limit": limit,
        }

    def assumed(self, units: str) -> list[str]:
        """What was not known and had to be taken as something."""
        found = []
        warm = in_words("temperature", Decimal(str(round(self.temperature_c, 1))), units)
        if not self.entered:
            found.append(_("Nobody entered the oldest of it at a tree; it counts from its delivery."))
        found.append(
            {
                "log": _("It goes on at %(warm)s, the last temperature written down."),
                "usual": _("It goes on at %(warm)s, the usual temperature of this tank."),
                "weather": _("It goes on at %(warm)s, the mean of the day’s weather."),
                "guess": _("Nobody wrote a temperature down: %(warm)s is a careful guess."),
            }[self.basis]
            % {"warm": warm}
        )
        hours: dict[str, float] = defaultdict(float)
        for stretch in self.spells:
            hours[stretch.basis] += stretch.spell.hours
        for basis, words in (
            ("usual", _("For %(h)s nothing was written down; the tank’s usual temperature stands in.")),
            ("weather", _("For %(h)s nothing was written down; the day’s weather stands in.")),
            ("guess", _("For %(h)s nothing was written down; %(guess)s stands in, a careful guess.")),
        ):
            if hours[basis] >= 1:
                guess = in_words("temperature", Decimal(str(CAREFUL_C)), units)
                found.append(words % {"h": hours_words(hours[basis]), "guess": guess})
        return found

    def reasons(self, units: str) -> list[str]:
        """Everything in sentences: how old, by when, which clock and why."""
        return [
            _("The oldest of it left its tree on %(when)s, %(old)s ago.")
            % {"when": moment_words(self.oldest_at), "old": hours_words(self.old_h)},
            self.sentence(),
            self.why(units),
        ]

    def refusal(self, units: str) -> Reason | None:
        """Why this sap may not go into a pan without a named person's word; None while it keeps."""
        if not self.is_late:
            return None
        return Reason(
            code="late",
            fact=_("%(tank)s: its oldest sap was to be boiled by %(when)s.")
            % {"tank": self.tank, "when": moment_words(self.boil_by_at)},
            detail=self.why(units),
            next_text=_("Tip it out, or name who looked, smelled and decided, and why"),
            next_url=reverse("tank", args=[self.tank.pk]),
        )
