"""Questions hold a working-out until somebody else answers; an answer that changes something means another one."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import IntegrityError, transaction

from sugarbush.parts.reasons import Refused
from sugarbush.seasons.closing import reasons_against
from sugarbush.shares import handouts, queries, runs
from sugarbush.shares.models import ShareQuery, ShareRun
from tests import make
from tests.shares import season as small

pytestmark = pytest.mark.django_db


def codes(season):
    return {reason.code for reason in reasons_against(season)}


def opened() -> ShareRun:
    run = runs.make_run(season=small.ready(), by=small.sol())
    return runs.open_questions(run=run, by=small.sol(), until=make.today())


def day_after(run: ShareRun) -> ShareRun:
    ShareRun.objects.filter(pk=run.pk).update(questions_until=make.today() - make.days(1))
    run.refresh_from_db()
    return run


def test_a_question_holds_the_working_out_until_another_person_answers():
    run = opened()
    query = small.ask(run)
    day_after(run)
    with pytest.raises(Refused, match="1 question is not answered"):
        runs.make_final(run=run, by=small.sol())
    with pytest.raises(Refused, match="Write the answer"):
        queries.answer(query=query, by=small.sol(), text=" ", changed_something=False)
    queries.answer(query=query, by=small.sol(), text="They came on Wednesday, 9.5 L.", changed_something=False)
    assert runs.make_final(run=run, by=small.sol()).state == "final"


def test_nobody_answers_their_own_question_not_even_in_the_database():
    run = opened()
    sol = small.sol()
    query = queries.ask(share=small.share_of(run, "Bob"), by=sol, text="Bob told me it is too little")
    with pytest.raises(Refused, match="Somebody else has to answer"):
        queries.answer(query=query, by=sol, text="It is right", changed_something=False)
    with pytest.raises(IntegrityError), transaction.atomic():
        ShareQuery.objects.filter(pk=query.pk).update(answer="x", answered_by=sol, answered_at=small.ago(0))


def test_an_answer_that_changes_something_leads_to_a_new_working_out():
    run = opened()
    query = small.ask(run)
    queries.answer(query=query, by=small.sol(), text="A pail was forgotten", changed_something=True)
    day_after(run)
    with pytest.raises(Refused, match="something has to change"):
        runs.make_final(run=run, by=small.sol())
    make.collection(small.tapped(), litres="5.0", happened_at=small.ago(3))
    new = runs.again(run=run, by=small.sol(), reason="A pail was forgotten")
    run.refresh_from_db()
    assert (run.state, new.number, new.reason) == ("dropped", 2, "A pail was forgotten")
    assert small.share_of(new, "Bob").working["sap_ml"] == 12_500


def test_a_question_is_asked_only_about_ones_own_share_while_it_is_open():
    run = runs.make_run(season=small.ready(), by=small.sol())
    with pytest.raises(Refused, match="not open for questions"):
        small.ask(run)
    runs.open_questions(run=run, by=small.sol(), until=make.today())
    with pytest.raises(Refused, match="not your share"):
        queries.ask(share=small.share_of(run, "Mira"), by=make.bob(), text="Why so many?")
    with pytest.raises(Refused, match="Write what looks wrong"):
        small.ask(run, text="  ")
    first = small.ask(run)
    again = queries.ask(share=first.share, by=make.bob(), text="Where?", query_id=first.pk)
    assert (again.pk, ShareQuery.objects.count()) == (first.pk, 1)
    day_after(run)
    with pytest.raises(Refused, match="Questions could be asked until"):
        small.ask(run, text="Too late?")


def test_a_window_is_not_shortened_and_nothing_is_final_before_it_is_over():
    run = opened()
    runs.open_questions(run=run, by=small.sol(), until=make.today() + make.days(5))
    with pytest.raises(Refused, match="People were told they can ask until then"):
        runs.open_questions(run=run, by=small.sol(), until=make.today() + make.days(2))
    with pytest.raises(Refused, match="Questions can be asked until"):
        runs.make_final(run=run, by=small.sol())
    with pytest.raises(Refused, match="That day is over"):
        runs.open_questions(run=run, by=small.sol(), until=make.today() - dt.timedelta(days=1))


def test_open_questions_and_unfinished_shares_keep_the_season_open():
    season = small.ready()
    assert "not-shared" in codes(season)
    run = runs.make_run(season=season, by=small.sol())
    assert {"share-run"} == codes(season) & {"share-run", "share-query", "not-shared", "jars-waiting"}
    runs.open_questions(run=run, by=small.sol(), until=make.today())
    query = small.ask(run)
    assert {"share-run", "share-query"} <= codes(season)
    queries.answer(query=query, by=make.alice(), text="It is right", changed_something=False)
    run = runs.make_final(run=day_after(run), by=small.sol())
    assert {"jars-waiting"} == codes(season) & {"share-run", "share-query", "not-shared", "jars-waiting"}
    runs.leave(run=run, by=small.sol(), reason="In the school’s cellar until the autumn fair")
    assert not codes(season) & {"share-run", "share-query", "not-shared", "jars-waiting"}


def test_a_season_may_close_when_every_jar_went_out():
    run = small.final()
    for share in run.shares.all():
        handouts.hand_out(share=share, by=small.sol())
    assert "jars-waiting" not in codes(run.season)


def test_a_programme_that_publishes_no_rule_is_not_asked_to_share_out():
    make.season()
    small.jars((250, 4))
    assert "not-shared" not in codes(make.season())
