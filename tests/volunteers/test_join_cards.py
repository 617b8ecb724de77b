"""Joining by a printed card: no e-mail, one press, and the coordinator sees who came and may end it at once."""

from __future__ import annotations

import datetime as dt
import re
from ipaddress import ip_network

import pytest
from django.contrib.sessions.models import Session
from django.db import connection
from django.http import HttpResponse
from django.test import Client, RequestFactory
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from sugarbush.audit.models import AuditEvent
from sugarbush.parts.proxies import ProxyMiddleware
from sugarbush.parts.reasons import Refused
from sugarbush.volunteers import access, cards, limits
from sugarbush.volunteers.models import CardSheet, Credential, JoinCard, Membership, Person, Tries
from tests import make

pytestmark = pytest.mark.django_db
SAYS = {"display_name": "Tove  Aspengren", "units": "metric", "age_band": "adult"}
GONE = "This card does not open anything, or not any more."


def code(of: CardSheet, number: int = 1) -> str:
    return cards.code_of(of.cards.get(number=number))


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def scan(client: Client, of: str) -> str:
    """Open the address on a card; the press secret of the page it leads to."""
    page = client.get(reverse("join-card", args=[of]), follow=True)
    assert page.redirect_chain == [(reverse("join-you"), 302)]
    return str(re.findall(r'name="press" value="([^"]+)"', page.content.decode())[0])


def test_somebody_joins_by_a_card_and_is_on_the_round_until_the_season_is_over(client: Client) -> None:
    make.season(tapping_to=make.today() + make.days(40))
    made = make.cards_of()
    press = scan(client, code(made))
    answer = client.post(reverse("join-you"), SAYS | {"press": press})
    assert (answer.status_code, answer["Location"]) == (302, reverse("round"))
    assert client.get(reverse("round")).status_code == 200
    tove = Person.objects.get(display_name="Tove Aspengren")
    assert (tove.email, tove.units, tove.age_band) == (None, "metric", "adult")
    held = tove.memberships.get()
    assert (held.role, held.group, held.date_from, held.date_to) == (
        "volunteer", made.group, make.today(), made.member_to
    )  # fmt: skip
    # Signed in past the last day in the group, so that what still waits on the phone can be sent.
    last = timezone.make_aware(dt.datetime.combine(made.member_to + make.days(28), dt.time(23, 59)))
    assert abs(client.session.get_expiry_date() - last) < dt.timedelta(minutes=1)
    # No waiver was shown, so none is recorded.
    assert not Credential.objects.filter(person=tove).exists()
    assert not access.why_not(tove, "collection.log", group_id=made.group_id)
    assert access.scope(tove, "trees.see").group_ids == {made.group_id}
    assert list(AuditEvent.objects.order_by("pk").values_list("act", flat=True)) == ["make join cards", "join by card"]


def test_opening_an_address_spends_nothing_and_the_code_stays_in_none(client: Client) -> None:
    made = make.cards_of()
    for _scanner in range(3):
        other = Client()
        answer = other.get(reverse("join-card", args=[code(made)]))
        assert (answer.status_code, answer["Location"]) == (302, reverse("join-you"))
        assert (answer["Referrer-Policy"], "no-store" in answer["Cache-Control"]) == ("strict-origin", True)
        assert code(made) not in other.get(reverse("join-you")).content.decode()
        assert code(made) not in str(dict(other.session))
    assert made.cards.get(number=1).used == 0
    assert not Person.objects.filter(joined_by__isnull=False).exists()
    # Typed as people type, small and with gaps, the same card opens.
    typed = cards.spaced(code(made)).lower()
    assert client.post(reverse("join"), {"code": typed})["Location"] == reverse("join-you")
    assert Client().get(reverse("join-you"))["Location"] == reverse("join")


