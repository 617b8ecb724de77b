"""Papers for the pan: the plan of a boiling day, the batch sheet for the clipboard, the card of fire and hot syrup."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from django.http import Http404
from django.utils import timezone
from django.utils.formats import date_format, time_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.boils.models import BoilDay
from sugarbush.boils.pan import Water, water_today
from sugarbush.boils.plan import FUEL_NAMES, fuel_words, jar_words, plan_of, time_words
from sugarbush.papers import blocks as b
from sugarbush.papers.kinds import Asked, Kind, Part, register
from sugarbush.parts.wording import temperature_words, volume_words
from sugarbush.volunteers import access

ROWS = {"a4": 22, "us-letter": 19}
"""So many lines leave the batch sheet on one page."""
NBSP = "\u00a0"


def day_asked(asked: Asked) -> BoilDay:
    access.require(asked.person, "delivery.see", anywhere=True)
    key = str(asked.choices.get("day", ""))
    rows = BoilDay.objects.select_related("season", "lead").prefetch_related("crew", "shifts__people")
    found = rows.filter(pk=int(key)).first() if key.isdecimal() and len(key) < 12 else None
    if found is None:
        raise Http404
    return found


def gather(asked: Asked) -> Sequence[Part]:
    """The plan, a batch sheet and the safety card, each with its own number."""
    day = day_asked(asked)
    return [_plan(asked, day), _batch_sheet(asked, day), _card(asked, day)]


def safety_lines(day: BoilDay) -> list[tuple[bool, str]]:
    names = ("outdoors", "two_adults", "children_line", "extinguisher", "first_aid", "dry_wood", "fire_permission")
    words = [str(BoilDay._meta.get_field(name).verbose_name) for name in names]  # type: ignore[union-attr]
    return [(bool(getattr(day, name)), word[:1].upper() + word[1:]) for name, word in zip(names, words, strict=True)]


def _far_words(clear_mm: int, units: str) -> str:
    """A distance to step off: whole metres or feet."""
    return f"{clear_mm / 304.8:.0f}{NBSP}ft" if units == "us" else f"{clear_mm / 1000:.0f}{NBSP}m"


def _when(day: BoilDay) -> str:
    return date_format(day.day, "l j F Y")


def _plan(asked: Asked, day: BoilDay) -> Part:
    plan, water, units = plan_of(day), water_today(day), asked.units
    ends = plan.ends(day)
    fire = _("not written down")
    if day.starts_at:
        fire = time_format(timezone.localtime(day.starts_at), "H:i")
        if ends:
            fire += ", " + _("out at about %(at)s") % {"at": date_format(timezone.localtime(ends), "D H:i")}
    rows = [
        (_("Where"), day.site),
        (_("Lead"), ", ".join(one for one in (day.lead.display_name, asked.programme.phone) if one)),
        (_("Fire lit at"), fire),
        (_("Rain date"), date_format(day.rain_day, "l j F") if day.rain_day else _("none")),
        (_("Sap"), volume_words(plan.sap.volume_ml, units)),
        (
            _("Syrup to expect"),
            f"{volume_words(plan.syrup_ml, units)}, {plan.sap.syrup_brix}{NBSP}°Brix" if plan.syrup_ml else _("none"),
        ),
    ]
    if plan.boil:
        hours = {"boil": time_words(plan.boil.boiling_h), "heat": time_words(plan.boil.heat_up_h)}
        rows += [
            (_("Hours"), _("%(boil)s boiling, %(heat)s heat-up") % hours),
            (
                _("Fuel"),
                f"{FUEL_NAMES.get(day.fuel, day.fuel)}: {fuel_words(plan.fuel, units)}"
                if plan.fuel
                else _("not chosen"),
            ),
            (
                _("On hand"),
                _("%(jars)d clean jars of %(jar)s, %(filters)d filters")
                % {"jars": plan.jars(units), "jar": jar_words(units), "filters": plan.filters},
            ),
        ]
    rows += [(_("Draw off at"), _draw_off(water, units)), (_("Wind and smoke"), day.wind)]
    shifts = [
        [
            "–".join(time_format(timezone.localtime(at), "H:i") for at in (shift.begins, shift.ends)),
            ", ".join(one.display_name for one in shift.people.all()) or "",
        ]
        for shift in day.shifts.all()
    ]
    found = [b.title(_("Boiling day")), b.para(_when(day), size=13, bold=True), b.space(1), b.pairs(rows)]
    found += [b.heading(_("Crew by shift"))]
    if shifts:
        found.append(b.table([_("Hours"), _("At the pan")], shifts, widths=[1, 4]))
    else:
        crew = ", ".join(one.display_name for one in day.crew.all())
        found.append(b.para(crew or _("No shift is laid out yet.")))
    found += [b.heading(_("Tick each at the fire")), b.ticks(safety_lines(day)), b.space(2)]
    said = []
    if day.fire_permit:
        said.append(_("Fire permission: %(what)s.") % {"what": day.fire_permit})
    if day.clear_mm:
        said.append(_("Nearest building %(far)s away.") % {"far": _far_words(day.clear_mm, units)})
    if said:
        found.append(b.para(" ".join(said)))
    found.append(b.para(_("Your fire officer’s word comes first."), bold=True))
    return Part(subject=f"boil-plan:{day.pk}", title=_("Plan of a boiling day"), content={"blocks": found})


def _draw_off(water: Water, units: str) -> str:
    finish = temperature_words(Decimal(str(round(water.finish_c, 1))), units)
    if water.is_measured:
        return _("%(degrees)s, by today’s boiling water") % {"degrees": finish}
    return _("%(degrees)s, by the height above the sea; boil water that morning: ________") % {"degrees": finish}


def _batch_sheet(asked: Asked, day: BoilDay) -> Part:
    """What is written at the pan when no phone is dry enough."""
    metric = asked.units != "us"
    heads = [
        _("Time"),
        _("Sap in (%(unit)s)") % {"unit": "L" if metric else "gal"},
        _("From tank"),
        _("Level (%(unit)s)") % {"unit": "cm" if metric else "in"},
        _("Boils at (%(unit)s)") % {"unit": "°C" if metric else "°F"},
        _("Drawn off (%(unit)s)") % {"unit": "L" if metric else "gal"},
        _("°Brix"),
        _("What happened"),
        _("Who"),
    ]
    found = [
        b.title(_("Batch sheet"), size=18),
        b.columns(
            [b.para(_when(day), bold=True), b.blank_lines(_("Batch"), _("Fire lit at"), _("Fire out at"))],
            [b.para(day.site), b.blank_lines(_("Water boils at"), _("Draw off at"), _("Fuel used"))],
        ),
        b.space(2),
        b.table(
            heads,
            [[""] * len(heads)] * ROWS[asked.paper],
            widths=[1.1, 1.3, 1.1, 1.1, 1.2, 1.3, 1, 2.6, 1.1],
            row_mm=6.6,
            size=8.5,
        ),
        b.para(
            _("Look at the pan every quarter of an hour; write a line each time. Key it in at the day’s page."),
            soft=True,
        ),
    ]
    return Part(subject=f"batch-sheet:{day.pk}", title=_("Batch sheet"), content={"blocks": found})


def _card(asked: Asked, day: BoilDay) -> Part:
    """Hung beside the pan, to be read from three steps away."""
    found = [
        b.poster(_("Hot sugar: children behind this line"), size=34),
        b.space(3),
        b.boxed(
            _("Fire"),
            _("Boil outdoors only: carbon monoxide from wood, charcoal or propane kills indoors."),
            _("Two adults stay at the pan, always. Nobody leaves the fire."),
            _("Water and an extinguisher stand here: ______________________"),
            size=15,
        ),
        b.boxed(
            _("Hot syrup"),
            _("It sticks and burns worse than water. Long sleeves, closed shoes, gloves."),
            _("A pan runs dry and scorches in minutes: keep the sap deep, watch it near the end."),
            _("It boils over at once: a drop of butter or a cold ladle of sap, and off the fire."),
            size=15,
        ),
        b.boxed(
            _("A burn"),
            _("Cold running water for twenty minutes, nothing else on it. Then call for help."),
            _("Emergency: ____________   This place: %(place)s") % {"place": day.site},
            size=15,
        ),
        b.para(_("Your fire officer’s word and local rules come first."), size=13, bold=True),
    ]
    return Part(subject=f"safety-card:{day.pk}", title=_("Fire and hot syrup"), content={"blocks": found})


BOIL = register(
    Kind(
        key="boil-day",
        label=gettext_lazy("Papers of a boiling day"),
        layout="report.typ",
        version="1",
        gather=gather,
        may=day_asked,
        form="BoilDayForm",
        file_name="boiling-day",
        note=gettext_lazy("The plan with its crew, a batch sheet for the clipboard, and the card to hang at the pan."),
    )
)
