"""The volunteer's pages: few presses, nothing lost, every doubt asked."""

from __future__ import annotations

import uuid

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from sugarbush.gathering.models import Collection
from sugarbush.trees import shown
from tests import make

pytestmark = pytest.mark.django_db


def phone(person=None) -> Client:
    client = Client()
    client.force_login(person or make.bob())
    return client


def filled(**changes):
    return {"entry": str(uuid.uuid4()), "look": "clear", "volume": "6.5", "shown_units": "metric", **changes}


def test_the_round_names_the_next_tree_and_counts_what_is_done():
    first, second = make.tapped_tree(address="9 Larkspur Street"), make.tapped_tree(address="10 Larkspur Street")
    client = phone()
    page = client.get(reverse("log")).content.decode()
    assert page.index("9 Larkspur Street") < page.index("10 Larkspur Street")
    assert f'class="act main" href="{reverse("log-tree", args=[first.code])}"' in page
    client.post(reverse("log-sap", args=[first.code]), filled())
    page = client.get(reverse("log")).content.decode()
    assert f'class="act main" href="{reverse("log-tree", args=[second.code])}"' in page
    assert "6.50" in page


def test_from_the_round_sap_is_saved_in_four_presses():
    tree = make.tapped_tree()
    client = phone()
    page = client.get(reverse("log"))  # press 1: Next
    assert reverse("log-tree", args=[tree.code]) in page.content.decode()
    page = client.get(reverse("log-tree", args=[tree.code]))  # press 2: Log sap
    assert reverse("log-sap", args=[tree.code]) in page.content.decode()
    client.get(reverse("log-sap", args=[tree.code]))  # press 3: 6 L, press 4: Save
    answer = client.post(reverse("log-sap", args=[tree.code]), filled(volume="6"))
    assert answer.status_code == 302
    assert Collection.objects.get().volume_ml == 6_000


@pytest.mark.parametrize("outcome", ["empty", "frozen", "no_access", "gone", "unsafe"])
def test_a_visit_without_sap_is_one_press_at_the_tree(outcome):
    tree = make.tapped_tree()
    answer = phone().post(reverse("log-quick", args=[tree.code]), {"entry": str(uuid.uuid4()), "outcome": outcome})
    assert answer.status_code == 302
    assert Collection.objects.get().outcome == outcome


def test_the_same_press_twice_is_one_entry():
    tree = make.tapped_tree()
    client, sent = phone(), filled()
    for _ in range(2):
        assert client.post(reverse("log-sap", args=[tree.code]), sent).status_code == 302
    assert Collection.objects.count() == 1


def test_gallons_are_typed_and_shown_with_their_unit():
    # 1 US gal is 3.785411784 L exactly: NIST Special Publication 811, appendix B.
    anna = make.person("Anna", units="us")
    tree = make.tapped_tree()
    client = phone(anna)
    client.post(reverse("log-sap", args=[tree.code]), filled(volume="1.5", shown_units="us"))
    assert Collection.objects.get().volume_ml == 5_678
    page = client.get(reverse("log")).content.decode()
    assert '1.50<span class="unit">gal</span>' in page


def test_ten_pails_are_questioned_and_nothing_typed_is_lost():
    tree = make.tapped_tree()
    client, sent = phone(), filled(volume="80", sugar="2.2", note="")
    answer = client.post(reverse("log-sap", args=[tree.code]), sent)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "10 pails" in page
    assert 'value="80"' in page
    assert 'value="2.2"' in page
    assert not Collection.objects.exists()
    stands = page.split('name="stands" value="')[1].split('"')[0]
    answer = client.post(reverse("log-sap", args=[tree.code]), {**sent, "stands": stands})
    assert answer.status_code == 422
    assert "Write here why it is right" in answer.content.decode()
    answer = client.post(
        reverse("log-sap", args=[tree.code]), {**sent, "stands": stands, "note": "Drum under it since Sunday."}
    )
    assert answer.status_code == 302
    assert Collection.objects.get().volume_ml == 80_000


def test_what_was_meant_is_one_tick_away():
    tree = make.tapped_tree()
    client, sent = phone(), filled(volume="80")
    page = client.post(reverse("log-sap", args=[tree.code]), sent).content.decode()
    instead = page.split('name="instead" value="')[1].split('"')[0]
    assert client.post(reverse("log-sap", args=[tree.code]), {**sent, "instead": instead}).status_code == 302
    assert Collection.objects.get().volume_ml == 8_000


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"volume": "-3"}, "Less than nothing"),
        ({"volume": "six"}, "can’t be read as a number"),
        ({"volume": "0"}, "Say how much sap"),
        ({"volume": ""}, "This answer is needed"),
        ({"volume": "600"}, "too much"),
        ({"discarded": "2"}, "Say why it was tipped out"),
        ({"discarded": "7", "discard_reason": "ice"}, "More than came out of the tree"),
        ({"discard_reason": "ice"}, "Say how much was tipped out"),
        ({"when": "2099-01-01T10:00"}, "has not come yet"),
        ({"sugar": "13"}, "°Brix"),
    ],
)
def test_bad_numbers_get_a_sentence_and_keep_what_was_typed(typed, said):
    tree = make.tapped_tree()
    answer = phone().post(reverse("log-sap", args=[tree.code]), filled(note="kept", **typed))
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert 'value="kept"' in answer.content.decode()
    assert not Collection.objects.exists()


