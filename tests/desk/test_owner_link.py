"""An owner's private page: what opens it, what it shows, and what a press does. job.md C14."""

from __future__ import annotations

import datetime as dt
import hashlib
import logging
import re

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from sugarbush.audit.models import AuditEvent
from sugarbush.desk.owner_page import door
from sugarbush.owners import consent, links
from sugarbush.owners.models import Owner, OwnerAnswer, OwnerLink, Permission
from sugarbush.taps.gate import gate
from sugarbush.trees.models import Shown, Treatment, Tree
from sugarbush.volunteers import limits
from sugarbush.volunteers.hiding import HideLinks
from sugarbush.volunteers.models import Person
from tests import make

pytestmark = pytest.mark.django_db


@pytest.fixture
def fern() -> Owner:
    return make.owner("Fern Abernathy-Sole", "person")


@pytest.fixture
def tree(fern: Owner) -> Tree:
    """A tapped tree in Fern's yard, by her own yes."""
    made = make.given_tree(land="private")
    made.permission_lines.all().delete()
    make.owns(made, fern)
    make.permission(made, owner=fern, capacity="owner", signed_by="Fern Abernathy-Sole")
    make.tap(made)
    return made


def link_of(owner: Owner, days: int = 30) -> str:
    return links.make_link(owner=owner, by=make.lena(), good_to=make.today() + make.days(days))


def opened(token: str) -> Client:
    client = Client()
    assert client.get(reverse("owner-link", args=[token]))["Location"] == reverse("my-tree")
    return client


def read(page: str) -> str:
    """The mark of the words on a page."""
    return re.findall(r'name="read" value="(\w+)"', page)[0]


def asked(fern: Owner, **fields: object) -> Permission:
    """A slip that waits for Fern, for a tree nobody has asked the insecticide question of."""
    there = make.tree(land="private")
    make.owns(there, fern)
    return make.permission(there, owner=fern, capacity="owner", signed_by="", evidence_note="", state="asked", **fields)


def test_opening_changes_nothing_and_the_token_stays_nowhere(fern: Owner, tree: Tree) -> None:
    token = link_of(fern)
    kept = (list(OwnerLink.objects.values()), list(Permission.objects.values()), AuditEvent.objects.count())
    for _scanner in range(3):
        visitor = Client()
        answer = visitor.get(reverse("owner-link", args=[token]))
        assert (answer.status_code, answer["Location"]) == (302, reverse("my-tree"))
        assert (answer["Referrer-Policy"], "no-store" in answer["Cache-Control"]) == ("no-referrer", True)
        assert "noindex" in answer["X-Robots-Tag"]
        page = visitor.get(reverse("my-tree"))
        assert (page.status_code, "no-store" in page["Cache-Control"]) == (200, True)
        assert token not in page.content.decode() + str(visitor.cookies)
        # It is no sign-in: nobody's pages open by it.
        assert (visitor.get(reverse("me")).status_code, dict(visitor.session)) == (302, {})
        assert visitor.post(reverse("owner-link", args=[token])).status_code == 405
    assert kept == (list(OwnerLink.objects.values()), list(Permission.objects.values()), AuditEvent.objects.count())
    for line in (f"GET /o/{token}/ HTTP/1.1", f"Not Found: /o/{token}/", f"/join/{token}", f"/sign-in/{token}/"):
        row = logging.LogRecord("gunicorn.access", logging.INFO, "", 0, "%s", (line,), None)
        assert HideLinks().filter(row)
        assert (token in row.getMessage(), "(hidden)" in row.getMessage()) == (False, True)


def test_the_page_says_what_hangs_until_when_and_names_nobody_else(fern: Owner, tree: Tree) -> None:
    make.collection(tree, litres="6.5")
    make.programme(phone="555-0100")
    neighbour = make.tapped_tree()
    client = opened(link_of(fern))
    with CaptureQueriesContext(
        connection,
    ) as few:
        page = client.get(reverse("my-tree")).content.decode()
    for words in (
        tree.address,
        "1 spout and 1 pail since",
        "Comes out",
        "6.50",
        "it looked well",
        "555-0100",
        "you said yes",
    ):
        assert words.lower() in page.lower(), words
    for other in ("Bob", "Lena", "Alice", neighbour.code, "Quillhaven Parks"):
        assert other not in page, other
    for _more in range(5):
        make.owns(make.tree(land="private"), fern)
    with CaptureQueriesContext(connection) as many:
        assert client.get(reverse("my-tree")).status_code == 200
    assert (len(many), len(few) < 30) == (len(few), True)


def test_another_owners_slip_and_tree_are_not_there(fern: Owner, tree: Tree) -> None:
    client = opened(link_of(fern))
    other = make.tapped_tree()
    slip = other.permissions.get()
    draft = make.permission(make.tree(), owner=fern, state="draft")
    for number in (slip.number, draft.number, "P0", "\x00"):
        assert client.get(reverse("my-permission", args=[number])).status_code == 404
        assert client.post(reverse("my-stop", args=[number])).status_code == 404
        assert client.post(reverse("my-jar", args=[number]), {"share_wish": "jar"}).status_code == 404
    assert client.post(reverse("my-treated", args=[other.code]), {"treated": "yes"}).status_code == 404
    slip.refresh_from_db()
    assert (slip.state, other.treatments.filter(answer="yes").exists()) == ("granted", False)


