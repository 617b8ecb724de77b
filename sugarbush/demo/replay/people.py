"""The programme opens; its people, groups, depots, pails and tanks come in."""

from __future__ import annotations

import datetime as dt

from django.utils import timezone

from sugarbush.audit.models import record
from sugarbush.demo import town
from sugarbush.demo.replay.cast import Cast, Plan, season_of
from sugarbush.demo.replay.clock import Story
from sugarbush.kit.actions import add_containers, add_depot
from sugarbush.sap.models import Vessel, VesselKind
from sugarbush.seasons.actions import open_programme, prepare_season, step
from sugarbush.seasons.models import Programme, SeasonState
from sugarbush.volunteers.actions import add_group, add_person, give_role, make_first_coordinator, record_credential
from sugarbush.volunteers.changing import change, edition_of
from sugarbush.volunteers.models import Group

BEGUN = -520
"""The day the programme opened its books, counted from the season's first: the autumn before last year's season."""
SEASON_DAYS = 58
LOCAL_RULES = (
    "Quillhaven asks for its permit before any town tree is tapped, with pails kept off the walk and every spout out "
    "by the last day of the permit. The Parks and Streets Office answers questions. Fires outdoors need the fire "
    "hall's word on the day. Syrup is given away, not sold."
)
_PAIL_ML, _PAILS = 11_000, 42
_CAN_ML, _CANS = 20_000, 30
_TANK_C = 3


def write(story: Story, cast: Cast, plan: Plan) -> None:
    """Everything about people and kit, and the steps of both seasons."""
    story.add(story.moment(BEGUN, 18), _open, cast, plan)
    story.add(story.moment(BEGUN, 19), _bring_people, cast)
    story.add(story.moment(BEGUN, 20), _set_up_kit, cast, plan)
    last = plan.year - 1
    story.add(story.moment(-400, 19), _prepare_tanks, cast, last)
    _steps(story, cast, last, opened=-400, tapping=-362, running=-355, ending=-317, closed=-300)
    story.add(story.moment(-160, 19), _prepare, cast, plan)
    _steps(story, cast, plan.year, opened=-155, tapping=4, running=8)


def _open(cast: Cast, plan: Plan) -> None:
    """The first coordinator comes in by the link, says who she is and opens the programme with its first season."""
    odile = make_first_coordinator()
    told = town.people()[0]
    values = {"display_name": told.display_name, "email": told.email, "carry_limit_g": told.carry_limit_g}
    odile = change(row=odile, by=odile, values=values, seen=edition_of(odile, values), act="change person")
    programme = open_programme(
        by=odile,
        name=town.PROGRAMME,
        place=town.PLACE,
        time_zone=town.TIME_ZONE,
        default_units="us",
        year=plan.year - 1,
        tapping_from=plan.last_first_day,
        tapping_to=plan.last_first_day + dt.timedelta(days=SEASON_DAYS),
        tag_prefix="QH",
        phone="555-0140",
        local_rules=LOCAL_RULES,
        box=town.box_deg(),
    )
    Programme.objects.filter(pk=programme.pk).update(is_demo=True)
    units = {"units": told.units}
    cast.people["odile"] = change(row=odile, by=odile, values=units, seen=edition_of(odile, units), act="change person")
    # Nobody else has joined yet, so she vouches for herself; it counts from the next day.
    for kind in told.credentials:
        record_credential(by=cast.coordinator, person=cast.coordinator, kind=kind, valid_from=timezone.localdate())


def _bring_people(cast: Cast) -> None:
    odile, today = cast.coordinator, timezone.localdate()
    for name in town.GROUPS:
        cast.groups[name] = add_group(by=odile, name=name, area=town.group_area_geojson(name))
    for told in town.people()[1:]:
        (role, group), *more = told.roles
        person = add_person(
            by=odile,
            display_name=told.display_name,
            role=role,
            group=_group(cast, group),
            email=told.email,
            units=told.units,
            age_band=told.age_band,
            carry_limit_g=told.carry_limit_g,
        )
        for role, group in more:
            give_role(by=odile, person=person, role=role, group=_group(cast, group))
        for kind in told.credentials:
            record_credential(by=odile, person=person, kind=kind, valid_from=today)
        cast.people[told.key] = person


def _group(cast: Cast, name: str | None) -> Group | None:
    return cast.groups[name] if name else None


def _set_up_kit(cast: Cast, plan: Plan) -> None:
    odile, cuthbert = cast.coordinator, cast.people["cuthbert"]
    for told in town.depots():
        cast.depots[told.name] = add_depot(
            by=odile,
            groups=[cast.groups[name] for name in told.groups],
            name=told.name,
            place=told.address,
            hours=told.hours,
            keyholder=cast.people[told.keyholder].display_name,
        )
    pails = max(_PAILS, len(plan.season.taps))
    for letters, count, capacity_ml in (("PAIL", pails, _PAIL_ML), ("CAN", _CANS, _CAN_ML)):
        codes = [f"{letters}-{number:02d}" for number in range(1, count + 1)]
        made = add_containers(
            by=cuthbert, codes=codes, capacity_ml=capacity_ml, material="food-grade plastic", food_safe="yes"
        )
        cast.containers.update((container.code, container) for container in made)


def _prepare(cast: Cast, plan: Plan) -> None:
    prepare_season(
        by=cast.coordinator,
        year=plan.year,
        tapping_from=plan.first_day,
        tapping_to=plan.first_day + dt.timedelta(days=SEASON_DAYS),
    )
    _prepare_tanks(cast, plan.year)


def _prepare_tanks(cast: Cast, year: int) -> None:
    """The season's tanks, as the page for a new tank makes them."""
    season = season_of(year)
    for told in town.depots():
        for code, capacity_ml in told.tanks:
            cast.tanks[code] = Vessel.objects.create(
                kind=VesselKind.TANK,
                season=season,
                depot=cast.depots[told.name],
                code=code,
                capacity_ml=capacity_ml,
                usual_temperature_c=_TANK_C,
            )
            record(by=cast.people["cuthbert"], act="set up tank", subject=cast.tanks[code])


def _steps(
    story: Story, cast: Cast, year: int, *, opened: int, tapping: int, running: int,
    ending: int | None = None, closed: int | None = None,
) -> None:  # fmt: skip
    days = {
        SeasonState.OPEN: opened, SeasonState.TAPPING: tapping, SeasonState.RUNNING: running,
        SeasonState.ENDING: ending, SeasonState.CLOSED: closed,
    }  # fmt: skip
    for state, day in days.items():
        if day is not None:
            story.add(story.moment(day, 20 if state == SeasonState.CLOSED else 7), _step, cast, year, state)


def _step(cast: Cast, year: int, to: str) -> None:
    step(by=cast.coordinator, season=season_of(year), to=to)
