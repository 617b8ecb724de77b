"""House rules: published once and for good, said yes to with one tick, asked for again where a version needs it."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.db import DatabaseError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from sugarbush.audit.models import AuditEvent
from sugarbush.gathering import round_acts, run_acts
from sugarbush.parts.reasons import Refused
from sugarbush.taps.actions import place_tap
from sugarbush.volunteers import access, actions, booking, cards, rules, waivers
from sugarbush.volunteers.models import Credential, HouseRules, JoinCard, Person
from tests import make

pytestmark = pytest.mark.django_db
WORDS = "We look after each other.\n\n<b>Nobody</b> climbs."


def publish(words: str = WORDS, *, after: int = 0, asks_anew: bool = True, in_days: int = 0, **more: str) -> HouseRules:
    needed_from = make.today() + make.days(in_days)
    made = rules.publish(
        by=make.alice(), words=words, after=after, asks_anew=asks_anew, needed_from=needed_from, **more
    )
    asked = waivers.asked()
    waivers.keep(asked.wanted if asked else 0)
    return made


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def test_a_version_is_published_once_numbered_and_stays_as_it_was():
    with pytest.raises(Refused) as draft:
        publish(rules.first_text())
    assert draft.value.reasons[0].code == "draft"
    with pytest.raises(PermissionDenied):
        rules.publish(by=make.lena(), words=WORDS, after=0, asks_anew=True, needed_from=make.today())
    first = publish()
    assert (publish().pk, HouseRules.objects.count()) == (first.pk, 1)  # pressed twice
    with pytest.raises(Refused) as same:
        publish(after=1)
    assert same.value.reasons[0].code == "same"
    second = publish("Other words.", after=1)
    with pytest.raises(Refused) as meanwhile:
        publish("A third writer saw only the first version.", after=1)
    assert meanwhile.value.reasons[0].code == "meanwhile"
    assert [first.number, second.number, second.published_by] == [1, 2, make.alice()]
    for spoil in (
        lambda: HouseRules.objects.filter(pk=first.pk).update(words="changed"),
        lambda: HouseRules.objects.filter(pk=first.pk).delete(),
    ):
        with pytest.raises(DatabaseError), transaction.atomic():
            spoil()
    told = AuditEvent.objects.filter(act="publish house rules").values_list("new__version", flat=True)
    assert sorted(told) == [1, 2]


def test_while_nothing_is_published_nothing_is_asked_and_the_coordinator_reads_so():
    bob, alice = signed_in(make.bob()), signed_in(make.alice())
    assert access.why_not(make.bob(), "be.booked", group_id=make.group().pk) == ""
    assert bob.get(reverse("house-rules")).status_code == 404
    assert "house rules wait" not in bob.get(reverse("me")).content.decode()
    page = alice.get(reverse("rules-keep")).content.decode()
    assert "Nothing is published, so nobody is asked and nothing is recorded." in page
    assert "It was written by nobody learned in the law" in page
    assert "nobody’s yes is missing" in alice.get(reverse("rules-missing")).content.decode()
    for name in ("rules-keep", "rules-missing"):
        assert bob.get(reverse(name)).status_code == 403


def test_a_coordinator_looks_at_the_text_before_publishing_and_it_is_never_markup():
    alice = signed_in(make.alice())
    typed = {"words": WORDS, "needed_from": str(make.today()), "after": "0"}
    seen = alice.post(reverse("rules-keep"), typed | {"step": "look"}).content.decode()
    assert "<p>&lt;b&gt;Nobody&lt;/b&gt; climbs.</p>" in seen
    assert not HouseRules.objects.exists()
    late = alice.post(reverse("rules-keep"), typed | {"needed_from": "2020-01-01", "step": "publish"})
    assert (late.status_code, "That day is over" in late.content.decode()) == (422, True)
    assert alice.post(reverse("rules-keep"), typed | {"step": "publish"}).status_code == 302
    waivers.keep(1)
    bob = signed_in(make.bob())
    assert "&lt;b&gt;Nobody&lt;/b&gt; climbs." in bob.get(reverse("house-rules")).content.decode()
    assert "The house rules wait for your yes." in bob.get(reverse("me")).content.decode()
    assert bob.post(reverse("house-rules"), {"rules": "1"}).status_code == 422
    for _twice in range(2):
        assert bob.post(reverse("house-rules"), {"rules": "1", "rules_yes": "on"}).status_code == 302
    held = Credential.objects.get(person=make.bob(), kind="waiver")
    assert (held.version, held.valid_from, held.by_self) == ("1", make.today(), True)
    page = bob.get(reverse("me")).content.decode()
    assert ("house rules, version 1" in page, "wait for your yes" in page) == (True, False)
    publish("Newer.", after=1)
    stale = bob.post(reverse("house-rules"), {"rules": "1", "rules_yes": "on"})
    assert (stale.status_code, "have changed while you read" in stale.content.decode()) == (409, True)


def test_an_act_that_needs_a_yes_is_refused_from_the_day_it_is_needed_and_a_log_never():
    tree, bob = make.given_tree(), make.bob()
    publish(in_days=3)
    assert (waivers.to_ask(bob), access.why_not(bob, "tap.place", group_id=tree.group_id)) == (1, "")
    publish("Needed today.", after=1)
    assert "house rules, version 2" in access.why_not(bob, "tap.place", group_id=tree.group_id)
    with pytest.raises(Refused) as refused:
        place_tap(tree=tree, by=bob, hole=make.HOLE, shavings="white")
    [reason] = refused.value.reasons
    assert (reason.code, reason.next_url) == ("person", reverse("house-rules"))
    assert make.collection(make.tapped_tree(), by=bob).state == "counted"
    [out] = booking.why_not([bob], make.today())
    assert out.code == "waiver"
    rules.say_yes(person=bob, number=2)
    # A slip of the pen put right asks nobody anew; a paper yes counts by its number; one that ended does not.
    publish("Needed today, said better.", after=2, asks_anew=False)
    assert (access.why_not(bob, "tap.place", group_id=tree.group_id), booking.why_not([bob], make.today())) == ("", [])
    lena = make.lena()
    paper = actions.record_credential(by=make.alice(), person=lena, kind="waiver", valid_from=make.today())
    assert (paper.version, booking.why_not([lena], make.today())) == ("3", [])
    Credential.objects.filter(pk=paper.pk).update(valid_to=make.today())
    assert [one.code for one in booking.why_not([lena], make.today() + make.days(1))] == ["waiver"]


def join(card: JoinCard, **says: str) -> tuple[Client, Any]:
    visitor = Client()
    page = visitor.get(reverse("join-card", args=[cards.code_of(card)]), follow=True).content.decode()
    press = re.findall(r'name="press" value="([^"]+)"', page)[0]
    return visitor, visitor.post(reverse("join-you"), {"units": "metric", "press": press, **says})


def test_a_newcomer_says_yes_with_one_tick_and_somebody_under_eighteen_names_who_agrees():
    make.season()
    publish()
    card = make.cards_of(most=9).cards.get()
    _visitor, unread = join(card, display_name="Tove", age_band="adult", rules="1")
    assert (unread.status_code, "Tick this to say yes" in unread.content.decode()) == (422, True)
    visitor, done = join(
        card, display_name="Tove", age_band="adult", rules="1", rules_yes="on", guardian="nobody asked"
    )
    assert (done.status_code, visitor.get(reverse("round")).status_code) == (302, 200)
    held = Credential.objects.get(person__display_name="Tove")
    assert (held.kind, held.version, held.by_self, held.vouched_by) == ("waiver", "1", True, None)
    _visitor, changed = join(card, display_name="Ulf", age_band="adult", rules="7", rules_yes="on")
    assert (changed.status_code, 'value="Ulf"' in changed.content.decode()) == (409, True)
    _visitor, young = join(card, display_name="Wren", age_band="child", rules="1", rules_yes="on", guardian="Ona Marsh")
    assert young.status_code == 302
    wren = Person.objects.get(display_name="Wren")
    said = wren.credentials.get(kind="guardian")
    assert (said.by_self, "Ona Marsh" in said.note) == (True, True)
    # Named on a phone is not yet agreed: somebody rings, and records it.
    assert [one.code for one in booking.why_not([wren], make.today())] == ["consent", "adults"]
    page = signed_in(make.alice()).get(reverse("rules-missing")).content.decode()
    assert ("Ona Marsh" in page, "Tove" in page) == (True, False)
    actions.record_credential(by=make.alice(), person=wren, kind="guardian", valid_from=make.today())
    assert [one.code for one in booking.why_not([wren], make.today())] == ["adults"]
    assert "Ona Marsh" not in signed_in(make.alice()).get(reverse("rules-missing")).content.decode()


def test_the_list_of_missing_yeses_is_paged_and_asks_no_more_of_the_database_when_long():
    publish()
    alice, found = signed_in(make.alice()), list[tuple[int, int]]()
    for many in (2, 130):
        for n in range(len(found) and 2, many):
            make.person(f"Volunteer {n:03d}")
        with CaptureQueriesContext(connection) as seen:
            page = alice.get(reverse("rules-missing")).content.decode()
        found.append((len(seen), page.count("<tr><th")))
    assert (found[0][0], found[1][1]) == (found[1][0], 101)
    assert "Volunteer 129" in alice.get(reverse("rules-missing") + "?page=2").content.decode()


def test_a_lead_sees_whose_yes_is_missing_and_whoever_is_out_reads_why():
    bob, lena = make.bob(), make.lena()
    found = round_acts.make_round(
        season=make.season(), group=make.group(), by=lena, name="Larkspur", latest_start=dt.time(16),
        trees=[make.tapped_tree()],
    )  # fmt: skip
    run_acts.give_runs(found=found, by=lena, first=make.today(), last=make.today(), walks=[bob])
    publish()
    rules.say_yes(person=lena, number=1)
    page = signed_in(lena).get(reverse("group", args=[make.group().pk])).content.decode()
    assert page.count("no yes to the house rules yet") == 1
    mine = signed_in(bob).get(reverse("my-rounds")).content.decode()
    assert ("You are out of this run for now" in mine, "Bob has not said yes to the house rules." in mine) == (
        True,
        True,
    )
