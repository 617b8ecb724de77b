"""A round sheet keyed in by keyboard alone: Enter goes on, in the sheet's own order, and what is typed is kept."""

from __future__ import annotations

import time

import pytest
from django.urls import reverse

from sugarbush.gathering.models import Collection
from sugarbush.gathering.models_rounds import Round, RoundRun, RoundStop, RunPerson
from sugarbush.papers.models import Document, RoundSheet
from sugarbush.papers.numbers import number_of
from tests import make
from tests.browser.conftest import At

pytestmark = pytest.mark.django_db(transaction=True)
TREES = 40
MOST_S = 300


def test_forty_lines_are_keyed_by_enter_alone_within_five_minutes(at: At) -> None:
    season, bob = make.season(), make.bob()
    trees = [make.tapped_tree() for _ in range(TREES)]
    walk = Round.objects.create(season=season, group=make.group(), name="Around the green")
    RoundStop.objects.bulk_create(
        RoundStop(round=walk, season=season, tree=tree, position=n) for n, tree in enumerate(trees)
    )
    run = RoundRun.objects.create(round=walk, date=make.today())
    RunPerson.objects.create(run=run, person=bob)
    paper = Document.objects.create(
        seq=1, number=number_of(1), kind="round-sheet", subject=f"run:{run.pk}:1:x", template_version="1", made_by=bob
    )
    sheet = RoundSheet.objects.create(
        document=paper, run=run, nth=1, codes=[tree.code for tree in trees], units="metric"
    )
    who = at(bob)
    who.go(reverse("paper-find"))
    began = time.monotonic()
    keys = who.page.keyboard
    keys.type("d 1 8")  # as somebody types D-0001-8; the field has the cursor already
    keys.press("Enter")
    who.page.wait_for_selector("#keying")
    for n in range(TREES):
        keys.type("e" if n % 10 == 9 else "2.5", delay=1)
        keys.press("Enter")
    # Every fifth line was kept on the way: a flat battery now would cost four.
    who.page.wait_for_function("!document.querySelector('[data-kept]').hidden")
    sheet.refresh_from_db()
    assert sum(name.startswith("sap-") for name in sheet.typed) >= TREES - 5
    keys.press("Enter")  # after the last line the cursor stands on the act
    who.page.wait_for_selector(".say.done")
    assert time.monotonic() - began < MOST_S
    who.says("40 trees, 90.0")
    assert Collection.objects.filter(source="sheet").count() == TREES
    assert Collection.objects.filter(outcome="empty").count() == 4