def test_another_groups_tree_is_not_there_for_a_volunteer():
    tree = make.tapped_tree()
    for name in ("log-tree", "log-sap"):
        assert phone(make.mira()).get(reverse(name, args=[tree.code])).status_code == 404
    answer = phone(make.mira()).post(
        reverse("log-quick", args=[tree.code]), {"entry": str(uuid.uuid4()), "outcome": "empty"}
    )
    assert answer.status_code == 404


def test_signed_out_people_are_asked_to_sign_in():
    make.season()
    answer = Client().get(reverse("log"))
    assert answer.status_code == 302
    assert reverse("sign-in") in answer["Location"]


def test_a_stranger_has_no_round():
    make.season()
    assert phone(make.charlie()).get(reverse("log")).status_code == 403


def test_own_entry_is_changed_the_same_day_and_its_history_shows_both_numbers():
    entry = make.collection(litres=5)
    client = phone()
    address = reverse("log-entry", args=[entry.pk])
    answer = client.post(address, filled(entry=str(entry.pk), volume="6", edition="1"))
    assert answer.status_code == 302
    page = client.get(address).content.decode()
    assert "5.000" in page
    assert "6.000" in page


def test_own_entry_is_taken_back_in_one_press():
    entry = make.collection(litres=5)
    address = reverse("log-entry", args=[entry.pk])
    answer = phone().post(address, filled(entry=str(entry.pk), act="take_back", edition="1"))
    assert answer.status_code == 302
    entry.refresh_from_db()
    assert entry.state == "void"


def test_later_a_change_asks_for_a_reason_and_keeps_what_was_typed():
    entry = make.collection(litres=5)
    Collection.objects.filter(pk=entry.pk).update(recorded_at=timezone.now() - make.days(1))
    answer = phone().post(reverse("log-entry", args=[entry.pk]), filled(entry=str(entry.pk), volume="6", edition="1"))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Write why" in page
    assert 'value="6"' in page


def test_two_tabs_the_second_is_told_and_keeps_what_it_typed():
    entry = make.collection(litres=5)
    address, client = reverse("log-entry", args=[entry.pk]), phone()
    client.post(address, filled(entry=str(entry.pk), volume="6", edition="1"))
    answer = client.post(address, filled(entry=str(entry.pk), volume="7", edition="1"))
    assert answer.status_code == 409
    assert 'value="7"' in answer.content.decode()


def test_somebody_elses_entry_may_be_looked_at_but_not_changed():
    entry = make.collection(litres=5)
    other = make.person("Tom")
    address = reverse("log-entry", args=[entry.pk])
    assert phone(other).get(address).status_code == 200
    assert phone(other).post(address, filled(entry=str(entry.pk), volume="1")).status_code == 403
    assert phone(make.mira()).get(address).status_code == 404


def test_a_lead_settles_an_entry_to_review_with_a_word():
    entry = make.collection(make.given_tree(), litres=5)
    client = phone(make.lena())
    assert entry.tree.code in client.get(reverse("review-list")).content.decode()
    address = reverse("review-one", args=[entry.pk])
    assert client.post(address, {"verdict": "counts", "note": ""}).status_code == 422
    assert client.post(address, {"verdict": "counts", "note": "Drilled at noon."}).status_code == 302
    entry.refresh_from_db()
    assert entry.state == "counted"


def test_a_volunteer_sees_what_waits_but_settles_nothing():
    entry = make.collection(make.given_tree(), litres=5)
    assert phone().get(reverse("review-list")).status_code == 200
    assert phone().get(reverse("review-one", args=[entry.pk])).status_code == 403


def test_after_a_permission_is_taken_back_the_tree_says_pull_and_the_press_pulls():
    tree = make.tapped_tree()
    tree.permissions.update(state="revoked", ended_at=timezone.now())
    from sugarbush.trees import shown

    shown.refresh([tree.pk])
    client = phone()
    assert "Stop: pull the spout" in client.get(reverse("log-tree", args=[tree.code])).content.decode()
    client.post(reverse("log-quick", args=[tree.code]), {"entry": str(uuid.uuid4()), "outcome": "removal"})
    assert tree.taps.get().state == "pulled"


@pytest.mark.parametrize("many", [3, 12])
def test_a_long_round_asks_no_more_of_the_database_than_a_short_one(many, django_assert_max_num_queries):
    for _ in range(many):
        make.tapped_tree()
    client = phone()
    client.get(reverse("log"))
    with django_assert_max_num_queries(16):
        client.get(reverse("log"))


def test_html_in_a_note_stays_text():
    entry = make.collection(litres=5, note="<script>alert(1)</script>")
    page = phone().get(reverse("log-entry", args=[entry.pk])).content.decode()
    assert "<script>alert" not in page
    assert "&lt;script&gt;" in page


def test_a_tree_to_pull_stays_on_the_round_until_its_spout_is_out():
    tree, other = make.tapped_tree(), make.tapped_tree()
    client = phone()
    for each in (tree, other):
        client.post(reverse("log-sap", args=[each.code]), filled())
    assert "Every tree is visited today." in client.get(reverse("log")).content.decode()
    make.season(state="ending")
    shown.refresh([tree.pk, other.pk])
    page = client.get(reverse("log")).content.decode()
    assert "Every tree is visited today." not in page
    assert "<b>0</b> of 2 visited" in page
    client.post(reverse("log-quick", args=[tree.code]), {"entry": str(uuid.uuid4()), "outcome": "removal"})
    client.post(reverse("log-quick", args=[other.code]), {"entry": str(uuid.uuid4()), "outcome": "no_access"})
    assert "Every tree is visited today." in client.get(reverse("log")).content.decode()