def test_a_press_that_comes_twice_makes_one_person_even_when_the_first_answer_was_lost(client: Client) -> None:
    made = make.cards_of()
    press = scan(client, code(made))
    said = SAYS | {"press": press}
    client.post(reverse("join-you"), said)
    tove = Person.objects.get(display_name="Tove Aspengren")
    again = client.post(reverse("join-you"), said)
    lost = Client()  # the phone never got its cookie
    assert lost.post(reverse("join-you"), said)["Location"] == again["Location"] == reverse("round")
    assert lost.session["_auth_user_id"] == str(tove.pk)
    assert (Person.objects.filter(display_name="Tove Aspengren").count(), made.cards.get(number=1).used) == (1, 1)
    # Ended by the coordinator, the same press opens nothing, and both devices are out.
    signed_in(make.lena()).post(reverse("person-signed-out", args=[tove.pk]))
    assert client.get(reverse("me")).status_code == lost.get(reverse("me")).status_code == 302
    assert Client().post(reverse("join-you"), said)["Location"] == reverse("join")


def test_every_card_that_does_not_open_gets_the_same_answer(client: Client) -> None:
    today = make.today()
    spent, withdrawn = make.cards_of(), make.cards_of(2)
    old = make.cards_of(good_from=today - make.days(9), good_to=today - make.days(1))
    later = make.cards_of(good_from=today + make.days(1))
    spent.cards.update(used=1)
    cards.withdraw(by=make.lena(), sheet=withdrawn, number=1)
    pages = set()
    for of in (code(spent), code(withdrawn), code(old), code(later), "CCCCCCCCC"):
        answer = Client().get(reverse("join-card", args=[of]))
        assert answer.status_code == 404
        pages.add(re.sub(r'name="csrfmiddlewaretoken" value="[^"]+"', "", answer.content.decode()))
    assert len(pages) == 1
    assert GONE in pages.pop()
    # Withdrawn while somebody was typing their name: nobody joins, and the sentence is the same.
    press = scan(client, code(withdrawn, 2))
    cards.withdraw(by=make.lena(), sheet=withdrawn)
    answer = client.post(reverse("join-you"), SAYS | {"press": press})
    assert (answer.status_code, GONE in answer.content.decode()) == (404, True)
    assert not Person.objects.filter(joined_by__isnull=False).exists()


def test_wrong_codes_run_out_for_who_tries_and_for_nobody_else(monkeypatch: pytest.MonkeyPatch) -> None:
    at = timezone.now()
    monkeypatch.setattr(limits, "now", lambda: at)
    made, client = make.cards_of(), Client(REMOTE_ADDR="203.0.113.7")
    wrong = [f"CCCCCC{a}{b}{c}" for a in "CDFGH" for b in "CDFGH" for c in "CDFG"]

    def tries(visitor: Client, of: str) -> int:
        return visitor.post(reverse("join"), {"code": of}).status_code

    def somebody(address: str = "203.0.113.7") -> Client:
        return Client(REMOTE_ADDR=address)

    assert [tries(client, of) for of in wrong[:11]] == [404] * 10 + [429]
    blocked = client.post(reverse("join"), {"code": code(made)})
    assert (blocked.status_code, blocked["Retry-After"]) == (429, "600")
    assert "Try again in 10 minutes." in blocked.content.decode()
    # Somebody else in the same house is let in, and does not wait; nor does a right code use up anything.
    assert [tries(somebody(), code(made)) for _again in range(3)] == [302] * 3
    # One who drops the cookies each time runs out for the whole house, not for the next.
    assert [tries(somebody(), of) for of in wrong[10:60]] == [404] * 50
    assert tries(somebody(), wrong[60]) == 429
    sessions = Session.objects.count()
    # Run out, the address fills no table either, whatever cookie it makes up.
    for made_up in ("", "x" * 32):
        guest = somebody()
        guest.cookies["sugarbush"] = made_up
        assert tries(guest, wrong[61]) == 429
    assert (Session.objects.count(), Tries.objects.count()) == (sessions, 52)
    assert tries(somebody("203.0.113.8"), code(made)) == 302
    at += dt.timedelta(minutes=10)
    assert [tries(client, wrong[0]), tries(client, code(made))] == [404, 302]
    # No address stands in the books, and the night throws away what is over.
    assert "203.0.113" not in str(list(Tries.objects.values()))
    Session.objects.filter(pk=client.session.session_key).update(expire_date=timezone.now() - make.days(1))
    limits.sweep()
    assert not Session.objects.filter(pk=client.session.session_key).exists()
    at += make.days(2)
    limits.sweep()
    assert not Tries.objects.exists()


