"""A closed season is read-only by every way in; what was wrong is a dated correction in its report."""

from __future__ import annotations

import copy
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.apps import apps
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone
from pytest_django.plugin import DjangoDbBlocker

from sugarbush.boils.actions import Line, accept_delivery
from sugarbush.boils.batches import add_sap, close_batch, open_batch
from sugarbush.boils.days import put_out
from sugarbush.boils.draw_offs import draw_off, lose
from sugarbush.boils.handover import hand_over
from sugarbush.boils.tank_acts import dip_tank, move_between_tanks, tip_out_tank, write_temperature
from sugarbush.gathering.actions import Visit, change_visit, log_visit
from sugarbush.lots.jars import break_jars, destroy_lot, issue_jars, take_back
from sugarbush.lots.opened import open_again
from sugarbush.lots.packing import Jars, Pack, pack
from sugarbush.lots.recalls import open_recall
from sugarbush.lots.second_look import measure_again, release
from sugarbush.parts.reasons import Refused
from sugarbush.review import totals
from sugarbush.review.actions import correct_after_closing
from sugarbush.review.recount import findings
from sugarbush.sap.models import Movement, Vessel
from sugarbush.seasons import actions
from sugarbush.seasons.models import Season
from sugarbush.shares import rules, runs
from sugarbush.shares.terms import PartTerm, Terms
from sugarbush.taps.models import Tap
from sugarbush.volunteers.models import Person
from tests import make
from tests.chain.jar_season import JarSeason
from tests.chain.test_from_tree_to_jar import in_as, text_of

# A jar can turn out bad long after its season: calling it back stays possible, and moves no millilitre.
STILL_OPEN = {"recall-new", "recall-call", "recall-close", "recall"}
WHAT = ("measure", "open", "break", "destroy", "issue", "pour", "pack")
APPS = ("gathering", "sap", "boils", "lots", "shares")
pytestmark = pytest.mark.django_db


def fingerprint() -> dict[str, int]:
    """What stands in every table of these apps."""
    found = {}
    for app in APPS:
        for model in apps.get_app_config(app).get_models(include_auto_created=True):
            rows = model._default_manager.order_by("pk").values_list()
            found[model._meta.label] = hash(tuple(map(repr, rows)))
    return found


@pytest.fixture(scope="module")
def closed_once(built: JarSeason, django_db_blocker: DjangoDbBlocker) -> JarSeason:
    """The hand-worked season, its open ends tied and closed: taps out, every jar handed out."""
    with django_db_blocker.unblock():
        return _close(copy.copy(built))


@pytest.fixture
def closed(closed_once: JarSeason, db: None) -> JarSeason:
    """The closed season, its rows read afresh."""
    own = copy.copy(closed_once)
    for name, row in vars(closed_once).items():
        if hasattr(row, "_meta"):
            setattr(own, name, type(row)._default_manager.get(pk=row.pk))
    return own


def _close(jars: JarSeason) -> JarSeason:
    Tap.objects.filter(season=jars.season).update(state="pulled", out_at=timezone.now(), out_by=jars.bob)
    for lot in (jars.lot, jars.heel):
        for size in (250, 100):
            while Vessel.objects.filter(pk=lot.vessel_id).exists():
                try:
                    issue_jars(lot=lot, size_ml=size, count=1, by=jars.alice, to_text="Millbrook School")
                except Refused:
                    break
    jars.season.state = "ending"
    jars.season.save()
    jars.season = actions.step(by=jars.alice, season=jars.season, to="closed")
    return jars


def packing() -> Pack:
    return Pack(jars=[Jars(size_ml=250, filled=1)])


