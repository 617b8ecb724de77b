"""Who sees which message, what their pages tell and what they cost. job.md C40, I20, I21."""

from __future__ import annotations

import uuid

import pytest
from django.core.exceptions import PermissionDenied
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from sugarbush.audit.models import AuditEvent
from sugarbush.boils.models import BoilDay
from sugarbush.desk.privacy import own_data
from sugarbush.gathering.models_rounds import Answer, Round, RoundRun, RunPerson
from sugarbush.notices import actions, audiences, listing
from sugarbush.notices.models import Notice, NoticeState
from sugarbush.owners.models import OwnerContact
from sugarbush.volunteers.models import Membership, Person, Role
from tests import make
from tests.notices.test_sending import drafted, pressed

pytestmark = pytest.mark.django_db


def client_of(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def mildred() -> Person:
    return make.person("Mildred", Role.LEAD, "Mill Race")


PAGES = ("notice", "notice-edit", "notice-letters")
PRESSES = ("notice-edit", "notice-send", "notice-drop", "notice-handed", "notice-again", "notice-letters")


def test_a_message_stays_within_its_group():
    ours, everybodys = drafted(make.lena()), drafted(make.alice(), group=None)
    for person, notice in ((mildred(), ours), (make.lena(), everybodys), (make.bob(), ours), (make.kai(), ours)):
        client = client_of(person)
        for name in PAGES:
            assert client.get(reverse(name, args=[notice.pk])).status_code == 404, (person, name)
        for name in PRESSES:
            assert client.post(reverse(name, args=[notice.pk]), {"seen": ""}).status_code == 404, (person, name)
    assert client_of(make.bob()).get(reverse("notices")).status_code == 403
    rhea = client_of(make.rhea())  # reads all of it, changes nothing
    assert rhea.get(ours.get_absolute_url()).status_code == 200
    for name in PRESSES:
        assert rhea.post(reverse(name, args=[ours.pk])).status_code == 403, name
    assert rhea.get(reverse("notice-new")).status_code == 403
    seen = client_of(mildred()).get(reverse("notices")).content.decode()
    assert "The sap is running" not in seen
    with pytest.raises(PermissionDenied):
        drafted(mildred())
    with pytest.raises(PermissionDenied):
        drafted(make.lena(), group=None)
    ours.refresh_from_db()
    assert ours.state == NoticeState.DRAFT


def test_a_lead_writes_to_the_own_group_and_the_owners_of_its_trees():
    lena, bob, mira = make.lena(), make.bob(), make.mira()
    near, far = make.owner("Near", "person"), make.owner("Far", "person")
    make.owns(make.tree(), near)
    make.owns(make.tree(group=make.group("Mill Race")), far)
    assert {line.name for line in listing.lines(drafted(lena))} == {lena.display_name, bob.display_name}
    assert [line.name for line in listing.lines(drafted(lena, "owners-trees", "owners"))] == ["Near"]
    everybody = {line.name for line in listing.lines(drafted(make.alice(), group=None))}
    assert {lena.display_name, bob.display_name, mira.display_name} < everybody
    form = client_of(lena).get(reverse("notice-new"), {"kind": "running"}).content.decode()
    assert "Mill Race" not in form
    given = {"kind": "running", "audience": "role", "group": make.group("Mill Race").pk, "token": uuid.uuid4()}
    answer = client_of(lena).post(reverse("notice-new"), {**given, "subject": "Kept", "body": "Kept too"})
    assert answer.status_code == 422
    assert "Kept too" in answer.content.decode()
    assert not Notice.objects.filter(subject="Kept").exists()


def test_those_on_a_round_or_at_the_pan_that_day():
    season, bob, mira, kai = make.season(), make.bob(), make.mira(), make.kai()
    walk = Round.objects.create(season=season, group=make.group(), name="Upper bank")
    run = RoundRun.objects.create(round=walk, date=make.today())
    RunPerson.objects.create(run=run, person=bob)
    RunPerson.objects.create(run=run, person=make.lena(), answer=Answer.NO)
    on = {"on": make.today().isoformat()}
    assert [line.name for line in listing.lines(drafted(make.lena(), "runs", narrowed=on))] == [bob.display_name]
    day = BoilDay.objects.create(season=season, day=make.today(), site="Foundry yard", lead=kai)
    day.crew.add(mira)
    client = client_of(kai)  # a boil lead: the crew of a day, and nobody else
    assert client.get(reverse("notice-new"), {"kind": "running", "audience": "role"}).status_code == 403
    given = {"kind": "boil-day", "audience": "boil-crew", "token": uuid.uuid4(), **on}
    sent = [
        client.post(reverse("notice-new"), {**given, "subject": "Rain date", "body": "Sunday, {name}."})
        for _again in range(2)
    ]
    assert {answer["Location"] for answer in sent} == {Notice.objects.get(subject="Rain date").get_absolute_url()}
    page = client.get(sent[0]["Location"]).content.decode()
    assert "2 get it" in page
    assert mira.display_name in page
    assert client_of(make.lena()).get(sent[0]["Location"]).status_code == 404
    assert client_of(make.rhea()).get(sent[0]["Location"]).status_code == 200


def test_a_draft_that_two_change_keeps_both_words():
    lena = make.lena()
    notice, client = drafted(lena), client_of(lena)
    text = {"group": make.group().pk, "token": notice.uuid, "edition": 1, "body": "x {name}"}
    url = reverse("notice-edit", args=[notice.pk])
    assert client.post(url, {**text, "subject": "First"}).status_code == 302
    late = client.post(url, {**text, "subject": "Second"})
    assert late.status_code == 409
    assert "First" in late.content.decode()
    assert "Second" in late.content.decode()
    wrong = client.post(url, {**text, "edition": 2, "subject": "Third", "body": "Hello {email}"})
    assert wrong.status_code == 422
    assert client.post(url, {**text, "edition": 2, "subject": "Second"}).status_code == 302
    notice.refresh_from_db()
    assert (notice.subject, notice.edition) == ("Second", 3)
    client.post(reverse("notice-drop", args=[notice.pk]))
    with pytest.raises(Exception, match="thrown away"):
        actions.send(notice=notice, by=lena, seen="")


def test_names_and_ways_only_until_a_look_at_where_they_live_is_written_down():
    lena = make.lena()
    tree = make.tree(land="private")
    fern = make.owner("Fern Abernathy-Sole", "person")
    OwnerContact.objects.create(owner=fern, email="fern@quillhaven.example", phone="555-0142", address="9 Kiln Lane")
    make.owns(tree, fern)
    notice, client = drafted(lena, "owners-trees", "owners"), client_of(lena)
    secrets = ("fern@", "555-0142", "9 Kiln Lane")
    pages = [client.get(notice.get_absolute_url()).content.decode()]
    notice = pressed(notice, lena)
    pages += [client.get(url).content.decode() for url in (notice.get_absolute_url(), letters_url(notice))]
    for page in pages:
        assert "Fern Abernathy-Sole" in page
        assert not [secret for secret in secrets if secret in page]
    assert not AuditEvent.objects.filter(act="see contact").exists()
    for _again in range(2):
        assert "9 Kiln Lane" in client.post(letters_url(notice)).content.decode()
    assert AuditEvent.objects.get(act="see contact").subject_id == str(fern.pk)
    assert "Fern" in client.get(reverse("owner-messages", args=[fern.pk])).content.decode()
    assert "The sap is running" in client.get(reverse("owner-messages", args=[fern.pk])).content.decode()
    assert client_of(mildred()).get(reverse("owner-messages", args=[fern.pk])).status_code == 404
    assert "1 message" in client.get(reverse("owner", args=[fern.pk])).content.decode()
    client.post(reverse("owner-messages", args=[fern.pk]), {"act": "stop"})
    assert "Wants no messages" in client.get(reverse("owner", args=[fern.pk])).content.decode()
    rhea = client_of(make.rhea())
    assert rhea.post(reverse("owner-messages", args=[fern.pk]), {"act": "again"}).status_code == 403


def letters_url(notice: Notice) -> str:
    return reverse("notice-letters", args=[notice.pk])


def test_what_a_person_got_stands_on_their_own_page_and_in_their_file():
    bob, lena = make.bob(), make.lena()
    notice = pressed(drafted(lena), lena)
    actions.hand_over(notice=notice, by=lena, recipient_ids=None)
    own = client_of(bob)
    assert "Hello Bob," in own.get(reverse("my-messages")).content.decode()
    own.post(reverse("my-messages"), {"act": "stop"})
    assert "You get no messages" in own.get(reverse("my-messages")).content.decode()
    data = own_data.collected(bob)
    (got,) = data["messages"]
    assert (got["subject"], got["state"]) == ("The sap is running", "handed")
    assert [one["how"] for one in data["no_messages"]] == ["own_page"]
    page = client_of(lena).get(reverse("person-messages", args=[bob.pk])).content.decode()
    assert "The sap is running" in page
    assert own.get(reverse("person-messages", args=[bob.pk])).status_code == 403
    assert own.get(reverse("person-messages", args=[lena.pk])).status_code == 404


def test_two_thousand_cost_no_more_queries_than_twenty():
    lena = make.lena()
    client, counts = client_of(lena), []
    for many in (20, 2_000):
        group = make.group(f"Group of {many}")
        Membership.objects.create(person=lena, role=Role.LEAD, group=group, date_from=make.today())
        made = Person.objects.bulk_create(Person(display_name=f"Walker {many}-{n}") for n in range(many))
        Membership.objects.bulk_create(
            Membership(person=one, role=Role.VOLUNTEER, group=group, date_from=make.today()) for one in made
        )
        lena = Person.objects.get(pk=lena.pk)
        notice = drafted(lena, group=group)
        draft_page = queries(client, notice.get_absolute_url())
        seen = listing.mark(notice, listing.lines(notice))
        with CaptureQueriesContext(
            connection,
        ) as press:
            actions.send(notice=notice, by=lena, seen=seen)
        assert notice.recipients.count() == many + 1
        # Rows go in by the hundreds; all else is the same for any number.
        writes = sum("INSERT INTO" in one["sql"] and "notices_recipient" in one["sql"] for one in press)
        assert writes <= 1 + many // 70
        pages = [
            notice.get_absolute_url(),
            letters_url(notice),
            reverse("notices"),
            notice.get_absolute_url() + "?page=2",
        ]
        counts.append([draft_page, len(press) - writes, *(queries(client, page) for page in pages)])
        with CaptureQueriesContext(connection) as handed:
            assert actions.hand_over(notice=notice, by=lena, recipient_ids=None) == many + 1
        assert len(handed) < 20
    assert counts[0] == counts[1]
    assert max(counts[0]) <= 25


def queries(client: Client, url: str) -> int:
    with CaptureQueriesContext(connection) as asked:
        assert client.get(url).status_code == 200
    return len(asked)


def test_every_kind_begins_with_whom_it_says():
    from sugarbush.notices import kinds

    make.programme(phone="555-0140")
    for kind in kinds.KINDS:
        audience = audiences.named(kind.audience)
        assert audience is not None, kind.code
        assert audience.to == kind.to
        text = kinds.starting_text(kind)
        assert "555-0140" in text["body"]
        assert kinds.NAME not in text["short"] + text["subject"]
        assert "{" not in text["body"].replace(kinds.NAME, "")
