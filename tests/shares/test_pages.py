"""The pages of sharing out: who sees what, the drill down to the collections, the ticks, the file, bounded queries."""

from __future__ import annotations

import csv
import io
import re
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from sugarbush.shares import handouts, runs
from sugarbush.shares.models import ShareQuery, ShareRule, ShareRun, Taken
from sugarbush.volunteers.models import Membership, Person
from tests import make
from tests.shares import season as small
from tests.shares.test_rules import filled

pytestmark = pytest.mark.django_db


def client(person) -> Client:
    opened = Client()
    opened.force_login(person)
    return opened


def page(answer) -> str:
    """The words of a page, its marks left out."""
    text = re.sub(r"<[^>]+>", " ", answer.content.decode())
    return re.sub(r"\s+", " ", text.replace("\u00a0", " "))


def test_each_person_sees_their_own_share_and_the_way_down_to_the_collections():
    run = small.shown()
    runs.open_questions(run=run, by=small.sol(), until=make.today())
    bob = client(make.bob())
    said = page(bob.get("/my-share/"))
    assert "38 jars" in said
    assert "You brought 7.500 L of the season’s 17.50 L" in said
    assert "Due 9,510 mL of 21.00 L of syrup" in said
    assert "16.5 ÷ 34.7 × 20,000 mL = 9,510.086 mL → 9,510 mL" in said
    share = small.share_of(run, "Bob")
    behind = page(bob.get(reverse("share-litres", args=[share.pk])))
    assert "Your 7.500 L" in behind
    assert "4.5 L × 2.00 °Brix = 9 , read at the tree" in behind
    assert "3 L × 2.50 °Brix = 7.5 , read at the depot" in behind
    assert "1.000 L of it was turned away or lost" in behind
    assert "All 2 collections 7.500 L" in behind


def test_nobody_elses_share_is_behind_any_door():
    run = small.shown()
    share = small.share_of(run, "Bob")
    mira = client(make.mira())
    for name in ("share", "share-litres"):
        assert mira.get(reverse(name, args=[share.pk])).status_code == 404
    assert mira.post(reverse("share-ask", args=[share.pk]), {"text": "Why?"}).status_code == 404
    assert mira.get(reverse("share-run", args=[run.pk])).status_code == 404
    assert mira.get(reverse("share-csv", args=[run.pk])).status_code == 404
    assert mira.get("/hand-out/").status_code == 403
    front = mira.get("/shares/")
    assert "Bob" not in front.content.decode()
    for person in (make.rhea(), make.alice(), small.sol()):
        assert client(person).get(reverse("share", args=[share.pk])).status_code == 200
    assert client(make.rhea()).post(reverse("share-run-step", args=[run.pk]), {"step": "final"}).status_code == 403


def test_a_share_that_is_not_shown_yet_is_not_there_for_its_own_person():
    run = runs.make_run(season=small.ready(), by=small.sol())
    bob = client(make.bob())
    assert bob.get(reverse("share", args=[small.share_of(run, "Bob").pk])).status_code == 404
    assert "Not worked out yet" in page(bob.get("/my-share/"))
    assert "So far you have brought 10.00 L in 2 collections that count" in page(bob.get("/my-share/"))


def test_a_late_rule_shows_with_date_and_reason_on_every_statement():
    make.season()
    small.gather()
    small.publish(reason="The steward was ill")
    small.jars((250, 84))
    run = small.shown(runs.make_run(season=make.season(), by=small.sol()))
    share = small.share_of(run, "Bob")
    sol = client(small.sol())
    for path in ("/shares/", f"/shares/{share.pk}/", f"/shares/runs/{run.pk}/", f"/shares/runs/{run.pk}/statements/"):
        assert "The steward was ill" in page(sol.get(path)), path
    assert page(sol.get(f"/shares/runs/{run.pk}/statements/")).count("The steward was ill") == 3