def test_a_proxy_is_believed_only_where_it_is_named_and_only_its_own_word(settings: object) -> None:
    def seen(remote: str, told: str = "") -> tuple[str, bool]:
        headers = {"x-forwarded-for": told} if told else {}
        request = RequestFactory(REMOTE_ADDR=remote).get("/", headers=headers)
        ProxyMiddleware(lambda _request: HttpResponse())(request)
        return limits.address_of(request)

    settings.PROXIES = [ip_network("127.0.0.1"), ip_network("10.9.0.0/16")]  # type: ignore[attr-defined]
    assert seen("127.0.0.1", "198.51.100.1, 203.0.113.7") == ("203.0.113.7", False)
    assert seen("127.0.0.1", "203.0.113.7, 10.9.9.9") == ("203.0.113.7", False)  # two of ours, one behind the other
    assert seen("203.0.113.9", "198.51.100.1") == ("203.0.113.9", False)
    assert seen("127.0.0.1") == ("127.0.0.1", True)  # nobody says who asks, so many share it
    # One house has a /64 of IPv6 (RFC 6177 gives sites no less), so its addresses count as one.
    assert seen("2001:db8:1:2::5") == seen("2001:db8:1:2:ffff::9") == ("2001:db8:1:2::/64", False)
    settings.PROXIES = []  # type: ignore[attr-defined]
    assert seen("127.0.0.1", "203.0.113.7") == ("127.0.0.1", True)


def test_a_name_that_is_there_is_asked_about_and_a_young_one_is_marked(client: Client) -> None:
    make.bob()
    made = make.cards_of(most=3)
    press = scan(client, code(made))
    taken = client.post(reverse("join-you"), SAYS | {"press": press, "display_name": "bob"})
    page = taken.content.decode()
    assert (taken.status_code, "is in North Bank already. Is that you?" in page) == (409, True)
    assert 'value="bob"' in page
    unread = client.post(reverse("join-you"), {"press": press, "display_name": " 12 ", "units": "metric"})
    assert (unread.status_code, Person.objects.filter(joined_by__isnull=False).count()) == (422, 0)
    young = {"press": press, "display_name": "Bob Umberfield", "age_band": "child"}
    assert client.post(reverse("join-you"), SAYS | young).status_code == 302
    # In an adult's season a child drills nothing; the group's page says what is still to be done.
    bob_u = Person.objects.get(display_name="Bob Umberfield")
    assert "for adults" in access.why_not(bob_u, "tap.place", group_id=made.group_id)
    group_page = signed_in(make.lena()).get(reverse("group", args=[made.group_id])).content.decode()
    assert "by card 1, " in group_page
    assert "guardian’s consent to record" in group_page
    # The card is for three: two more come by it, and its page names them.
    for name in ("Ida", "Jon"):
        other = Client()
        other.post(reverse("join-you"), SAYS | {"press": scan(other, code(made)), "display_name": name})
    assert cards.card_for(code(made)) is None
    seen = signed_in(make.lena()).get(reverse("card-sheet", args=[made.pk])).content.decode()
    assert all(name in seen for name in ("Bob Umberfield", "Ida", "Jon", "3 of 3 people", "used up"))


def test_a_signed_in_person_keeps_the_card_for_somebody_else() -> None:
    made, bob = make.cards_of(), signed_in(make.bob())
    assert "It was not used." in bob.get(reverse("join-card", args=[code(made)])).content.decode()
    assert bob.post(reverse("join-you"), SAYS).status_code == 409
    assert made.cards.get(number=1).used == 0