ACTS: dict[str, Callable[[JarSeason], object]] = {
    "log a visit": lambda s: log_visit(tree=s.first, by=s.bob, visit=Visit(outcome="sap", volume_ml=1_000)),
    "change an entry": lambda s: change_visit(
        entry=s.entries[0], by=s.alice, visit=Visit(outcome="sap", volume_ml=1_000), reason="looked again"
    ),
    "take an entry back": lambda s: change_visit(entry=s.entries[0], by=s.alice, visit=None, reason="wrong tree"),
    "hand over": lambda s: hand_over(giver=s.bob, taker=s.mira, volume_ml=1, by=s.bob),
    "deliver": lambda s: accept_delivery(
        depot=make.depot(),
        person=s.bob,
        keeper=s.dora,
        lines=[Line(volume_ml=1_000, tank=s.a, container=make.container("C-1"))],
        explanation="found later",
    ),
    "pump": lambda s: move_between_tanks(source=s.a, target=s.b, volume_ml=1, by=s.dora),
    "tip": lambda s: tip_out_tank(tank=s.a, volume_ml=1, by=s.dora, reason="sour"),
    "dip": lambda s: dip_tank(tank=s.a, measured_ml=100, by=s.dora, explanation="found later"),
    "write a temperature": lambda s: write_temperature(tank=s.a, by=s.dora, temperature_c=Decimal("3")),
    "fill a pan": lambda s: open_batch(day=s.day, by=s.kai, takes=[(s.a, 1)]),
    "add sap": lambda s: add_sap(batch=s.batch, by=s.kai, takes=[(s.a, 1)]),
    "lose": lambda s: lose(batch=s.batch, by=s.kai, volume_ml=1, cause="scorched"),
    "draw off": lambda s: draw_off(batch=s.batch, by=s.kai, syrup_ml=1),
    "close a batch": lambda s: close_batch(batch=s.batch, by=s.kai, syrup_ml=1),
    "put the fire out": lambda s: put_out(day=s.day, by=s.kai),
    "pack": lambda s: pack(vessels=[s.lot.vessel], by=s.kai, packing=packing()),
    "measure again": lambda s: measure_again(lot=s.lot, by=s.kai, reason="twice", syrup_brix=Decimal("66.5")),
    "open jars": lambda s: open_again(lot=s.lot, by=s.kai, reason="thin"),
    "release": lambda s: release(lot=s.lot, by=s.alice),
    "hand jars out": lambda s: issue_jars(lot=s.lot, size_ml=250, count=1, by=s.alice, person=s.bob),
    "take jars back": lambda s: take_back(issue=s.issue, count=1, by=s.alice, reason="late"),
    "break jars": lambda s: break_jars(lot=s.lot, size_ml=250, count=1, by=s.kai, reason="fell"),
    "destroy a lot": lambda s: destroy_lot(lot=s.lot, by=s.kai, reason="sour"),
    "write a share rule": lambda s: rules.save_draft(
        season=s.season, by=s.alice, terms=Terms(parts=(PartTerm(measure="equal"),))
    ),
    "share out": lambda s: runs.make_run(season=s.season, by=s.alice),
}


@pytest.mark.parametrize("act", ACTS)
def test_no_action_changes_a_closed_season(closed, act):
    before = fingerprint()
    try:
        ACTS[act](closed)
    except (Refused, PermissionDenied) as no:
        assert str(no).strip()
    assert {name for name, was in fingerprint().items() if was != before[name]} == set()


def patterns(resolver: URLResolver, before: str = "") -> list[tuple[str, URLPattern]]:
    found: list[tuple[str, URLPattern]] = []
    for one in resolver.url_patterns:
        if isinstance(one, URLResolver):
            found += patterns(one)
        elif one.name and any(f"sugarbush.{app}." in f"{one.callback.__module__}." for app in APPS):
            found.append((one.name, one))
    return found


@pytest.mark.heavy
def test_no_page_changes_a_closed_season(closed):
    """Every address of these apps is posted to by the coordinator."""
    knock(closed, [closed.alice], often=False)


@pytest.mark.slow
def test_no_page_changes_a_closed_season_whoever_asks_and_however(closed):
    """The same with everything it could be about, with nothing and with something, by whoever may do the most."""
    knock(closed, [closed.alice, closed.kai, closed.dora, closed.bob], often=True)