def test_links_that_do_not_open_get_one_answer_and_a_page_that_is_open_closes(fern: Owner, tree: Tree) -> None:
    replaced = link_of(fern)
    first = opened(replaced)
    withdrawn = link_of(fern)
    assert first.get(reverse("my-tree")).status_code == 403
    second = opened(withdrawn)
    lena = Client()
    lena.force_login(make.lena())
    lena.post(reverse("owner-link-withdraw", args=[fern.pk]))
    assert second.post(reverse("my-stop", args=[tree.permissions.get().number])).status_code == 403
    old = link_of(fern)
    OwnerLink.objects.filter(withdrawn_at=None).update(good_to=make.today() - make.days(1))
    pages = set()
    for token in (replaced, withdrawn, old, "never-made-at-all"):
        answer = Client().get(reverse("owner-link", args=[token]))
        assert answer.status_code == 404
        pages.add(answer.content.decode())
    assert len(pages) == 1
    assert tree.permissions.get().state == "granted"
    forged = Client()
    forged.cookies[door.COOKIE] = str(OwnerLink.objects.latest("pk").pk)
    assert forged.get(reverse("my-tree")).status_code == 403
    acts = AuditEvent.objects.filter(subject_kind="owners.owner").order_by("pk").values_list("act", flat=True)
    assert list(acts) == ["make owner link", "make owner link", "withdraw owner link", "make owner link"]


def test_please_stop_is_one_press_after_a_look_and_shows_as_an_entry_of_the_desk(fern: Owner, tree: Tree) -> None:
    slip = tree.permissions.get()
    client = opened(link_of(fern))
    stop = reverse("my-stop", args=[slip.number])
    assert "1 tree has a spout in" in client.get(stop).content.decode()
    slip.refresh_from_db()
    assert slip.state == "granted"
    receipt = client.post(stop, follow=True).content.decode()
    assert "Keep the number" in receipt
    assert slip.number in receipt
    client.post(stop)  # a second press changes nothing
    slip.refresh_from_db()
    tree.refresh_from_db()
    assert (slip.state, tree.shown) == ("revoked", Shown.PULL)
    assert "was taken back" in " ".join(str(reason) for reason in gate(tree, "tap", make.today()))
    told = AuditEvent.objects.get(act="permission revoked")
    assert (told.by, "link" in told.new, OwnerAnswer.objects.get().said) == (None, True, "stop")
    lena = Client()
    lena.force_login(make.lena())
    assert "the owner, by their link" in lena.get(reverse("permission", args=[slip.number])).content.decode()
    assert OwnerLink.objects.get().last_pressed_at is not None
    assert "nothing" not in client.get(reverse("my-tree")).content.decode().split("On it now")[1][:60]


def test_agreeing_keeps_the_words_and_twice_is_once(fern: Owner) -> None:
    make.season()
    slip = asked(fern, most_taps=1, conditions="Ring the bell first.")
    client = opened(link_of(fern))
    where = reverse("my-permission", args=[slip.number])
    page = client.get(where).content.decode()
    assert "Ring the bell first." in page
    typed = {"answer": "yes", "name": "Fern  Abernathy-Sole", "agree": "on", "treated": "no", "share_wish": "jar"}
    typed["read"] = read(page)
    for missing in ("name", "agree", "treated"):
        assert client.post(where, typed | {missing: ""}).status_code == 422
    slip.conditions = "Mind the dog."
    slip.edition += 1
    slip.save()
    assert client.post(where, typed).status_code == 409  # not to words that somebody changed meanwhile
    assert not OwnerAnswer.objects.exists()
    typed["read"] = read(client.get(where).content.decode())
    for _press in range(2):
        assert client.post(where, typed).status_code == 302
    slip.refresh_from_db()
    answer = OwnerAnswer.objects.get()
    assert (slip.state, slip.signed_by, slip.share_wish, slip.live_on(make.today())) == (
        "granted", "Fern Abernathy-Sole", "jar", True
    )  # fmt: skip
    assert (answer.name, answer.wording_version) == ("Fern Abernathy-Sole", consent.VERSION)
    assert "Mind the dog." in answer.wording
    assert "At most 1 spout a tree." in answer.wording
    assert f"wording {consent.VERSION}" in slip.evidence_note
    assert Treatment.objects.get().said_by == "Fern Abernathy-Sole"
    assert AuditEvent.objects.filter(act="permission granted").count() == 1
    # What was read stays readable, whatever becomes of the slip.
    assert "Mind the dog." in client.get(where).content.decode()
    # No needs no more than the press, and is final.
    other = asked(fern)
    there = reverse("my-permission", args=[other.number])
    client.post(there, {"answer": "no", "read": read(client.get(there).content.decode())})
    other.refresh_from_db()
    assert other.state == "refused"
    assert client.post(there, typed).status_code == 409
    assert OwnerAnswer.objects.count() == 2


