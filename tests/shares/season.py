"""A small season worked out by hand: three people, four trees, one delivery with a can turned away, 84 jars.

Bob     6.0 L at 2.00 °Brix, read at the tree, and 4.0 L not read; he delivers 10.0 L, of which the keeper takes
        7.5 L at 2.50 °Brix and turns away 2.5 L. A quarter of all he carried is gone: 4.5 L and 3.0 L count.
        4.5 x 2.00 + 3.0 x 2.50 = 9.0 + 7.5 = 16.5
Mira    3.0 L at 1.80 °Brix, and 5.0 L of the same tree not read: the tree's mean, 1.80.
        3.0 x 1.80 + 5.0 x 1.80 = 14.4
Lena    2.0 L of a tree nobody ever read: the programme's mean of 2.00 and 1.80, 1.90.
        2.0 x 1.90 = 3.8
together 34.7

84 jars of 250 mL are 21,000 mL; 4 jars (1,000 mL) go to the school first; 20,000 mL are left.
Bob  20,000 x 16.5 / 34.7 = 9,510.09    Mira 8,299.71    Lena 2,190.20    whole: 19,999, the one left to Mira
In jars of 80: Bob 38.04, Mira 33.20, Lena 8.76; whole: 79, the one left to Lena.
"""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

from django.utils import timezone

from sugarbush.boils.actions import Line, accept_delivery
from sugarbush.gathering.models import Collection
from sugarbush.seasons.models import Season
from sugarbush.shares import queries, rules, runs
from sugarbush.shares.models import ShareRule, ShareRun
from sugarbush.shares.terms import AsideTerm, PartTerm, Terms
from sugarbush.taps.models import Tap
from sugarbush.trees.models import Tree
from sugarbush.volunteers.models import Person, Role
from tests import make
from tests.lots import syrup

SCHOOL = AsideTerm(kind="school", name="Millbrook School", jars=4, size_ml=250)
BY_SUGAR = Terms(parts=(PartTerm(measure="sugar"),), asides=(SCHOOL,))


def sol() -> Person:
    """Sol is the share steward."""
    return make.person("Sol", Role.STEWARD, None)


def ago(hours: float) -> dt.datetime:
    return timezone.now() - dt.timedelta(hours=hours)


def tapped() -> Tree:
    """A tree with a spout that may be there; what the map shows of it is left out, since shares never look."""
    tree = make.tree()
    make.permission(tree)
    make.treatment(tree)
    make.check(tree)
    make.assignment(tree)
    Tap.objects.create(
        tree=tree,
        season=make.season(),
        position=1,
        placed_at=ago(240),
        by=make.bob(),
        height_mm=make.HOLE.height_mm,
        aspect_deg=make.HOLE.aspect_deg,
        bit_um=make.HOLE.bit_um,
        depth_mm=make.HOLE.depth_mm,
        shavings="white",
    )
    return tree


def publish(terms: Terms = BY_SUGAR, reason: str = "", words: str = "") -> ShareRule:
    rule = rules.save_draft(season=make.season(), by=sol(), terms=terms, words=words)
    return rules.publish(rule=rule, by=sol(), reason=reason)


def gather() -> dict[str, Collection]:
    """What the three brought, and Bob's delivery."""
    first, second, third, fourth = (tapped() for _ in range(4))
    bob, mira, lena = make.bob(), make.person("Mira", Role.VOLUNTEER, "North Bank"), make.lena()
    found = {
        "own": make.collection(first, by=bob, litres="6.0", brix="2.00", happened_at=ago(80)),
        "delivered": make.collection(second, by=bob, litres="4.0", happened_at=ago(79)),
    }
    accept_delivery(
        depot=make.depot(),
        person=bob,
        keeper=make.dora(),
        lines=[
            Line(volume_ml=7_500, tank=make.tank(), sugar_brix=Decimal("2.50"), container=make.container("P-01")),
            Line(volume_ml=2_500, reject_reason="sour", container=make.container("P-02"), look="milky"),
        ],
        happened_at=ago(70),
    )
    found["read"] = make.collection(third, by=mira, litres="3.0", brix="1.80", happened_at=ago(60))
    found["tree"] = make.collection(third, by=mira, litres="5.0", happened_at=ago(30))
    found["programme"] = make.collection(fourth, by=lena, litres="2.0", happened_at=ago(20))
    return found


def jars(*counts: tuple[int, int]) -> Any:
    """A released lot with jars of these sizes."""
    ml = sum(size * count for size, count in counts)
    return syrup.released(syrup.syrup(ml), *counts)


def ready(terms: Terms = BY_SUGAR) -> Season:
    """Rule published in time, sap gathered, 84 jars released."""
    season = make.season()
    publish(terms)
    gather()
    jars((250, 84))
    return season


def shown(run: ShareRun | None = None) -> ShareRun:
    """A working-out that was open for questions until yesterday."""
    run = run or runs.make_run(season=ready(), by=sol())
    runs.open_questions(run=run, by=sol(), until=make.today())
    ShareRun.objects.filter(pk=run.pk).update(questions_until=make.today() - make.days(1))
    run.refresh_from_db()
    return run


def final(run: ShareRun | None = None) -> ShareRun:
    return runs.make_final(run=shown(run), by=sol())


def share_of(run: ShareRun, name: str) -> Any:
    return run.shares.get(name=name)


def ask(run: ShareRun, name: str = "Bob", text: str = "Where are my Tuesday pails?") -> Any:
    share = share_of(run, name)
    return queries.ask(share=share, by=share.person, text=text)
