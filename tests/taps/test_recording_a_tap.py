"""The tap page: the gate first, then the form; what has been drilled is kept."""

from __future__ import annotations

import html
import io
import uuid

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from sugarbush.taps.gate import gate
from sugarbush.taps.models import Tap, TapState
from tests import make

pytestmark = pytest.mark.django_db


@pytest.fixture
def bob(client: Client) -> Client:
    client.force_login(make.bob())
    return client


def said(**changes):
    now = timezone.localtime().strftime("%Y-%m-%dT%H:%M")
    entry = {
        "tap": str(uuid.uuid4()),
        "aspect": "180",
        "height": "90",
        "depth": "4.5",
        "bit": "7938",
        "shavings": "white",
        "placed_at": now,
    }
    return {**entry, **changes}


def post(client, tree, **changes):
    return client.post(reverse("tap-new", args=[tree.code]), said(**changes))


def text(answer):
    return html.unescape(answer.content.decode())


def test_an_open_gate_shows_cautions_the_drawing_and_the_form(bob):
    page = text(bob.get(reverse("tap-new", args=[make.given_tree().code])))
    assert "May be tapped today: 1 tap" in page
    for caution in ("Eye protection", "no ladder", "cars", "frozen wood", "-5.0", "Slightly upward", "hammer hard"):
        assert caution.replace("-", "−") in page
    assert "Take place A" in page
    assert 'name="shavings"' in page


def test_a_tap_is_saved_once_however_often_it_is_sent(bob):
    tree, entry = make.given_tree(), said()
    for _ in range(3):
        answer = bob.post(reverse("tap-new", args=[tree.code]), entry)
        assert answer.status_code == 302
    tap = Tap.objects.get()
    assert (tap.aspect_deg, tap.height_mm, tap.depth_mm, tap.bit_um, tap.state) == (180, 900, 45, 7938, TapState.IN)
    assert tap.diameter_um == tree.diameter_um
    tree.refresh_from_db()
    assert tree.shown.name == "TAPPED"


def test_the_same_entry_for_another_tree_is_never_merged(bob):
    entry = said()
    first, second = make.given_tree(), make.given_tree()
    bob.post(reverse("tap-new", args=[first.code]), entry)
    answer = bob.post(reverse("tap-new", args=[second.code]), entry)
    assert answer.status_code == 409
    assert "Another tap was saved under this entry already." in text(answer)
    assert not second.taps.exists()


def no_permission(tree):
    tree.permissions.update(state="revoked")


def failed_check(tree):
    make.check(tree, "fail", date=make.today())


def unsure_species(tree):
    tree.species_sure = "unconfirmed"
    tree.save()


def too_thin(tree):
    tree.diameter_um = 11 * make.INCH_UM
    tree.save()


def no_room(tree):
    make.tap(tree)


BLOCKS = [no_permission, failed_check, unsure_species, too_thin, no_room]


@pytest.mark.heavy
@pytest.mark.parametrize("block", BLOCKS, ids=lambda block: block.__name__)
def test_each_block_says_the_same_words_on_the_page_by_direct_post_and_by_command(bob, block):
    tree = make.given_tree()
    block(tree)
    tree.refresh_from_db()
    (reason,) = gate(tree, "tap", by=make.bob(), names=False)
    before = Tap.objects.count()

    page = bob.get(reverse("tap-new", args=[tree.code]))
    posted = post(bob, tree)
    own_page = bob.get(reverse("tree", args=[tree.code]))
    out = io.StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command("may_tap", tree.code, by="Bob", stdout=out)

    assert ended.value.code == 1
    assert posted.status_code == 409
    for words in (text(page), text(posted), text(own_page), out.getvalue()):
        assert reason.fact in words
        assert reason.detail in words
        assert reason.next_text in words
    assert 'name="shavings"' not in text(page)
    assert "The hole is already drilled: keep my record" in text(page)
    assert Tap.objects.count() == before


