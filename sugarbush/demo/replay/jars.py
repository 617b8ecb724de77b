"""From the pan to the shelf: lots packed and released, the rule of sharing, last year's shares handed out."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from django.utils import timezone

from sugarbush.boils.models import Batch
from sugarbush.demo.records import DemoBoil
from sugarbush.demo.replay.cast import Cast, Plan, season_of
from sugarbush.demo.replay.clock import Story
from sugarbush.lots.models import Lot
from sugarbush.lots.packing import Jars, Pack, pack
from sugarbush.lots.second_look import release
from sugarbush.sap.models import Vessel
from sugarbush.shares import handouts, queries, rules, runs
from sugarbush.shares.models import Share
from sugarbush.shares.terms import AsideTerm, OwnerTerm, PartTerm, Terms

LARGE_ML, SMALL_ML = 500, 250
PACKED_AFTER_DAYS, RELEASED_AFTER_DAYS = 1, 2
COLOURS = ("golden", "amber", "amber", "dark")
THIN_BRIX = Decimal("65.2")
"""What the third lot of this year reads: too thin to release, so it is held."""
RULE_DAYS = {-1: -398, 0: -154}
"""The rule is published this many days from this year's first day, before the sap of either season."""
TERMS = Terms(
    parts=(PartTerm(measure="sugar", first_jars=1, first_size_ml=SMALL_ML),),
    asides=(AsideTerm(kind="school", name="Quill School kitchen", jars=2, size_ml=LARGE_ML),),
    owners=OwnerTerm(per="owner", jars=1, size_ml=SMALL_ML),
)
RULE_WORDS = "Whoever brings sap goes home with a jar. The rest follows the sugar, as we agreed at the autumn supper."


def write(story: Story, cast: Cast, plan: Plan, today: dt.date) -> None:
    """Both seasons' lots; both rules; last year's shares to the last jar."""
    for year, day in ((plan.year - 1, RULE_DAYS[-1]), (plan.year, RULE_DAYS[0])):
        story.add(story.moment(day, 20, 30), _publish, cast, year)
    _pack_all(story, cast, list(plan.last_season.boils), plan.year - 1, thin=None, until=None)
    yesterday = today - dt.timedelta(days=1)
    boils = [boil for boil in plan.season.boils if boil.day <= yesterday]
    _pack_all(story, cast, boils, plan.year, thin=2, until=yesterday)
    _share_last_year(story, cast, plan)


def _publish(cast: Cast, year: int) -> None:
    steward = cast.people["tamsin"]
    rule = rules.save_draft(season=season_of(year), by=steward, terms=TERMS, words=RULE_WORDS)
    rules.publish(rule=rule, by=steward)


def _pack_all(
    story: Story, cast: Cast, boils: list[DemoBoil], year: int, *, thin: int | None, until: dt.date | None
) -> None:
    """Each boil's syrup packed the evening after; the newest of a season underway still waits for its jars."""
    for nth, boil in enumerate(boils):
        packed = boil.day + dt.timedelta(days=PACKED_AFTER_DAYS)
        released = boil.day + dt.timedelta(days=RELEASED_AFTER_DAYS)
        if until is not None and (packed > until or nth == len(boils) - 1):
            continue
        brix = THIN_BRIX if nth == thin else boil.syrup_brix + Decimal(nth % 3) / 10
        story.add(story.moment(packed, 19), _pack, cast, boil, year, nth, brix)
        if nth != thin and (until is None or released <= until):
            story.add(story.moment(released, 18), _release, cast, boil, year)


def _lot_vessel(boil: DemoBoil, year: int) -> Vessel:
    batch = Batch.objects.select_related("lot").get(boil_day__day=boil.day, boil_day__season__year=year)
    if batch.lot is None:
        raise LookupError(f"no syrup of {boil.day}")
    return batch.lot


def _pack(cast: Cast, boil: DemoBoil, year: int, nth: int, brix: Decimal) -> None:
    """Half in large jars, the rest in small ones; what fills no jar is tasted. In each third lot a jar breaks."""
    syrup_ml = boil.syrup_ml
    large = syrup_ml // 2 // LARGE_ML
    small, heel_ml = divmod(syrup_ml - large * LARGE_ML, SMALL_ML)
    jars = [Jars(size_ml=LARGE_ML, filled=large)] if large else []
    jars.append(Jars(size_ml=SMALL_ML, filled=small, broken=1 if nth % 3 == 1 else 0))
    pack(
        vessels=[_lot_vessel(boil, year)],
        by=cast.people["ingrith"],
        packing=Pack(
            jars=jars,
            heel_ml=heel_ml,
            heel_to="tasted",
            syrup_brix=brix,
            fill_temperature_c=Decimal("84.5") + Decimal(nth % 2) / 2,
            colour=COLOURS[nth % len(COLOURS)],
        ),
    )


def _release(cast: Cast, boil: DemoBoil, year: int) -> None:
    release(lot=Lot.objects.get(vessel=_lot_vessel(boil, year)), by=cast.coordinator)


def _share_last_year(story: Story, cast: Cast, plan: Plan) -> None:
    """Worked out, open for a week in which one question is asked, final, and handed out before the season closes."""
    year = plan.year - 1
    story.add(story.moment(-314, 19), _work_out, cast, year)
    story.add(story.moment(-312, 20), _ask, cast, year)
    story.add(story.moment(-311, 18), _answer, cast, year)
    story.add(story.moment(-306, 19), _make_final, cast, year)
    story.add(story.moment(-303, 17), _hand_out, cast, year)


def _work_out(cast: Cast, year: int) -> None:
    steward = cast.people["tamsin"]
    run = runs.make_run(season=season_of(year), by=steward)
    until = timezone.localdate() + dt.timedelta(days=7)
    runs.open_questions(run=run, by=steward, until=until)


def _share_of(cast: Cast, year: int, key: str) -> Share:
    return Share.objects.select_related("run").get(run=runs.underway_of(season_of(year)), person=cast.people[key])


def _ask(cast: Cast, year: int) -> None:
    words = "Is the ice I tipped off in the first week taken off twice?"
    queries.ask(share=_share_of(cast, year, "bram"), by=cast.people["bram"], text=words)


def _answer(cast: Cast, year: int) -> None:
    query = _share_of(cast, year, "bram").queries.get()
    words = "Once: your entries are net of the ice, and the depot measured what was left. Your list shows both."
    queries.answer(query=query, by=cast.people["tamsin"], text=words, changed_something=False)


def _make_final(cast: Cast, year: int) -> None:
    run = runs.underway_of(season_of(year))
    if run is None:
        raise LookupError(f"no shares of {year} are underway")
    runs.make_final(run=run, by=cast.people["tamsin"], collect_by=None)


def _hand_out(cast: Cast, year: int) -> None:
    """Everybody comes for their jars on the same evening."""
    run = runs.final_of(season_of(year))
    if run is None:
        raise LookupError(f"no final shares of {year}")
    for share in run.shares.filter(given_ml__gt=0).order_by("pk"):
        handouts.hand_out(share=share, by=cast.people["tamsin"])