def test_a_lead_makes_prints_and_withdraws_cards_of_the_own_group_only() -> None:
    lena, here = signed_in(make.lena()), reverse("group-cards", args=[make.group().pk])
    page = lena.get(here).content.decode()
    fields = dict(re.findall(r'name="(sheet_id|good_from|good_to|member_to)" value="([^"]+)"', page))
    fields = {"count": "10", "most": "1"} | fields
    for _twice in range(2):
        answer = lena.post(here, fields)
    made = CardSheet.objects.get()
    assert answer["Location"] == reverse("card-sheet-print", args=[made.pk])
    late = lena.post(here, fields | {"good_to": str(make.today() - make.days(1))}).content.decode()
    assert "That day is over." in late
    paper = lena.get(answer["Location"]).content.decode()
    assert all(cards.spaced(cards.code_of(card)) in paper for card in made.cards.all())
    assert (paper.count('class="qr"'), paper.count('class="cut-page"'), "style=" in paper) == (10, 2, False)
    # Printed again, the codes are the same, and stand nowhere in the books.
    kept = str(list(JoinCard.objects.values())) + str(list(AuditEvent.objects.values()))
    assert not any(cards.code_of(card) in kept for card in made.cards.all())
    withdraw = reverse("card-sheet-withdraw", args=[made.pk])
    lena.post(withdraw, {"card": "3"})
    lena.post(withdraw)
    assert made.cards.filter(withdrawn_at=None).count() == 0
    assert "None of these cards opens any more." in lena.get(answer["Location"]).content.decode()
    acts = AuditEvent.objects.order_by("pk").values_list("act", flat=True)
    assert list(acts) == ["make join cards", "show join cards", *["withdraw join cards"] * 2, "show join cards"]
    doors = [here, reverse("card-sheet", args=[made.pk]), answer["Location"]]
    abel = make.person("Abel", "lead", "Mill Race")
    for person, status in (
        (make.bob(), 403),
        (make.rhea(), 403),
        (make.mira(), 404),
        (abel, 404),
        (make.charlie(), 404),
    ):
        assert {signed_in(person).get(door).status_code for door in doors} == {status}, person
        assert signed_in(person).post(withdraw).status_code == status


def test_a_card_opens_no_longer_than_its_maker_could_make_another() -> None:
    made = make.cards_of()
    press = scan(Client(), code(made))
    Membership.objects.filter(person=make.lena()).update(date_to=make.today() - make.days(1))
    assert cards.card_for(code(made)) is None
    with pytest.raises(Refused):
        cards.join(card=made.cards.get(), press=press, display_name="Tove", units="us", age_band="adult")
    alice = signed_in(make.alice())
    for page in ("card-sheet", "card-sheet-print"):
        said = alice.get(reverse(page, args=[made.pk])).content.decode()
        assert "Lena made them, and may make no cards for this group any more." in said
        assert cards.spaced(code(made)) not in said
    make.person("Lena", "coordinator", None)  # in again, by another role
    assert cards.card_for(code(made)) is not None


def test_another_signing_key_makes_old_cards_worthless_and_says_so(settings: object) -> None:
    made = make.cards_of()
    before = code(made)
    settings.SECRET_KEY = "another key that is quite long enough"  # type: ignore[attr-defined]
    assert code(made) != before
    assert cards.card_for(before) is cards.card_for(code(made)) is None
    page = signed_in(make.alice()).get(reverse("card-sheet-print", args=[made.pk])).content.decode()
    assert "These cards can’t be printed" in page


def test_lists_of_cards_and_of_who_came_ask_the_database_no_more_for_many() -> None:
    def queries(count: int) -> list[int]:
        made = make.cards_of(count)
        for card in made.cards.all()[: count - 1]:
            cards.join(card=card, press=str(card.pk), display_name=f"P{card.pk}", units="us", age_band="youth")
        lena, asked = signed_in(make.lena()), []
        for page in (reverse("group-cards", args=[made.group_id]), reverse("card-sheet", args=[made.pk]),
                     reverse("group", args=[made.group_id]), reverse("card-sheet-print", args=[made.pk])):  # fmt: skip
            with CaptureQueriesContext(
                connection,
            ) as held:
                assert lena.get(page).status_code == 200
            asked.append(len(held))
        return asked

    few = queries(2)
    assert queries(9) == few
    assert max(few) < 20
    assert Membership.objects.filter(role="volunteer").count() == 9
