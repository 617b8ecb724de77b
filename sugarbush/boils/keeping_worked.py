"""How a tank's boil-by was worked out, for the panel under it."""

from __future__ import annotations

from decimal import Decimal

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from sugarbush.boils.climate import Stretch
from sugarbush.boils.keeping import TankKeeping, hours_words, moment_words
from sugarbush.core.keeping import growth_weight
from sugarbush.parts.shown import in_words
from sugarbush.parts.worked import Working, working

SHOWN_STRETCHES = 8


def keeping_worked(keeping: TankKeeping, units: str) -> Working:
    """The three clocks with their hours, the last stretches of time, what was assumed, and the sources."""
    rows: list[tuple[str, object]] = [
        (_("Oldest sap left its tree"), moment_words(keeping.oldest_at)),
        (_("Looked at"), moment_words(keeping.at)),
    ]
    for clock in keeping.clocks:
        used = _("%(used)s of %(limit)s") % {"used": hours_words(clock.used_h), "limit": hours_words(clock.limit_h)}
        out = "" if clock.runs_out_at is None else f"; {_('runs out')} {moment_words(clock.runs_out_at)}"
        rows.append((clock.label, f"{used}{out}{'; ' + _('this one rules') if clock.rules else ''}"))
    rows += [(_stretch_name(one), _stretch_words(one, keeping, units)) for one in keeping.spells[-SHOWN_STRETCHES:]]
    sums = [
        _("the earliest of three clocks"),
        f"{moment_words(keeping.oldest_at)} + {hours_words(keeping.policy.limit_h)} = "
        f"{moment_words(keeping.clocks[0].runs_out_at or keeping.at)}"
        if keeping.ruling.name == "days" and not keeping.is_late
        else keeping.sentence(),
    ]
    return working(
        "keeping.boil_by",
        "keeping.growth_weight",
        "keeping.history_spells",
        units=units,
        inputs={"temperature_c": Decimal(str(round(keeping.temperature_c, 1)))},
        rows=rows,
        sums=sums,
        notes=keeping.assumed(units),
    )


def _stretch_name(one: Stretch) -> str:
    begins, ends = timezone.localtime(one.begins), timezone.localtime(one.ends)
    return f"{date_format(begins, 'j M, H:i')} – {date_format(ends, 'H:i')}"


def _stretch_words(one: Stretch, keeping: TankKeeping, units: str) -> str:
    warm = in_words("temperature", Decimal(str(round(one.spell.temperature_c, 1))), units)
    if one.spell.frozen_solid:
        return _("%(warm)s, frozen right through: the clocks stand still") % {"warm": warm}
    weight = growth_weight(one.spell.temperature_c, policy=keeping.policy)
    words = _("%(warm)s, an hour counts as %(weight)s h") % {"warm": warm, "weight": f"{weight:.2f}"}
    basis = {
        "log": _("written down"),
        "usual": _("usual there"),
        "weather": _("the day’s weather"),
        "guess": _("a careful guess"),
    }[one.basis]
    return f"{words} ({basis})"
