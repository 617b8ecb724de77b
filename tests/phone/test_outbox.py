"""What a phone sends is kept once, with the time it happened; what is doubtful is put to review, nothing is dropped."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import Any

import pytest
from django.db import OperationalError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from sugarbush.gathering.actions import change_visit, settle
from sugarbush.gathering.models import Collection, CollectionState
from sugarbush.phone import keeping, taking
from sugarbush.phone.models import Sent
from sugarbush.sap.ledger import balance_ml, hands_of, totals_by_cause
from sugarbush.sap.models import Cause, Standing
from sugarbush.seasons.models import SeasonState
from sugarbush.taps.actions import take_out
from sugarbush.taps.models import Tap, TapState
from sugarbush.trees import shown
from tests import make
from tests.phone.sending import DAY, HOUR, MINUTE, Phone, entry, hole, now_ms, quick, visit

pytestmark = pytest.mark.django_db
DATA = Path(__file__).parent / "data"


def counted_ml() -> int:
    return totals_by_cause(make.season(), standing=Standing.COUNTED).get(Cause.OUT_OF_TREE, 0)


def test_an_entry_is_kept_with_the_time_it_happened():
    sent = visit(make.tapped_tree(), litres=6.5, ago_ms=3 * HOUR)
    answer = Phone().send_one(sent)
    assert (answer["state"], answer["id"]) == ("saved", sent["id"])
    kept = Collection.objects.get(pk=sent["id"])
    assert (kept.volume_ml, kept.state, kept.source) == (6_500, CollectionState.COUNTED, "phone")
    assert int(kept.happened_at.timestamp() * 1000) == sent["happened_ms"]
    assert counted_ml() == 6_500


def test_the_same_batch_three_times_is_one_batch():
    phone, tree = Phone(), make.tapped_tree()
    batch = [visit(tree, litres=1 + n / 2, ago_ms=(12 - n) * MINUTE) for n in range(12)]
    assert [one["state"] for one in phone.send(*batch)] == ["saved"] * 12
    for _ in range(2):
        assert [one["state"] for one in phone.send(*batch)] == ["before"] * 12
    assert Collection.objects.count() == 12
    assert "It counts once." in phone.send_one(batch[0])["reasons"][0]


def test_how_long_it_waited_may_differ_when_it_is_sent_again():
    phone, sent = Phone(), visit(make.tapped_tree())
    phone.send_one({**sent, "waited_ms": 10})
    assert phone.send_one({**sent, "waited_ms": 99_000})["state"] == "before"


def test_another_entry_under_the_same_name_is_refused_never_merged():
    phone, tree = Phone(), make.tapped_tree()
    sent = visit(tree, litres=5)
    phone.send_one(sent)
    answer = phone.send_one({**sent, "volume_ml": 6_000})
    assert answer["state"] == "refused"
    assert Collection.objects.get().volume_ml == 5_000
    lena = Phone(make.lena())
    assert lena.send_one(sent)["state"] == "refused"


def test_an_entry_of_a_page_with_signal_is_not_taken_for_one_of_the_phones():
    kept = make.collection(litres=4)
    answer = Phone().send_one({**visit(kept.tree, litres=4), "id": str(kept.pk)})
    assert (answer["state"], Collection.objects.count()) == ("refused", 1)


def test_one_bad_entry_keeps_none_of_the_others_back():
    phone, tree = Phone(), make.tapped_tree()
    good = [visit(tree), quick(tree, "frozen")]
    bad: list[Any] = [
        visit(tree, volume_ml="much"),
        {"id": "no-name", "kind": "visit"},
        entry("dance", tree=tree.code),
        "words",
    ]
    states = [one["state"] for one in phone.send(good[0], *bad, good[1])]
    assert states == ["saved", "refused", "refused", "refused", "refused", "saved"]
    assert Collection.objects.count() == 2


def test_what_cannot_be_is_refused_with_a_sentence():
    phone, tree = Phone(), make.tapped_tree()
    answer = phone.send_one(visit(tree, discarded_ml=7_000, discard_reason="ice"))
    assert answer["state"] == "refused"
    assert answer["reasons"] == ["More was tipped out than came out of the tree."]
    assert not Sent.objects.exists()


def test_a_busy_database_keeps_the_entry_waiting(monkeypatch):
    def busy(_entry):
        raise OperationalError("database is locked")

    phone, sent = Phone(), visit(make.tapped_tree())
    monkeypatch.setitem(keeping.KEEPERS, "visit", busy)
    assert phone.send_one(sent)["state"] == "later"
    monkeypatch.undo()
    assert phone.send_one(sent)["state"] == "saved"


def test_what_nobody_foresaw_in_one_entry_keeps_that_one_waiting_and_the_rest_go(monkeypatch):
    def broken(_entry):
        raise ZeroDivisionError

    phone, tree = Phone(), make.tapped_tree()
    monkeypatch.setitem(keeping.KEEPERS, "tap", broken)
    assert [one["state"] for one in phone.send(visit(tree), hole(tree), quick(tree, "empty"))] == [
        "saved",
        "later",
        "saved",
    ]


# Who may send


def test_a_session_that_ended_is_told_and_nothing_is_taken():
    phone = Phone()
    sent = visit(make.tapped_tree())
    phone.client.logout()
    answer = phone.post(sent)
    assert (answer.status_code, answer.json()["code"]) == (403, "signed-out")
    phone.client.force_login(phone.person)
    assert phone.send_one(sent)["state"] == "saved"


def test_somebody_else_who_signs_in_sends_nothing_of_the_first():
    phone, sent = Phone(), visit(make.tapped_tree())
    phone.client.force_login(make.lena())
    answer = phone.post(sent)
    assert (answer.status_code, answer.json()["code"]) == (409, "other-person")
    assert not Collection.objects.exists()


def test_hello_says_who_is_signed_in_and_gives_a_fresh_secret():
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(make.bob())
    hello = strict.get(reverse("round-outbox")).json()
    assert hello["person"] == str(make.bob().key)
    batch = {"format": 1, "person": hello["person"], "phone_now_ms": now_ms(), "entries": []}
    assert strict.post(reverse("round-outbox"), batch, content_type="application/json").status_code == 403
    headers = {"x-csrftoken": hello["secret"]}
    sent = strict.post(reverse("round-outbox"), batch, content_type="application/json", headers=headers)
    assert sent.status_code == 200


def test_somebody_whose_part_has_ended_is_heard_and_the_entry_is_to_review():
    bob, tree = make.bob(), make.tapped_tree()
    bob.memberships.update(date_to=make.today() - make.days(1))
    answer = Phone(bob).send_one(visit(tree, ago_ms=2 * DAY))
    assert (answer["state"], answer["to_review"]) == ("review", True)
    assert "had ended before this came" in answer["reasons"][0]
    kept = Collection.objects.get()
    assert kept.state == CollectionState.REVIEW
    assert (balance_ml(hands_of(bob, make.season())), counted_ml()) == (6_500, 0)


def test_what_somebody_wrote_after_their_part_had_ended_stays_on_their_phone():
    bob, tree = make.bob(), make.tapped_tree()
    bob.memberships.update(date_to=make.today() - make.days(3))
    answer = Phone(bob).send_one(visit(tree))
    assert (answer["state"], Collection.objects.count()) == ("refused", 0)


def test_a_spout_pulled_by_somebody_whose_part_has_ended_is_looked_at_and_the_tap_stays_in_the_books():
    bob, tree = make.bob(), make.tapped_tree()
    tap = tree.taps.get()
    bob.memberships.update(date_to=make.today() - make.days(1))
    answer = Phone(bob).send_one(entry("pull", tree=tree.code, tap=str(tap.pk), ago_ms=2 * DAY))
    assert answer["state"] == "review"
    tap.refresh_from_db()
    assert tap.spout_in


def test_a_tree_given_to_another_group_meanwhile_is_to_review():
    tree = make.tapped_tree()
    tree.group = make.group("Mill Race")
    tree.save()
    answer = Phone().send_one(visit(tree))
    assert (answer["state"], answer["reasons"]) == ("review", ["The tree was given to another group before this came."])


def test_another_groups_tree_and_no_tree_at_all_get_the_same_words():
    theirs = make.tapped_tree(group=make.group("Mill Race"))
    make.tapped_tree()
    phone = Phone()
    there = phone.send_one(visit(theirs))
    nowhere = phone.send_one({**visit(theirs), "tree": "QH-99999"})
    assert (there["state"], nowhere["state"]) == ("refused", "refused")
    assert there["reasons"][0].replace(theirs.code, "QH-99999") == nowhere["reasons"][0]


# What is doubtful


@pytest.mark.parametrize("first_is_earlier", [True, False])
def test_two_phones_at_one_tree_are_both_kept_and_the_second_to_come_is_to_review(first_is_earlier):
    tree = make.tapped_tree()
    ago = (50 * MINUTE, 10 * MINUTE) if first_is_earlier else (10 * MINUTE, 50 * MINUTE)
    assert Phone().send_one(visit(tree, litres=6.5, ago_ms=ago[0]))["state"] == "saved"
    second = Phone(make.lena()).send_one(visit(tree, litres=6, ago_ms=ago[1]))
    assert second["state"] == "review"
    assert second["reasons"][0].startswith("Bob logged 6.50\u00a0L here at ")
    assert second["reasons"][0].endswith("40 minutes apart.")
    assert counted_ml() == 6_500


@pytest.mark.parametrize(("apart", "state"), [(119 * MINUTE, "review"), (121 * MINUTE, "saved")])
def test_two_hours_apart_are_two_pails(apart, state):
    tree = make.tapped_tree()
    Phone().send_one(visit(tree, ago_ms=200 * MINUTE))
    assert Phone(make.lena()).send_one(visit(tree, ago_ms=200 * MINUTE - apart))["state"] == state


def test_the_same_person_may_empty_one_pail_twice_within_the_hour():
    phone, tree = Phone(), make.tapped_tree()
    assert [one["state"] for one in phone.send(visit(tree, ago_ms=HOUR), visit(tree, ago_ms=MINUTE))] == ["saved"] * 2


def test_an_entry_six_days_late_for_a_tap_pulled_since_is_to_review_and_counts_once_settled():
    tree = make.tapped_tree()
    take_out(tap=tree.taps.get(), by=make.lena(), out_at=timezone.now() - make.days(3))
    answer = Phone().send_one(visit(tree, ago_ms=6 * DAY))
    assert answer["state"] == "review"
    assert "was taken out on" in answer["reasons"][0]
    assert counted_ml() == 0
    settle(entry=Collection.objects.get(), by=make.lena(), verdict="counts", note="Bob's slip says the same.")
    assert counted_ml() == 6_500


def test_no_tap_in_at_that_time_is_to_review():
    tree = make.tapped_tree()
    answer = Phone().send_one(visit(tree, ago_ms=11 * DAY))
    assert (answer["state"], "had no tap" in answer["reasons"][0]) == ("review", True)


def test_a_permission_that_lapsed_before_the_visit_puts_it_to_review_and_one_that_lapsed_after_does_not():
    tree = make.tapped_tree()
    tree.permissions.update(state="revoked", ended_at=timezone.now() - dt.timedelta(hours=2))
    shown.refresh([tree.pk])
    states = [one["state"] for one in Phone().send(visit(tree, ago_ms=3 * HOUR), visit(tree, ago_ms=HOUR))]
    assert states == ["saved", "review"]


def test_an_entry_from_another_day_counts_for_its_day():
    answer = Phone().send_one(visit(make.tapped_tree(), ago_ms=2 * DAY))
    assert answer["state"] == "saved"
    assert answer["reasons"][0].endswith("Counted for that day. Thank you for sending it.")


def test_ten_pails_are_counted_when_the_phone_has_asked_and_looked_at_when_not():
    phone, tree = Phone(), make.tapped_tree()
    said = phone.send_one(visit(tree, litres=80, sure=True, note="Several pails, logged as one."))
    unsaid = phone.send_one(visit(tree, litres=80))
    assert (said["state"], unsaid["state"]) == ("saved", "review")
    assert "10 pails" in unsaid["reasons"][0]
    assert Collection.objects.count() == 2


def test_after_the_season_an_entry_stays_on_the_phone_with_its_reason():
    tree = make.tapped_tree()
    make.season(state=SeasonState.CLOSED)
    answer = Phone().send_one(visit(tree))
    assert (answer["state"], answer["reasons"]) == ("refused", ["No season is running."])


@pytest.mark.parametrize("off", [DAY, -DAY, 3653 * DAY, -3653 * DAY])
def test_a_phone_whose_clock_is_off_is_believed_in_what_it_found_and_looked_at_for_the_time(off):
    phone = Phone(clock_off_ms=off)
    sent = visit(make.tapped_tree(), ago_ms=2 * HOUR)
    sent["happened_ms"] -= off
    answer = phone.send_one(sent)
    assert answer["state"] == "review"
    assert "clock was wrong" in answer["reasons"][0]
    kept, receipt = Collection.objects.get(), Sent.objects.get()
    assert abs(kept.happened_at - (timezone.now() - dt.timedelta(hours=2))) < dt.timedelta(minutes=1)
    assert receipt.said_at.timestamp() * 1000 == pytest.approx(sent["happened_ms"], abs=1)
    assert abs(receipt.clock_off_s - off / 1000) < 60
    assert phone.send_one(sent)["state"] == "before"


def test_a_date_beyond_all_calendars_is_kept_too():
    answer = Phone().send_one({**visit(make.tapped_tree()), "happened_ms": 8_640_000_000_000_000})
    assert answer["state"] == "review"
    assert Collection.objects.get().happened_at <= timezone.now()


# Undo and change


def test_an_entry_is_taken_back_by_another_in_the_same_batch():
    phone, tree = Phone(), make.tapped_tree()
    first = visit(tree)
    undo = entry("undo", tree=tree.code, of=first["id"])
    assert [one["state"] for one in phone.send(first, undo)] == ["saved", "saved"]
    assert [one["state"] for one in phone.send(first, undo)] == ["before", "before"]
    assert Collection.objects.get().state == CollectionState.VOID
    assert balance_ml(hands_of(make.bob(), make.season())) == 0


def test_an_entry_is_changed_by_another_and_both_numbers_stay_in_the_history():
    phone, tree = Phone(), make.tapped_tree()
    first = visit(tree, litres=6.5)
    body = {key: value for key, value in visit(tree, litres=5.5).items() if key not in {"id", "kind", "happened_ms"}}
    phone.send(first, entry("change", of=first["id"], **body))
    kept = Collection.objects.get()
    assert kept.volume_ml == 5_500
    assert [row.volume_ml for row in kept.history.order_by("history_date", "history_id")] == [6_500, 5_500]


def test_nobody_takes_back_what_somebody_else_wrote():
    phone, tree = Phone(), make.tapped_tree()
    first = visit(tree)
    phone.send(first)
    answer = Phone(make.lena()).send_one(entry("undo", tree=tree.code, of=first["id"]))
    assert (answer["state"], Collection.objects.get().state) == ("refused", CollectionState.COUNTED)


def test_taking_back_what_was_taken_back_with_signal_changes_nothing():
    phone, tree = Phone(), make.tapped_tree()
    first = visit(tree)
    phone.send(first)
    change_visit(entry=Collection.objects.get(), by=make.bob(), visit=None)
    answer = phone.send_one(entry("undo", tree=tree.code, of=first["id"]))
    assert (answer["state"], answer["reasons"][0]) == ("saved", "It was taken back already.")


# Holes and spouts


def test_a_hole_drilled_without_signal_stands_when_the_gate_agrees():
    tree = make.given_tree()
    sent = hole(tree, ago_ms=4 * HOUR)
    phone = Phone()
    assert phone.send_one(sent)["state"] == "saved"
    assert phone.send_one(sent)["state"] == "before"
    tap = Tap.objects.get()
    assert (tap.state, tap.position, tap.by) == (TapState.IN, 1, make.bob())
    assert int(tap.placed_at.timestamp() * 1000) == sent["happened_ms"]


@pytest.mark.parametrize("offline_first", [True, False])
def test_of_two_who_took_the_last_place_one_stands_and_the_other_is_to_settle_and_both_see_why(offline_first):
    # 16 in across: one tap, by the conservative guideline (12 and 18 in; Ohio State University Extension, 2013).
    tree = make.given_tree()
    anna = make.person("Anna", credentials=["tapping"])
    sent = [(Phone(), hole(tree, ago_ms=3 * HOUR)), (Phone(anna), hole(tree, ago_ms=HOUR, aspect_deg=0))]
    if not offline_first:
        sent.reverse()
    answers = [phone.send_one(one) for phone, one in sent]
    assert [one["state"] for one in answers] == ["saved", "review"]
    stands, loses = sent[0][0], sent[1][0]
    assert f"{stands.person} tapped this tree" in answers[1]["reasons"][0]
    assert sorted(Tap.objects.values_list("state", flat=True)) == ["in", "to_settle"]
    for phone in (stands, loses):
        (row,) = phone.client.get(reverse("round-pack")).json()["trees"]
        (settle_,) = [tap["settle"] for tap in row["taps"] if "settle" in tap]
        assert settle_["by"] == ("" if phone is loses else str(loses.person))
        assert f"{stands.person} tapped this tree" in settle_["why"][0]
        assert row["pull"] is True


def test_a_hole_drilled_by_a_phone_whose_clock_is_off_is_to_settle():
    sent = hole(make.given_tree())
    sent["happened_ms"] -= DAY
    answer = Phone(clock_off_ms=DAY).send_one(sent)
    assert (answer["state"], Tap.objects.get().state) == ("review", TapState.TO_SETTLE)


def test_a_spout_is_pulled_once_however_often_it_is_said():
    tree = make.tapped_tree()
    tap, phone = tree.taps.get(), Phone()
    out = entry("pull", tree=tree.code, tap=str(tap.pk), ago_ms=HOUR)
    assert phone.send_one(out)["state"] == "saved"
    tap.refresh_from_db()
    assert (tap.state, tap.out_by) == (TapState.PULLED, make.bob())
    assert int(tap.out_at.timestamp() * 1000) == out["happened_ms"]
    again = Phone(make.lena()).send_one(entry("pull", tree=tree.code, tap=str(tap.pk)))
    assert (again["state"], again["reasons"][0]) == ("saved", "The spout was out already.")


def test_a_lost_spout_needs_its_word():
    tree = make.tapped_tree()
    lost = entry("pull", tree=tree.code, tap=str(tree.taps.get().pk), lost=True)
    phone = Phone()
    assert phone.send_one(lost)["state"] == "refused"
    assert phone.send_one({**lost, "note": "The plough took it."})["state"] == "saved"
    assert tree.taps.get().state == TapState.LOST


def test_a_hole_and_its_pulling_come_in_one_batch():
    tree, phone = make.given_tree(), Phone()
    sent = hole(tree, ago_ms=2 * HOUR)
    out = entry("pull", tree=tree.code, tap=sent["id"], ago_ms=HOUR)
    assert [one["state"] for one in phone.send(sent, out)] == ["saved", "saved"]
    assert Tap.objects.get().state == TapState.PULLED


# The batch as a whole


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"format": 0}, "unknown-format"),
        ({"format": 2}, "unknown-format"),
        ({"entries": {}}, "not-a-batch"),
        ({"entries": [{}] * 101}, "too-many"),
    ],
)
def test_a_batch_nobody_understands_is_not_taken_at_all(changes, code):
    answer = Phone().post(visit(make.tapped_tree()), **changes)
    assert (answer.status_code, answer.json()["code"]) == (400, code)
    assert not Collection.objects.exists()


def test_what_is_not_json_is_not_taken():
    phone = Phone()
    answer = phone.client.post(reverse("round-outbox"), b"\xff{", content_type="application/json")
    assert (answer.status_code, answer.json()["code"]) == (400, "not-json")


@pytest.mark.parametrize("path", sorted(DATA.glob("outbox-*.json")), ids=lambda path: path.stem)
def test_a_queue_of_every_version_released_can_be_read(path):
    tree = make.tapped_tree()
    text = path.read_text(encoding="utf-8")
    for gap, value in (("PERSON", str(make.bob().key)), ("TREE", tree.code), ("TAP", str(tree.taps.get().pk))):
        text = text.replace(f'"{gap}"', f'"{value}"')
    batch = json.loads(text)["batch"]
    batch["phone_now_ms"] = now_ms()
    for n, one in enumerate(batch["entries"]):
        one["happened_ms"] = now_ms() - HOUR + n * MINUTE
        if "contact" in one:
            one["contact"] = {"server_ms": now_ms() - DAY, "phone_ms": now_ms() - DAY}
    phone = Phone()
    answer = phone.client.post(reverse("round-outbox"), batch, content_type="application/json").json()
    # The hole is one more than the trunk may have, so it is to settle; all else is as it should be.
    assert [one["state"] for one in answer["answers"]] == ["saved"] * 4 + ["review", "saved"]
    assert Collection.objects.get(pk=batch["entries"][0]["id"]).volume_ml == 6_000
    assert [one["format"] for one in Sent.objects.values("format")] == [batch["format"]] * 6


def test_there_is_a_queue_for_every_version():
    assert {int(path.stem.split("-")[1]) for path in DATA.glob("outbox-*.json")} == taking.FORMATS


def test_what_is_kept_of_an_entry_is_what_was_looked_at():
    sent = {**visit(make.tapped_tree()), "secret": "x" * 10_000, "note": "fine", "nul": "\x00"}
    assert Phone().send_one(sent)["state"] == "saved"
    body = Sent.objects.get().body
    assert body["note"] == "fine"
    assert not {"secret", "nul"} & set(body)
