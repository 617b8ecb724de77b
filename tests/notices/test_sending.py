"""Mails leave by a person's press, one each, and nobody gets two or one they did not want. job.md C40, I23."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterator

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from sugarbush.audit.models import AuditEvent
from sugarbush.notices import actions, audiences, kinds, listing, optout, sending, tasks
from sugarbush.notices.models import How, Notice, NoticeState, Recipient, RecipientState, Way
from sugarbush.owners.models import OwnerContact
from sugarbush.volunteers.models import Membership, Person
from tests import make
from tests.notices.sink import Sink, listening

pytestmark = pytest.mark.django_db
HOSTILE = [
    'Anders "the axe" <other@evil.example>, more@evil.example',
    "Zoë Ångström-Größe Ĳsselmeer Þórðardóttir of the very long name that goes on 🍁🍁🍁",
    "Eve\r\nBcc: all@evil.example",
    "=?utf-8?q?encoded?=",
    "Ng, Li; (comment) @home",
]


@pytest.fixture
def sink(settings) -> Iterator[Sink]:
    with listening() as found:
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT, settings.EMAIL_USE_TLS = "127.0.0.1", found.port, False
        settings.EMAIL_HOST_USER = settings.EMAIL_HOST_PASSWORD = ""
        settings.SENDS_MAIL, settings.PUBLIC_URL = True, "https://sap.example.org"
        settings.DEFAULT_FROM_EMAIL = "sap@sap.example.org"
        yield found


def people(*names: str) -> list[Person]:
    return [make.person(name, email=f"p{n}@quillhaven.example") for n, name in enumerate(names)]


def drafted(by: Person, audience: str = "role", kind: str = "people", **values) -> Notice:
    group = values.pop("group", make.group())
    values = {
        "subject": "The sap is running",
        "body": "Hello {name},\nit is running.",
        "short": "",
        "reply_to": "",
        "narrowed": {},
        **values,
    }
    found = audiences.named(audience)
    assert found is not None
    return actions.draft(
        by=by, token=uuid.uuid4(), kind=kind, audience=found, group=group, values={**values, "group": group}
    )


def pressed(notice: Notice, by: Person) -> Notice:
    return actions.send(notice=notice, by=by, seen=listing.mark(notice, listing.lines(notice)))


def states(notice: Notice) -> dict[str, str]:
    return {one.name: one.state for one in notice.recipients.all()}


def test_one_mail_each_whatever_the_name_with_the_way_out_in_its_head_and_foot(sink):
    people(*HOSTILE)
    make.programme(name='Ahörn, "e.V." <boss@evil.example>\r\nBcc: y@evil.example')
    lena = make.lena()
    notice = drafted(lena, subject="Läuft:\r\nBcc: x@evil.example", reply_to="lena@quillhaven.example")
    notice = pressed(notice, lena)
    assert sink.kept == []  # the press alone sends nothing: the background does
    tasks.send_out.func(notice.pk)
    assert sorted(sink.envelopes) == [[f"p{n}@quillhaven.example"] for n in range(len(HOSTILE))]
    assert {sender for sender, _to, _raw in sink.kept} == {"sap@sap.example.org"}
    for mailed in sink.mails:
        (to,) = mailed["To"].addresses
        assert to.addr_spec in {f"p{n}@quillhaven.example" for n in range(len(HOSTILE))}
        assert mailed["Cc"] is mailed["Bcc"] is None
        assert [one.addr_spec for one in mailed["From"].addresses] == ["sap@sap.example.org"]
        assert [one.addr_spec for one in mailed["Reply-To"].addresses] == ["lena@quillhaven.example"]
        assert mailed["Subject"] == "Läuft: Bcc: x@evil.example"
        assert abs(mailed["Date"].datetime.replace(tzinfo=dt.UTC) - timezone.now()) < dt.timedelta(minutes=1)
        assert mailed["Message-ID"].endswith("@sap.example.org>")
        assert mailed.get_content_type() == "text/plain"
        way_out = str(mailed["List-Unsubscribe"]).strip(" <>")
        assert way_out.startswith("https://sap.example.org/no-messages/")
        assert mailed["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
        assert way_out in mailed.get_content()
    assert len({str(mailed["Message-ID"]) for mailed in sink.mails}) == len(HOSTILE)
    shown = {mailed["To"].addresses[0].display_name for mailed in sink.mails}
    assert {HOSTILE[0], HOSTILE[3], HOSTILE[4], "Eve Bcc: all@evil.example"} < shown
    assert f"{HOSTILE[1]} <p1@quillhaven.example>" in sink.header("To")
    assert f"Hello {HOSTILE[4]}," in "".join(mailed.get_content() for mailed in sink.mails)
    tasks.send_out.func(notice.pk)  # the same task once more
    assert len(sink.kept) == len(HOSTILE)
    assert set(states(notice).values()) == {"sent", "waiting"}  # Lena has no address: by hand


def test_the_one_click_needs_no_cookie_and_is_undone_where_it_was_done(sink):
    (bob,) = people("Bob")
    lena = make.lena()
    notice = pressed(drafted(lena), lena)
    tasks.send_out.func(notice.pk)
    way_out = str(sink.mails[0]["List-Unsubscribe"]).strip(" <>").removeprefix("https://sap.example.org")
    strict = Client(enforce_csrf_checks=True)
    page = strict.get(way_out)  # a mail scanner opens links
    assert page.status_code == 200
    assert "Bob" not in page.content.decode()
    assert optout.standing_of(bob) is None
    assert strict.post(way_out[:-3] + "xy/").status_code == 404
    for _again in range(2):
        assert strict.post(way_out, {"List-Unsubscribe": "One-Click"}).status_code == 200
    assert optout.standing_of(bob).how == How.MAIL_PROGRAM
    assert "No more messages are sent to you" in strict.get(way_out).content.decode()
    told = AuditEvent.objects.filter(act="opt out of messages")
    assert [(one.about, one.by, one.subject_text) for one in told] == [(bob, None, "")]
    left = {line.name: line.why for line in listing.lines(drafted(lena))}
    assert left["Bob"] == listing.NONE_WANTED
    strict.post(way_out, {"act": "again"})
    assert optout.standing_of(bob) is None
    assert bob.no_messages.get().ended_at is not None
    assert strict.post(way_out, {"act": "something"}).status_code == 404


def test_what_changes_between_the_press_and_the_mail_holds(sink):
    anna, ben, cleo, dan = people("Anna", "Ben", "Cleo", "Dan")
    lena = make.lena()
    notice = pressed(drafted(lena), lena)
    optout.opt_out(whom=anna, how=How.OWN_PAGE, by=anna)
    Person.objects.filter(pk=ben.pk).update(is_active=False)
    Person.objects.filter(pk=cleo.pk).update(email="new@quillhaven.example")
    tasks.send_out.func(notice.pk)
    assert sink.envelopes == [[dan.email]]
    why = dict(notice.recipients.filter(state=RecipientState.LEFT_OUT).values_list("name", "why"))
    assert why == {"Anna": listing.NONE_WANTED, "Ben": listing.LEFT, "Cleo": listing.MOVED}
    assert AuditEvent.objects.filter(act="leave out of message").count() == 3
    assert "Anna" not in str(list(AuditEvent.objects.values_list("subject_text", "old", "new", "reason")))


def test_a_worker_that_dies_halfway_leaves_nobody_with_two(sink, monkeypatch):
    names = [f"Walker {n}" for n in range(6)]
    people(*names)
    lena = make.lena()
    notice = pressed(drafted(lena), lena)

    class Died(BaseException):
        pass

    kept, settle = [], sending._settle

    def dies_after_the_third(recipient: Recipient, state: str, why: str = "") -> None:
        kept.append(recipient.name)
        if len(kept) == 3:
            raise Died
        settle(recipient, state, why)

    monkeypatch.setattr(sending, "_settle", dies_after_the_third)
    with pytest.raises(Died):
        tasks.send_out.func(notice.pk)
    monkeypatch.setattr(sending, "_settle", settle)
    assert len(sink.kept) == 3
    tasks.send_out.func(notice.pk)
    assert sorted(to for (to,) in sink.envelopes) == sorted(f"p{n}@quillhaven.example" for n in range(6))
    unsure = notice.recipients.get(name=kept[2])
    assert unsure.state == RecipientState.SENDING
    Recipient.objects.filter(pk=unsure.pk).update(at=timezone.now() - sending.CUT_OFF_AFTER * 2)
    assert actions.go_on(notice=notice, by=lena) == 0  # nobody else waits, and this one may have it
    tasks.send_out.func(notice.pk)
    unsure.refresh_from_db()
    assert (unsure.state, unsure.why) == (RecipientState.FAILED, sending.UNSURE)
    assert len(sink.kept) == 6


def test_many_go_out_in_slices_and_who_is_put_off_waits_for_the_end(sink, monkeypatch):
    people(*(f"Walker {n}" for n in range(5)))
    sink.answers = {"p0@quillhaven.example": "451 come back later"}
    lena = make.lena()
    notice = pressed(drafted(lena), lena)
    monkeypatch.setattr(sending, "SLICE", 2)
    queued = []
    monkeypatch.setattr(tasks, "queue", lambda *args, **kwargs: queued.append((args, kwargs)))
    tasks.send_out.func(notice.pk)
    while len(queued) < 5 and not queued[-1][1]:
        tasks.send_out.func(*queued[-1][0])
    assert sorted(sink.envelopes) == [[f"p{n}@quillhaven.example"] for n in range(1, 5)]
    assert [(args[1], kwargs) for args, kwargs in queued] == [(0, {}), (0, {}), (1, {"after": tasks.WAITS[0]})]
    assert states(notice)["Walker 0"] == RecipientState.WAITING


def test_a_server_that_refuses_puts_off_or_hangs_up(sink, monkeypatch):
    people("Anna", "Ben", "Cleo", "Dan")
    sink.answers = {"p0@quillhaven.example": "550 no such box", "p1@quillhaven.example": "451 come back later"}
    sink.hang_up_after = 0  # Cleo's mail is taken, but the line dies before the answer
    lena = make.lena()
    notice = pressed(drafted(lena), lena)
    queued = []
    monkeypatch.setattr(tasks, "queue", lambda *args, **kwargs: queued.append((args, kwargs)))
    assert tasks.send_out.func(notice.pk) == 1
    rows = {one.name: (one.state, one.why) for one in notice.recipients.filter(way=Way.EMAIL)}
    assert rows == {
        "Anna": (RecipientState.FAILED, sending.REFUSED),
        "Ben": (RecipientState.WAITING, ""),
        "Cleo": (RecipientState.FAILED, sending.UNSURE),
        "Dan": (RecipientState.SENT, ""),
    }
    assert queued == [((notice.pk, 1), {"after": tasks.WAITS[0]})]
    sink.shutdown()
    sink.server_close()  # now it is away altogether
    assert tasks.send_out.func(notice.pk, len(tasks.WAITS)) == 1
    assert notice.recipients.get(name="Ben").why == sending.UNREACHABLE
    assert actions.go_on(notice=notice, by=lena) == 2  # Anna and Ben; Cleo may have it
    assert len(queued) == 2


def test_without_a_mail_server_it_goes_by_hand_and_nothing_leaves(settings):
    people("Anna", "Ben")
    lena = make.lena()
    client = Client()
    client.force_login(lena)
    notice = drafted(lena, short="It is running.")
    assert "SUGARBUSH_EMAIL_URL" in client.get(notice.get_absolute_url()).content.decode()
    notice = pressed(notice, lena)
    assert set(notice.recipients.values_list("way", "address")) == {(Way.HAND, "")}
    page = client.get(notice.get_absolute_url()).content.decode()
    assert "Hello everybody," in page
    assert "It is running." in page
    optout.opt_out(whom=Person.objects.get(display_name="Ben"), how=How.TOLD_US, by=lena)
    letters = client.get(reverse("notice-letters", args=[notice.pk])).content.decode()
    assert "Hello Anna," in letters
    assert "Hello Ben," not in letters
    client.post(reverse("notice-handed", args=[notice.pk]), {"all": "yes"})
    assert states(notice) == {"Anna": "handed", "Ben": "left_out", "Lena": "handed"}
    assert notice.recipients.get(name="Anna").handed_by == lena
    tasks.send_out.func(notice.pk)
    assert mail.outbox == []


def test_a_press_sends_what_was_looked_at_once(sink):
    people("Anna")
    lena = make.lena()
    notice = drafted(lena)
    seen = listing.mark(notice, listing.lines(notice))
    ben = make.person("Ben", email="ben@quillhaven.example")
    client = Client()
    client.force_login(lena)
    answer = client.post(reverse("notice-send", args=[notice.pk]), {"seen": seen})
    assert answer.status_code == 409
    assert "something changed since you looked" in answer.content.decode()
    assert Recipient.objects.count() == 0
    first, second = pressed(notice, lena), pressed(notice, lena)
    assert first.pk == second.pk
    assert notice.recipients.filter(person=ben).count() == 1
    assert AuditEvent.objects.filter(act="send message").count() == 1
    edited = client.post(reverse("notice-edit", args=[notice.pk]), {"subject": "Other"})
    assert edited.status_code == 302
    notice.refresh_from_db()
    assert (notice.state, notice.subject) == (NoticeState.SENT, "The sap is running")


def test_revoked_refused_and_opted_out_owners_are_never_in_the_list():
    lena = make.lena()
    tree = make.tree(land="private")
    owners = {}
    for name, given in {
        "Yes": ["granted"],
        "Stopped": ["revoked"],
        "No": ["refused"],
        "Asked again after no": ["refused", "asked"],
        "One of two": ["revoked", "granted"],
        "Paused": ["suspended"],
        "Silent": ["granted"],
        "Never asked": [],
    }.items():
        owners[name] = make.owner(name, "person")
        OwnerContact.objects.create(owner=owners[name], email=f"{len(owners)}@quillhaven.example")
        make.owns(tree, owners[name])
        for state in given:
            make.permission(tree, owner=owners[name], capacity="owner", state=state)
    optout.opt_out(whom=owners["Silent"], how=How.TOLD_US, by=lena)
    found = {line.name: line.why for line in listing.lines(drafted(lena, "owners-trees", "owners"))}
    assert {name: why for name, why in found.items() if name in owners} == {
        "Yes": "",
        "Stopped": listing.SAID_NO,
        "No": listing.SAID_NO,
        "Asked again after no": listing.SAID_NO,
        "One of two": "",
        "Paused": "",
        "Silent": listing.NONE_WANTED,
        "Never asked": "",
    }
    asked = make.owner("Waits", "person")
    make.permission(tree, owner=asked, capacity="owner", state="asked")
    reminder = drafted(lena, "owners-asked", kinds.REMINDER, narrowed={"days": 0})
    assert {line.name: line.why for line in listing.lines(reminder)}["Waits"] == ""
    actions.hand_over(notice=pressed(reminder, lena), by=lena, recipient_ids=None)
    another = drafted(lena, "owners-asked", kinds.REMINDER, narrowed={"days": 0})
    assert {line.name: line.why for line in listing.lines(another)}["Waits"] == listing.REMINDED


def test_a_lapsed_role_is_out_and_a_forgotten_name_comes_off(sink):
    anna, ben = people("Anna", "Ben")
    lena, alice = make.lena(), make.alice()
    notice = pressed(drafted(lena), lena)
    tasks.send_out.func(notice.pk)
    Membership.objects.filter(person=ben).update(date_to=make.today() - make.days(1))
    assert "Ben" not in {line.name for line in listing.lines(drafted(lena))}
    from sugarbush.volunteers.forgetting import forget, name_of

    Person.objects.filter(pk=anna.pk).update(is_active=False)
    forget(person=anna, by=alice, reason="asked for it")
    row = Recipient.objects.get(person=anna)
    assert (row.name, row.address, row.state) == (name_of(anna.pk), "", RecipientState.SENT)