def knock(closed: JarSeason, people: list[Person], *, often: bool) -> None:
    things: dict[str, list[Any]] = {
        "uuid": [
            *(closed.entries[0].pk, closed.bobs.pk, closed.batch.pk, closed.a.pk, closed.lot.pk, closed.issue.pk),
            *(closed.lot.vessel_id, closed.drawn.pk),
        ],
        "int": [closed.day.pk, 1],
        "tag": [closed.first.code],
    }
    typed = {
        **dict.fromkeys(("reason", "explanation", "note", "why", "text", "to_text"), "found later"),
        **dict.fromkeys(("volume", "syrup", "measured", "count", "jars", "amount", "temperature", "sugar"), "1"),
        "outcome": "sap",
        "do": "dip",
        "cause": "scorched",
        "size_ml": "250",
        "step": "out",
        "ready": "1",
    }
    before, asked, open_doors = fingerprint(), 0, []
    for person in people:
        client = Client(raise_request_exception=True)
        client.force_login(person)
        for name, pattern in patterns(get_resolver()):
            kinds = {key: type(value).__name__ for key, value in pattern.pattern.converters.items()}
            if not kinds:
                choices: list[dict[str, Any]] = [{}]
            elif len(kinds) == 1:
                ((key, kind),) = kinds.items()
                of = "uuid" if "UUID" in kind else "int" if "Int" in kind else "tag"
                choices = [{key: value} for value in things[of]]
            else:
                one_of = {"UUIDConverter": closed.lot.pk, "IntConverter": closed.day.pk}
                choices = [{key: one_of.get(kind, what) for key, kind in kinds.items()} for what in WHAT]
            for how in choices if often else choices[:6]:
                for data in ({}, typed) if often else (typed,):
                    with transaction.atomic():
                        answer = client.post(reverse(name, kwargs=how), data)
                        asked += 1
                        now = fingerprint() if answer.status_code < 400 else before
                        changed = {label for label, was in now.items() if was != before[label]}
                        if changed and name not in STILL_OPEN:
                            open_doors.append((name, sorted(changed)))
                        transaction.set_rollback(bool(changed))
    assert open_doors == []
    assert fingerprint() == before
    assert asked > (500 if often else 50)


def test_jars_can_be_called_back_after_closing_and_the_books_still_balance(closed):
    open_recall(season=closed.season, lots={closed.lot: None}, reason="It fizzes.", by=closed.kai)
    assert [one.sentence for one in findings(Season.objects.get(pk=closed.season.pk))] == []


def test_a_late_correction_is_dated_and_shown_and_the_totals_stay(closed):
    entry = closed.entries[0]
    kept = Season.objects.get(pk=closed.season.pk).frozen_totals
    correct_after_closing(entry=entry, by=closed.alice, volume_ml=29_000, reason="The pail holds less than it says.")
    season = Season.objects.get(pk=closed.season.pk)
    assert season.frozen_totals == kept
    assert totals.totals_of(season)[0].sums.out_ml == 75_000
    page = text_of(in_as(closed.alice).get(reverse("season-review"), {"year": season.year}).content.decode())
    assert "The pail holds less than it says." in page
    assert "−1,000 mL" in page
    assert list(findings(season)) == []
    answer = in_as(closed.rhea).get(reverse("season-ledger"), {"year": str(season.year), "cause": "out_of_tree"})
    assert answer.context["together"].counts_ml == 74_000
    kept_only: dict[str, Any] = {"year": season.year, "cause": "out_of_tree", "kept": "1"}
    assert in_as(closed.rhea).get(reverse("season-ledger"), kept_only).context["together"].counts_ml == 75_000


def test_the_kept_totals_hold_the_jars_and_the_whole_chain(closed):
    season = Season.objects.get(pk=closed.season.pk)
    kept = totals.totals_of(season)[0]
    assert [(row.size_ml, row.issued, row.here) for row in kept.jars] == [(250, 4, 0), (100, 3, 0)]
    assert Movement.objects.filter(season=season, recorded_at__gt=season.closed_at).count() == 0