def test_who_does_not_own_cannot_answer_by_link_and_a_slip_without_days_takes_the_seasons(fern: Owner) -> None:
    for fields in ({"capacity": "occupant"}, {"date_from": None, "date_to": None}, {"capacity": "agency"}):
        slip = asked(fern)
        Permission.objects.filter(pk=slip.pk).update(**fields)
        client = opened(link_of(fern))
        where = reverse("my-permission", args=[slip.number])
        assert "not ready to be answered" in client.get(where).content.decode()
        typed = {"answer": "yes", "name": "Fern", "agree": "on", "treated": "no", "share_wish": "jar", "read": "x"}
        assert client.post(where, typed).status_code == 409
        slip.refresh_from_db()
        assert slip.state == "asked"
    season, slip = make.season(), asked(fern, date_from=None, date_to=None)
    where = reverse("my-permission", args=[slip.number])
    typed = {"answer": "yes", "name": "Fern", "agree": "on", "treated": "unknown", "share_wish": "none"}
    assert client.post(where, typed | {"read": read(client.get(where).content.decode())}).status_code == 302
    slip.refresh_from_db()
    assert (slip.date_from, slip.date_to) == (season.tapping_from, season.tapping_to)


def test_a_jar_and_a_treated_tree(fern: Owner, tree: Tree) -> None:
    slip = tree.permissions.get()
    client = opened(link_of(fern))
    client.post(reverse("my-jar", args=[slip.number]), {"share_wish": "jar"})
    client.post(reverse("my-jar", args=[slip.number]), {"share_wish": "a barrel"})
    slip.refresh_from_db()
    assert slip.share_wish == "jar"
    assert client.post(reverse("my-treated", args=[tree.code]), {}).status_code == 422
    for _press in range(2):
        client.post(reverse("my-treated", args=[tree.code]), {"treated": "yes"})
    tree.refresh_from_db()
    assert (tree.treatments.filter(answer="yes").count(), tree.shown) == (1, Shown.PULL)


def test_who_may_make_a_link_and_it_is_shown_once(fern: Owner, tree: Tree) -> None:
    made: dict[str, int] = {}
    where, page_of = reverse("owner-link-make", args=[fern.pk]), reverse("owner", args=[fern.pk])
    typed = {"good_to": str(make.today() + make.days(9))}
    people: list[Person] = [make.alice(), make.lena(), make.rhea(), make.bob(), make.mira(), make.charlie()]
    for person in people:
        client = Client()
        client.force_login(person)
        made[person.display_name] = client.post(where, typed).status_code
    assert made == {"Alice": 200, "Lena": 200, "Rhea": 403, "Bob": 404, "Mira": 404, "Charlie": 404}
    lena = Client()
    lena.force_login(make.lena())
    shown = lena.post(where, typed).content.decode()
    [token] = set(re.findall(r"/o/([\w-]{32})/", shown))
    assert ("<svg" in shown, "shown this once" in shown) == (True, True)
    assert OwnerLink.objects.get(withdrawn_at=None).token_hash == hashlib.sha256(token.encode()).hexdigest()
    page = lena.get(page_of).content.decode()
    assert (token in page, "opens until" in page) == (False, True)
    assert lena.post(where, {"good_to": str(make.today() - make.days(1))}).status_code == 422
    # With a tree in another group, a link would show a lead more than the lead's own.
    make.owns(make.tree(group=make.group("Mill Race")), fern)
    assert lena.post(where, typed).status_code == 403
    assert lena.post(reverse("owner-link-withdraw", args=[fern.pk])).status_code == 403
    assert "Ask a coordinator for the link" in lena.get(page_of).content.decode()
    assert opened(token).get(reverse("my-tree")).status_code == 200


def test_an_address_that_tries_many_links_waits(fern: Owner, tree: Tree, monkeypatch: pytest.MonkeyPatch) -> None:
    token, clock = link_of(fern), [dt.datetime(2026, 3, 1, 12, tzinfo=dt.UTC)]
    monkeypatch.setattr(limits, "now", lambda: clock[0])
    monkeypatch.setattr(
        door, "BY_ADDRESS", limits.Limit(name="owner link, test", most=2, within=dt.timedelta(minutes=10))
    )

    def status_of(opens: str, address: str = "203.0.113.9") -> int:
        return Client(REMOTE_ADDR=address).get(reverse("owner-link", args=[opens])).status_code

    assert [status_of(token) for _good in range(4)] == [302] * 4  # a link that opens is no wrong try
    assert [status_of(f"wrong-{n}") for n in range(3)] == [404, 404, 429]
    waits = Client(REMOTE_ADDR="203.0.113.9").get(reverse("owner-link", args=[token]))
    assert "Try again in 10 minutes." in waits.content.decode()
    assert status_of(token, "203.0.113.10") == 302
    clock[0] += dt.timedelta(minutes=11)
    assert status_of(token) == 302


def test_another_wording_has_another_version() -> None:
    words = "\n".join(str(sentence) for sentence in consent.SENTENCES)
    assert {consent.VERSION: hashlib.sha256(words.encode()).hexdigest()[:12]} == {"1": "09fd2aa6fd5b"}
