"""The page of the week's paper: what is due, by right, in a fixed number of questions to the database."""

from __future__ import annotations

import pytest
from django.urls import reverse

from sugarbush.gathering.models_rounds import Round, RoundRun, RoundStop, RunPerson
from sugarbush.owners.models import PermissionState
from sugarbush.papers.kinds import kinds
from tests import make
from tests.boils.cast import boil_day
from tests.lots.syrup import released

pytestmark = pytest.mark.django_db


def a_run(name: str, group: str = "North Bank", in_days: int = 2) -> RoundRun:
    tree = make.given_tree(group=make.group(group))
    season = make.season()
    found = Round.objects.create(season=season, group=make.group(group), name=name)
    RoundStop.objects.create(round=found, season=season, tree=tree, position=0)
    run = RoundRun.objects.create(round=found, date=make.today() + make.days(in_days))
    RunPerson.objects.create(run=run, person=make.bob())
    return run


def shown(client, person) -> str:
    client.force_login(person)
    answer = client.get(reverse("paper"))
    assert answer.status_code == 200
    return answer.content.decode()


def test_what_is_due_this_week_stands_on_one_page_and_every_way_leads_on(client, printed):
    run = a_run("Around the green")
    a_run("Later", in_days=9)
    out = a_run("Yesterday", in_days=-1)
    printed("round-sheet", runs=[str(out.pk)])
    draft = make.permission(make.tree(), state=PermissionState.DRAFT)
    lot = released()
    day = boil_day(day=make.today() + make.days(3), state="called")
    said = shown(client, make.alice())
    for words in (
        "1 run in the next seven days",
        "3 trees have no tag yet",
        "1 slip is written",
        "1 boiling day",
        lot.code,
    ):
        assert words in said
    assert "Later" not in said
    assert out.sheets.get().document.number in said
    assert f"?runs={run.pk}" in said
    assert f"?numbers={draft.number}" in said
    assert f"?day={day.pk}" in said
    for kind in kinds():
        page = client.get(reverse("paper-print", args=[kind.key]))
        assert page.status_code == 200, kind.key
        assert "Make the PDF" in page.content.decode()


def test_each_sees_the_paper_of_their_own_groups_and_rights(client):
    a_run("Around the green")
    a_run("Along the mill", "Mill Race")
    slip = make.permission(make.tree(), state=PermissionState.DRAFT)
    lead = shown(client, make.lena())
    assert "Around the green" in lead
    assert "Along the mill" not in lead
    assert slip.number in lead
    volunteer = shown(client, make.bob())
    assert "Around the green" in volunteer
    assert slip.number not in volunteer
    assert "have no tag" not in volunteer
    assert "How we print" not in lead


def test_the_page_asks_as_often_for_many_as_for_few(client, django_assert_max_num_queries):
    a_run("First")
    shown(client, make.alice())
    for n in range(8):
        a_run(f"Round {n}")
        make.permission(make.tree(), state=PermissionState.DRAFT)
    with django_assert_max_num_queries(30):
        client.get(reverse("paper"))


def test_a_kind_nobody_knows_is_no_page(client):
    make.programme()
    client.force_login(make.alice())
    assert client.get(reverse("paper-print", args=["nothing"])).status_code == 404