def test_a_question_goes_from_the_persons_page_to_the_steward_and_back():
    run = runs.make_run(season=small.ready(), by=small.sol())
    runs.open_questions(run=run, by=small.sol(), until=make.today())
    share = small.share_of(run, "Bob")
    bob, sol = client(make.bob()), client(small.sol())
    empty = bob.post(reverse("share-ask", args=[share.pk]), {"text": "", "query": "0" * 32})
    assert empty.status_code == 422
    body = {"text": "Where is Tuesday?", "query": "11111111-1111-4111-8111-111111111111"}
    for _ in range(2):
        assert bob.post(reverse("share-ask", args=[share.pk]), body).status_code == 302
    query = ShareQuery.objects.get()
    assert "Where is Tuesday?" in page(sol.get(reverse("share-run", args=[run.pk])))
    assert bob.post(reverse("share-answer", args=[query.pk]), {"text": "Fine"}).status_code == 404
    assert sol.post(reverse("share-answer", args=[query.pk]), {"text": ""}).status_code == 422
    assert sol.post(reverse("share-answer", args=[query.pk]), {"text": "On Wednesday."}).status_code == 302
    assert sol.post(reverse("share-answer", args=[query.pk]), {"text": "Again."}).status_code == 409
    assert "On Wednesday." in page(bob.get("/my-share/"))
    assert "On Wednesday." in page(sol.get(reverse("share-run", args=[run.pk])))


def test_a_steward_writes_tries_and_publishes_a_rule():
    make.season()
    sol = client(small.sol())
    assert sol.get("/shares/rules/new/").status_code == 200
    assert sol.post("/shares/rules/new/", filled(p1_per_cent="80")).status_code == 422
    answer = sol.post("/shares/rules/new/", filled())
    rule = ShareRule.objects.get()
    assert answer["Location"] == reverse("share-rule", args=[rule.pk])
    assert client(make.bob()).get(reverse("share-rule", args=[rule.pk])).status_code == 404
    tried = page(sol.get(reverse("share-preview", args=[rule.pk]), {"on": "example", "jars": "84", "size": "250"}))
    assert "Set-asides and owners’ jars take 1 jar of 125 mL; there are no jars" in tried
    assert sol.post(reverse("share-rule-publish", args=[rule.pk])).status_code == 302
    assert client(make.bob()).get(reverse("share-rule", args=[rule.pk])).status_code == 200
    sol.post("/shares/rules/new/", filled(owners_per="", owners_jars="", owners_size=""))
    second = ShareRule.objects.get(version=2)
    # Four people, the owner, the school, next year.
    assert "7 shares" in page(sol.get(reverse("share-preview", args=[second.pk]), {"on": "example"}))
    refused = sol.post(reverse("share-rule-publish", args=[second.pk]))
    assert (refused.status_code, "A rule is published already" in page(refused)) == (422, True)
    assert sol.post(reverse("share-rule-publish", args=[second.pk]), {"reason": "No owner asked"}).status_code == 302


def test_the_steps_of_a_working_out_on_its_page():
    season = small.ready()
    sol = client(small.sol())
    assert sol.post("/shares/runs/new/").status_code == 302
    run = ShareRun.objects.get()
    step = reverse("share-run-step", args=[run.pk])
    assert sol.post(step, {"step": "final", "final-collect_by": make.today()}).status_code == 409
    assert sol.post(step, {"step": "open", "open-until": make.today() - make.days(1)}).status_code == 422
    assert sol.post(step, {"step": "open", "open-until": make.today()}).status_code == 302
    assert sol.post(step, {"step": "drop", "why-reason": ""}).status_code == 422
    assert sol.post(step, {"step": "again", "why-reason": "A late entry"}).status_code == 302
    second = ShareRun.objects.get(number=2)
    small.shown(second)
    step = reverse("share-run-step", args=[second.pk])
    assert sol.post(step, {"step": "final", "final-collect_by": make.today() + make.days(9)}).status_code == 302
    assert "Final" in page(sol.get(reverse("share-run", args=[second.pk])))
    assert "the same, to the millilitre and the jar" in page(
        sol.get(reverse("share-run", args=[second.pk]) + "?compare=1")
    )
    assert sol.post(step, {"step": "leave", "why-reason": "In the cellar"}).status_code == 302
    assert sol.post(step, {"step": "nonsense"}).status_code == 404
    assert runs.final_of(season) == second


