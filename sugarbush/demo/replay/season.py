"""A season replayed: trees given out, taps, visits, deliveries, boiling days, pulled spouts, and the weather."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from decimal import Decimal

from sugarbush.audit.models import record
from sugarbush.boils.actions import Line, accept_delivery
from sugarbush.boils.batches import CHECKLIST, close_batch, light, open_batch, put_out
from sugarbush.boils.draw_offs import draw_off
from sugarbush.boils.looks import look
from sugarbush.boils.models import Batch, BoilDay, BoilState
from sugarbush.boils.shifts import keep_shift
from sugarbush.demo.programme import READY, DemoTree
from sugarbush.demo.records import DemoBoil, DemoDelivery, DemoPull, DemoSeason, DemoTap, DemoVisit
from sugarbush.demo.replay.cast import Cast, Plan, season_of
from sugarbush.demo.replay.clock import Story
from sugarbush.gathering.actions import Visit, log_visit
from sugarbush.taps.actions import NewHole, assign_trees, place_tap, take_out
from sugarbush.taps.models import Tap
from sugarbush.weather.actions import write_day
from sugarbush.weather.models import WeatherDay

GIVEN_DAY = 2
CALLED_BEFORE_DAYS = 2
FORECAST_DAYS = 3
NEXT_BOIL_IN_DAYS = 2
_ELEVATION_M = 186
_CLEAR_MM = 12_000
_AT_THE_PAN = ((0.25, "4.5"), (0.5, "9"), (0.75, "24"))  # how far the day is, and what the refractometer said
_FINISH_C = Decimal("103.3")


def write(story: Story, cast: Cast, plan: Plan, today: dt.date) -> None:
    """Last year's season whole, this year's up to yesterday."""
    last_given = (plan.last_first_day - plan.first_day).days + GIVEN_DAY
    _give(story, cast, plan.last_trees, last_given)
    _play(story, cast, plan.last_season, plan.year - 1)
    # Besides the trees that get a tap, one ready tree of each group is given out and waits for its tap.
    spare = {tree.group: tree for tree in reversed(plan.trees) if tree.state == READY}
    _give(story, cast, [*(tree for tree in plan.trees if tree.taps), *spare.values()], GIVEN_DAY)
    yesterday = today - dt.timedelta(days=1)
    _play(story, cast, plan.season.until(yesterday), plan.year)
    _write_weather(story, cast, plan, yesterday)
    called = story.moment(yesterday, 19, 45)
    story.add(called, _call_next, story, cast, plan, today + dt.timedelta(days=NEXT_BOIL_IN_DAYS))


def _give(story: Story, cast: Cast, trees: Sequence[DemoTree], day: int) -> None:
    for nth, group in enumerate(dict.fromkeys(tree.group for tree in trees)):
        mine = [tree for tree in trees if tree.group == group]
        story.add(story.moment(day, 20, 5 * nth), _assign, cast, group, mine)


def _assign(cast: Cast, group: str, trees: list[DemoTree]) -> None:
    given = assign_trees(trees=cast.trees_of(trees), group=cast.groups[group], by=cast.lead(group))
    for tree, reasons in given.refused:
        raise ValueError(f"{tree.code} cannot be given out: {' '.join(str(reason) for reason in reasons)}")


def _play(story: Story, cast: Cast, season: DemoSeason, year: int) -> None:
    for tap in season.taps:
        story.add(tap.placed_at, _tap, cast, tap)
    for visit in season.visits:
        story.add(visit.happened_at, _visit, cast, visit)
    for delivery in season.deliveries:
        story.add(delivery.happened_at, _deliver, cast, delivery)
    for boil in season.boils:
        called = boil.lit_at - dt.timedelta(days=CALLED_BEFORE_DAYS, hours=-11)
        days: list[BoilDay] = []
        batches: list[Batch] = []
        story.add(called, _call, cast, boil, year, days)
        story.add(boil.lit_at, _light, cast, boil, days)
        story.add(boil.lit_at + dt.timedelta(minutes=20), _fill, cast, boil, days, batches)
        for share, brix in _AT_THE_PAN:
            story.add(boil.lit_at + (boil.out_at - boil.lit_at) * share, _look, cast, boil, batches, brix)
        story.add(boil.out_at - dt.timedelta(minutes=50), _draw_first, cast, boil, batches)
        story.add(boil.out_at, _draw_off, cast, boil, days, batches)
    for pull in season.pulls:
        story.add(pull.pulled_at, _pull, cast, pull, year)


def _tap(cast: Cast, tap: DemoTap) -> None:
    place_tap(
        tree=cast.trees[tap.tree_no],
        by=cast.people[tap.by],
        hole=NewHole(height_mm=tap.height_mm, aspect_deg=tap.aspect_deg, bit_um=tap.bit_um, depth_mm=tap.depth_mm),
        shavings=tap.shavings,
        placed_at=tap.placed_at,
        confirmed=True,
        container=cast.containers[tap.container],
        tap_id=tap.uuid,
    )


def _visit(cast: Cast, visit: DemoVisit) -> None:
    log_visit(
        tree=cast.trees[visit.tree_no],
        by=cast.people[visit.person],
        visit=Visit(
            outcome=visit.outcome,
            volume_ml=visit.volume_ml,
            discarded_ml=visit.discarded_ml,
            discard_reason=visit.discard_reason,
            sugar_brix=visit.sugar_brix,
            look=visit.look,
            note=visit.note,
        ),
        happened_at=visit.happened_at,
        entry_id=visit.uuid,
    )


def _deliver(cast: Cast, delivery: DemoDelivery) -> None:
    lines = [
        Line(
            volume_ml=can.volume_ml,
            tank=cast.tanks[can.tank] if can.tank else None,
            reject_reason=can.reject_reason,
            container=cast.containers[can.container],
            sugar_brix=can.sugar_brix,
            temperature_c=can.temperature_c,
            look=can.look,
        )
        for can in delivery.cans
    ]
    accept_delivery(
        depot=cast.depots[delivery.depot],
        person=cast.people[delivery.person],
        keeper=cast.people[delivery.keeper],
        lines=lines,
        all_of_it=delivery.all_of_it,
        happened_at=delivery.happened_at,
        delivery_id=delivery.uuid,
    )


def _call(cast: Cast, boil: DemoBoil, year: int, days: list[BoilDay]) -> None:
    """A boiling day as its page makes it, with every safety line ticked."""
    day = BoilDay.objects.create(
        season=season_of(year),
        day=boil.day,
        site=boil.site,
        elevation_m=_ELEVATION_M,
        pan_area_cm2=boil.pan_area_cm2,
        fire_permit="Quillhaven Fire Hall, by telephone",
        clear_mm=_CLEAR_MM,
        fuel="wood_kg",
        starts_at=boil.lit_at,
        state=BoilState.CALLED,
        lead=cast.people[boil.lead],
        **dict.fromkeys(CHECKLIST, True),
    )
    day.crew.set(cast.people[key] for key in boil.crew)
    record(by=cast.people[boil.lead], act="call boiling day", subject=day)
    half = boil.lit_at + (boil.out_at - boil.lit_at) / 2
    for begins, ends in ((boil.lit_at, half), (half, boil.out_at + dt.timedelta(minutes=30))):
        crew = [cast.people[key] for key in boil.crew]
        keep_shift(day=day, by=cast.people[boil.lead], begins=begins, ends=ends, people=crew)
    days.append(day)


def _light(cast: Cast, boil: DemoBoil, days: list[BoilDay]) -> None:
    light(day=days[0], by=cast.people[boil.lead])


def _fill(cast: Cast, boil: DemoBoil, days: list[BoilDay], batches: list[Batch]) -> None:
    takes = [(cast.tanks[code], volume_ml) for code, volume_ml in boil.sap]
    # Asked for only where some of the sap is past its boil-by; then it stands in the batch's record.
    said = "Looked at, smelled and tasted after a boil: clear and sweet."
    by = cast.people[boil.lead]
    batches.append(open_batch(day=days[0], by=by, takes=takes, approver=cast.coordinator, reason=said))


def _look(cast: Cast, boil: DemoBoil, batches: list[Batch], brix: str) -> None:
    look(batch=batches[0], by=cast.people[boil.crew[0]], sugar_brix=Decimal(brix))


def _draw_first(cast: Cast, boil: DemoBoil, batches: list[Batch]) -> None:
    """The larger part comes off before the pan runs shallow; the rest follows into the same lot."""
    by, first_ml = cast.people[boil.lead], round(boil.syrup_ml * 0.6)
    batches[0].refresh_from_db()
    draw_off(batch=batches[0], by=by, syrup_ml=first_ml, syrup_brix=boil.syrup_brix, temperature_c=_FINISH_C)


def _draw_off(cast: Cast, boil: DemoBoil, days: list[BoilDay], batches: list[Batch]) -> None:
    by = cast.people[boil.lead]
    batches[0].refresh_from_db()
    rest_ml = boil.syrup_ml - round(boil.syrup_ml * 0.6)
    draw_off(
        batch=batches[0],
        by=by,
        syrup_ml=rest_ml,
        syrup_brix=boil.syrup_brix,
        temperature_c=_FINISH_C,
        lot=batches[0].lot,
    )
    close_batch(batch=batches[0], by=by, syrup_ml=0)
    put_out(day=days[0], by=by)


def _pull(cast: Cast, pull: DemoPull, year: int) -> None:
    tree = cast.trees[pull.tree_no]
    tap = Tap.objects.get(tree=tree, season__year=year, position=pull.position)
    take_out(tap=tap, by=cast.people[pull.by])


def _write_weather(story: Story, cast: Cast, plan: Plan, yesterday: dt.date) -> None:
    for told in (*plan.last_season.weather, *plan.season.weather):
        ahead = (told.day - yesterday).days
        if ahead > FORECAST_DAYS:
            continue
        measured = ahead <= 0
        source = WeatherDay.Source.MEASURED if measured else WeatherDay.Source.FORECAST
        moment = story.moment(told.day if measured else yesterday, 21, max(0, ahead))
        story.add(moment, _weather, cast, told.day, source, told.min_c, told.max_c)


def _weather(cast: Cast, day: dt.date, source: str, low_c: Decimal, high_c: Decimal) -> None:
    write_day(by=cast.people["cuthbert"], day=day, source=source, low_c=low_c, high_c=high_c)


def _call_next(story: Story, cast: Cast, plan: Plan, day: dt.date) -> None:
    """The coming boiling day stands in the list; its fire permission is still to be had."""
    coming = BoilDay.objects.create(
        season=season_of(plan.year),
        day=day,
        site=plan.season.boils[0].site,
        elevation_m=_ELEVATION_M,
        pan_area_cm2=plan.season.boils[0].pan_area_cm2,
        clear_mm=_CLEAR_MM,
        fuel="wood_kg",
        starts_at=story.moment(day, 9, 0),
        rain_day=day + dt.timedelta(days=1),
        wind="Light from the west; the smoke goes over the mill pond.",
        lead=cast.people["ingrith"],
        **(dict.fromkeys(CHECKLIST, True) | {"fire_permission": False}),
        note="The fire hall gives its word on the day.",
    )
    coming.crew.set([cast.people["ingrith"], cast.coordinator])
    record(by=cast.people["ingrith"], act="call boiling day", subject=coming)