def test_a_refused_post_keeps_what_was_typed_and_offers_to_keep_the_hole(bob):
    tree = make.given_tree()
    no_permission(tree)
    page = text(post(bob, tree, note="by the gate", height="87"))
    assert "by the gate" in page
    assert 'value="87"' in page
    assert 'name="drilled" value="1"' in page


def test_a_hole_that_is_drilled_is_kept_to_settle_with_its_reasons(bob):
    tree = make.given_tree()
    no_permission(tree)
    entry = said(drilled="1")
    answer = bob.post(reverse("tap-new", args=[tree.code]), entry, follow=True)
    tap = Tap.objects.get()
    assert (tap.state, tap.position) == (TapState.TO_SETTLE, 0)
    assert any("permit" in sentence for sentence in tap.settle_reasons)
    assert "Yours is kept. Please do not drill;" in text(answer)
    tree.refresh_from_db()
    assert tree.needs_look


def test_an_untrained_volunteer_may_keep_a_drilled_hole_but_not_drill(client):
    client.force_login(make.person("Nell"))
    tree = make.given_tree()
    assert post(client, tree).status_code == 409
    assert post(client, tree, drilled="1").status_code == 302
    assert "may not place this tap" in Tap.objects.get().settle_reasons[0]


def test_the_last_place_taken_names_who_took_it(bob):
    tree = make.given_tree()
    rafe = make.person("Rafe", credentials=["tapping"])
    tap = make.tap(tree, by=rafe, placed_at=timezone.now())
    at = timezone.localtime(tap.placed_at).strftime("%H:%M")
    answer = post(bob, tree, aspect="0")
    assert answer.status_code == 409
    assert f"Rafe tapped this tree at {at}, so it has its one tap." in text(answer)
    assert "Please do not drill" in text(answer)


def test_near_an_old_hole_it_is_asked_and_a_tick_lets_it_stand(bob):
    # Sideways 2 to 4 in and up or down 6 to 12 in from old holes: UVM sap yield tips 2020 as quoted, second-hand.
    tree = make.given_tree()
    last = make.season(year=make.today().year - 1, state="closed")
    make.tap(tree, season=last, state="pulled", out_at=timezone.now(), aspect_deg=180, height_mm=900)
    entry = said()
    answer = bob.post(reverse("tap-new", args=[tree.code]), entry)
    assert answer.status_code == 422
    assert f"Near the hole of {last.year}." in text(answer)
    assert tree.taps.count() == 1
    elsewhere = bob.post(
        reverse("tap-new", args=[tree.code]), {**entry, "stands": "old-hole:90,900", "tap": uuid.uuid4()}
    )
    assert elsewhere.status_code == 422  # a tick holds for that place alone
    answer = bob.post(reverse("tap-new", args=[tree.code]), {**entry, "stands": "old-hole:180,900"})
    assert answer.status_code == 302
    assert tree.taps.count() == 2


def test_brown_shavings_are_kept_and_no_silent_second_hole_follows(bob):
    # Brown or stained wood gives no sap; choose another spot: UVM researcher as quoted, second-hand.
    tree = make.given_tree(diameter_um=24 * make.INCH_UM)
    page = text(bob.post(reverse("tap-new", args=[tree.code]), said(shavings="brown"), follow=True))
    assert "Mind: brown shavings" in page
    assert "allows 1 more hole" in page
    entry = said(aspect="0")
    answer = bob.post(reverse("tap-new", args=[tree.code]), entry)
    assert answer.status_code == 422
    assert "gave brown shavings" in text(answer)
    assert tree.taps.count() == 1
    assert bob.post(reverse("tap-new", args=[tree.code]), {**entry, "stands": "brown:0,900"}).status_code == 302
    assert tree.taps.count() == 2