def test_the_file_adds_up_to_the_pool_and_the_jars():
    run = runs.make_run(season=small.ready(), by=small.sol())
    answer = client(make.rhea()).get(reverse("share-csv", args=[run.pk]))
    text = answer.getvalue().decode("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert sum(int(row["entitled_ml"]) for row in rows) == run.pool_ml == 21_000
    assert sum(int(row["given_ml"]) for row in rows) == 21_000
    assert sum(int(row["jars_250_ml"]) for row in rows) == 84
    assert sum(Decimal(row["sugar_l_brix"] or 0) for row in rows) == Decimal("34.7")


def test_jars_are_ticked_off_declined_taken_back_and_given_on_by_hand():
    run = small.final()
    sol = client(small.sol())
    listed = sol.get("/hand-out/")
    lot = run.season.lots.get().code
    assert f"38 × 250 mL from lot {lot}" in page(listed)
    bob, mira = small.share_of(run, "Bob"), small.share_of(run, "Mira")
    act = reverse("hand-out-act", args=[bob.pk])
    other = sol.post(act, {"act": "out", "told": f"{lot}:250:37"})
    assert (other.status_code, "come from other lots now" in page(other)) == (409, True)
    for _ in range(2):
        assert sol.post(act, {"act": "out", "told": f"{lot}:250:38", "who": "waiting"}).status_code == 302
    bob.refresh_from_db()
    assert bob.taken == Taken.COLLECTED
    assert "Handed out on" in page(client(make.bob()).get("/my-share/"))
    assert sol.post(act, {"act": "undo"}).status_code == 302
    assert sol.post(reverse("hand-out-act", args=[mira.pk]), {"act": "decline"}).status_code == 302
    assert "33 jars of 250 mL" in page(sol.get("/hand-out/give-on/"))
    assert sol.post("/hand-out/give-on/", {"to": "Food bank"}).status_code == 422
    assert sol.post("/hand-out/give-on/", {"share": mira.pk, "to": ""}).status_code == 422
    assert sol.post("/hand-out/give-on/", {"share": mira.pk, "to": "Food bank"}).status_code == 302
    assert "given to Food bank" in page(sol.get("/hand-out/?who=done"))
    assert "Nobody of that name" in page(sol.get("/hand-out/?name=Zeno"))
    assert "Millbrook School" in page(sol.get("/hand-out/print/"))
    rhea = client(make.rhea())
    assert rhea.get("/hand-out/").status_code == 200
    assert rhea.post(act, {"act": "out"}).status_code == 403


def test_empty_pages_say_what_comes_next():
    alice = client(make.alice())
    assert "No season yet" in page(alice.get("/shares/"))
    assert "No season yet" in page(alice.get("/my-share/"))
    make.season()
    assert "No rule is published" in page(alice.get("/shares/"))
    assert "Nothing to hand out yet" in page(alice.get("/hand-out/"))
    small.publish()
    assert "It waits for a released lot with jars" in page(alice.get("/shares/"))
    assert alice.post("/shares/runs/new/").status_code == 409


def more_people(count: int) -> None:
    people = Person.objects.bulk_create(Person(display_name=f"Extra {n:04d}") for n in range(count))
    Membership.objects.bulk_create(
        Membership(person=person, role="volunteer", group=make.group(), date_from=make.today()) for person in people
    )


def queries_of(opened: Client, path: str) -> int:
    opened.get(path)
    with CaptureQueriesContext(connection) as caught:
        assert opened.get(path).status_code == 200
    return len(caught)


@pytest.mark.parametrize("count", [200, pytest.param(2_000, marks=pytest.mark.slow)])
def test_two_thousand_people_ask_no_more_queries_than_twenty(count):
    season = small.ready()
    more_people(17)
    run = small.final(runs.make_run(season=season, by=small.sol()))
    sol, bob = client(small.sol()), client(make.bob())
    handouts.hand_out(share=small.share_of(run, "Lena"), by=small.sol())
    paths = ["/shares/", "/hand-out/?who=all", f"/shares/runs/{run.pk}/", f"/shares/runs/{run.pk}/statements/"]
    few = [queries_of(sol, path) for path in paths] + [queries_of(bob, "/my-share/")]
    more_people(count - 20)
    with CaptureQueriesContext(connection) as caught:
        second = runs.make_run(season=season, by=small.sol(), reason="More people")
    assert len(caught) < 80  # the shares themselves go in by the hundred
    second = small.final(second)
    paths[2:] = [f"/shares/runs/{second.pk}/", f"/shares/runs/{second.pk}/statements/"]
    many = [queries_of(sol, path) for path in paths] + [queries_of(bob, "/my-share/")]
    assert all(many_n <= few_n + 1 for few_n, many_n in zip(few, many, strict=True)), (few, many)
    assert max(many) < 35
