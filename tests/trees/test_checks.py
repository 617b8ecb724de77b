"""The health check, its verdict, and the question about insecticide."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client
from django.urls import reverse
from django.utils.html import escape

from sugarbush.audit.models import AuditEvent
from sugarbush.core.health import health_verdict
from sugarbush.parts.reasons import Refused
from sugarbush.trees.actions_treatment import clear_treatment, record_treatment
from sugarbush.trees.models import HealthCheck, Shown, Treatment, Tree
from sugarbush.trees.queries import uncleared
from sugarbush.volunteers.models import CredentialKind, Person
from tests import make

pytestmark = pytest.mark.django_db

SOUND: dict[str, Any] = {
    "crown_dieback_pct": "0",
    "large_dead_limbs": "no",
    "topped_or_defoliated": "no",
    "cavity": "no",
    "conks": "no",
    "cracks": "no",
    "construction": "no",
    "herbicide": "no",
    "salt": "none",
    "old_holes": "none",
    "no_safe_place": "no",
    "treatment": "no",
    "said_by": "the town forester",
}


def checker() -> Person:
    return make.person("Ivo", credentials=[CredentialKind.CHECKING])


def client_of(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def send(tree: Tree, person: Person | None = None, **fields: Any) -> Any:
    form = {**SOUND, "uuid": str(uuid.uuid4()), "date": str(make.today()), **fields}
    return client_of(person or checker()).post(reverse("tree-check", args=[tree.code]), form)


def shown_now(tree: Tree) -> Shown:
    tree.refresh_from_db()
    return tree.shown


def test_a_sound_tree_passes_and_the_answer_about_insecticide_is_its_own_record() -> None:
    make.season()
    tree = make.tree()
    assert send(tree).status_code == 302
    assert tree.checks.get().verdict == "pass"
    answer = tree.treatments.get()
    assert (answer.answer, answer.said_by, answer.recorded_by) == ("no", "the town forester", checker())


# trade-facts.md item 11, the table of signs: common practice, no source, but for the closing of old holes
# (University of Vermont Extension slides: 2 to 3 years).
@pytest.mark.parametrize(
    ("sign", "verdict", "code"),
    [
        ({"crown_dieback_pct": "9"}, "pass", None),
        ({"crown_dieback_pct": "10"}, "watch", "crown_dieback"),
        ({"crown_dieback_pct": "25"}, "watch", "crown_dieback"),
        ({"crown_dieback_pct": "26"}, "fail", "crown_dieback"),
        ({"cavity": "yes"}, "fail", "cavity"),
        ({"conks": "yes"}, "fail", "conks"),
        ({"cracks": "yes"}, "fail", "cracks"),
        ({"large_dead_limbs": "yes"}, "fail", "large_dead_limbs"),
        ({"construction": "yes"}, "fail", "root_or_construction_work"),
        ({"topped_or_defoliated": "yes"}, "fail", "topped_or_defoliated"),
        ({"herbicide": "yes"}, "fail", "lawn_weedkiller"),
        ({"no_safe_place": "yes"}, "fail", "no_safe_place"),
        ({"salt": "some"}, "watch", "road_salt"),
        ({"salt": "heavy"}, "fail", "road_salt"),
        ({"old_holes": "closed"}, "pass", None),
        ({"old_holes": "part"}, "watch", "some_holes_open"),
        ({"old_holes": "open"}, "fail", "old_holes_open"),
    ],
)
def test_each_sign_gives_its_verdict_and_its_reason(sign: dict[str, Any], verdict: str, code: str | None) -> None:
    make.season()
    tree = make.tree()
    assert send(tree, **sign).status_code == 302
    check = tree.checks.get()
    assert check.verdict == verdict
    assert [reason["code"] for reason in check.reasons] == ([code] if code else [])


def test_the_verdict_is_explained_with_every_reason_and_where_it_comes_from() -> None:
    make.season()
    tree = make.tree()
    answer = send(tree, cavity="yes", salt="some", old_holes="open")
    page = client_of(checker()).get(answer["Location"]).content.decode()
    for words in ("cavity", "Some road-salt scorch", "Old tapholes have not closed", "University of Vermont Extension"):
        assert words in page
    assert "Ask an arborist" in page


def test_weedkiller_and_a_bad_place_fail_in_the_core_and_need_no_arborist() -> None:
    sound: dict[str, Any] = {
        "crown_dieback_pct": 0,
        "cavity": False,
        "conks": False,
        "cracks": False,
        "large_dead_limbs": False,
        "root_or_construction_work": False,
        "road_salt": "none",
        "old_holes_open": False,
        "topped_or_defoliated": False,
    }
    assert health_verdict(**sound).verdict == "pass"
    for sign in ("lawn_weedkiller", "no_safe_place"):
        verdict = health_verdict(**{**sound, sign: True})
        assert (verdict.verdict, verdict.most_taps, verdict.arborist) == ("fail", 0, False)


@pytest.mark.parametrize("name", [name for name in SOUND if name != "said_by"])
def test_no_question_may_stay_open(name: str) -> None:
    tree = make.tree()
    fields: dict[str, Any] = {name: "", "note": "looked from the kerb"}
    answer = send(tree, **fields)
    assert answer.status_code == 422
    assert "looked from the kerb" in answer.content.decode()
    assert not HealthCheck.objects.exists()
    assert not Treatment.objects.exists()


@pytest.mark.parametrize("answer", ["yes", "no"])
def test_yes_and_no_about_insecticide_name_who_said_so(answer: str) -> None:
    tree = make.tree()
    assert send(tree, treatment=answer, said_by="").status_code == 422
    assert send(tree, treatment="unknown", said_by="").status_code == 302
    assert tree.treatments.get().said_by == "Ivo"


@pytest.mark.parametrize(
    ("name", "value"), [("crown_dieback_pct", "101"), ("crown_dieback_pct", "-1"), ("date", "2999-01-01")]
)
def test_what_cannot_be_is_refused(name: str, value: str) -> None:
    fields: dict[str, Any] = {name: value}
    assert send(make.tree(), **fields).status_code == 422
    assert not HealthCheck.objects.exists()


def test_a_check_sent_twice_counts_once() -> None:
    make.season()
    tree, key = make.tree(), str(uuid.uuid4())
    assert send(tree, uuid=key)["Location"] == send(tree, uuid=key)["Location"]
    assert (tree.checks.count(), tree.treatments.count()) == (1, 1)


def test_checking_needs_the_credential_whatever_the_role() -> None:
    tree = make.tree()
    without = make.person("Nell", "lead")
    for person, status in (
        (without, 403),
        (make.bob(), 403),
        (make.mira(), 404),
        (make.charlie(), 404),
        (make.rhea(), 403),
    ):
        assert send(tree, person).status_code == status, person
    assert not HealthCheck.objects.exists()


def test_a_treated_tree_stops_until_a_coordinator_clears_it_in_writing() -> None:
    # job.md C17.
    tree = make.ready_tree()
    assert shown_now(tree) == Shown.READY
    client = client_of(make.bob())
    form = {"uuid": str(uuid.uuid4()), "treatment": "yes", "said_by": "the owner", "date": str(make.today())}
    assert client.post(reverse("tree-treatment", args=[tree.code]), form).status_code == 302
    assert shown_now(tree) != Shown.READY
    # A later "no" does not undo it.
    record_treatment(by=make.lena(), tree=tree, answer="no", said_by="a neighbour", date=make.today())
    assert shown_now(tree) != Shown.READY
    with pytest.raises(PermissionDenied):
        clear_treatment(by=make.lena(), tree=tree, reason="surely fine")
    with pytest.raises(Refused):
        clear_treatment(by=make.alice(), tree=tree, reason="   ")
    reason = "label interval over since 2 May; arborist letter"
    cleared = client_of(make.alice()).post(
        reverse("tree-treatment", args=[tree.code]), {"act": "clear", "clear-reason": reason}
    )
    assert cleared.status_code == 302
    assert uncleared(tree.treatments.all()) == []
    event = AuditEvent.objects.get(act="clear treatment")
    assert (event.by, event.reason) == (make.alice(), reason)


def test_clearing_without_a_reason_keeps_the_page_and_says_so() -> None:
    tree = make.tree()
    make.treatment(tree, "yes")
    page = reverse("tree-treatment", args=[tree.code])
    answer = client_of(make.alice()).post(page, {"act": "clear", "clear-reason": ""})
    assert answer.status_code == 422
    assert client_of(make.lena()).post(page, {"act": "clear", "clear-reason": "ok"}).status_code == 403
    assert uncleared(tree.treatments.all())


def test_who_may_not_see_a_tree_hears_nothing_of_its_treatment() -> None:
    tree = make.tree()
    page = reverse("tree-treatment", args=[tree.code])
    assert client_of(make.mira()).get(page).status_code == 404
    assert client_of(make.rhea()).get(page).status_code == 403


def test_what_people_write_is_shown_as_words_not_as_a_page() -> None:
    tree = make.tree()
    nasty = "<script>alert(1)</script>"
    make.treatment(tree, "yes", said_by=nasty, note=nasty)
    page = client_of(make.bob()).get(reverse("tree-treatment", args=[tree.code])).content.decode()
    assert nasty not in page
    assert escape(nasty) in page