def test_brown_shavings_in_the_only_hole_allow_no_second(bob):
    tree = make.given_tree()
    page = text(bob.post(reverse("tap-new", args=[tree.code]), said(shavings="brown"), follow=True))
    assert "No second hole" in page
    answer = post(bob, tree, aspect="0", stands="brown:0,900")
    assert answer.status_code == 409
    assert tree.taps.count() == 1


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"aspect": ""}, "Choose the side of the trunk"),
        ({"aspect": "", "aspect_deg": "361"}, "whole degrees from 0 to 360"),
        ({"aspect_deg": "0"}, "do not fit"),
        ({"height": "-5"}, "Less than nothing"),
        ({"height": "900"}, "too much here"),
        ({"depth": "abc"}, "can’t be read as a number"),
        ({"bit": "other"}, "Write the size of the bit."),
        ({"bit": "999"}, "Select a valid choice"),
        ({"container": "NOPE"}, "No pail has the code NOPE"),
        ({"placed_at": "2999-01-01T10:00"}, "still to come"),
        ({"placed_at": "2001-01-01T10:00"}, "too long ago"),
        ({"placed_at": "yesterday"}, "valid date/time"),
        ({"tap": "x"}, "valid UUID"),
        ({"shavings": ""}, "This answer is needed."),
    ],
)
def test_bad_input_is_said_in_a_sentence_and_nothing_is_lost(bob, changes, words):
    tree = make.given_tree()
    answer = post(bob, tree, note="kept <b>", **changes)
    assert answer.status_code == 422
    assert words in text(answer)
    assert b"kept &lt;b&gt;" in answer.content
    assert not tree.taps.exists()


def test_a_hole_too_deep_is_refused_in_the_gates_words(bob):
    # At most 2 in: UVM Extension slides "Beginning Sugarmaking".
    answer = post(bob, make.given_tree(), depth="6")
    assert answer.status_code == 422
    assert "A hole is 5.1" in text(answer)


def test_inches_are_taken_as_inches(client):
    bob = make.bob()
    bob.units = "us"
    bob.save()
    client.force_login(bob)
    tree = make.given_tree()
    assert post(client, tree, height="36", depth="1 1/2", bit="other", bit_other="7/16").status_code == 302
    tap = tree.taps.get()
    # 36 in = 914.4 mm, 1 1/2 in = 38.1 mm, 7/16 in = 11.1125 mm: exact definitions of the inch.
    assert (tap.height_mm, tap.depth_mm) == (914, 38)
    assert tap.bit_um in {11112, 11113}


def test_an_untested_pail_is_refused_and_a_good_one_gives_its_size(bob):
    make.container("P-09", food_safe="untested")
    make.container("P-10", capacity_ml=9_500)
    tree = make.given_tree()
    answer = post(bob, tree, container="p-09")
    assert answer.status_code == 422
    assert "not known to be food-safe" in text(answer)
    post(bob, tree, container="p-10")
    assert tree.taps.get().container_ml == 9_500


def test_a_place_taken_from_the_suggestions_stands_in_the_form(bob):
    page = text(bob.get(reverse("tap-new", args=[make.given_tree().code]) + "?side=214&height=1100"))
    assert 'value="214"' in page
    assert 'value="110"' in page


def test_a_reviewer_does_not_tap_and_another_group_finds_nothing(client):
    tree = make.given_tree()
    client.force_login(make.rhea())
    assert client.get(reverse("tap-new", args=[tree.code])).status_code == 403
    assert post(client, tree).status_code == 403
    client.force_login(make.mira())
    assert client.get(reverse("tap-new", args=[tree.code])).status_code == 404
    assert post(client, tree, drilled="1").status_code == 404
    client.logout()
    assert client.get(reverse("tap-new", args=[tree.code])).status_code == 302


def test_owners_names_stay_from_volunteers_in_every_word_that_is_kept(bob):
    tree = make.given_tree(land="private")
    make.owns(tree, make.owner("Fern Abernathy-Sole", "person"))
    tree.permissions.update(state="revoked")
    assert "Fern" not in text(bob.get(reverse("tap-new", args=[tree.code])))
    post(bob, tree, drilled="1")
    assert not any("Fern" in sentence for sentence in tree.taps.get().settle_reasons)
