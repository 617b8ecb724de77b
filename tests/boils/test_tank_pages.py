"""The tanks on their pages: how full, how old, by when, and what is done there."""

from __future__ import annotations

import datetime as dt
import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from sugarbush.boils.keeping import keeping_of
from sugarbush.boils.models import TankTemperature
from sugarbush.boils.tank_acts import dip_tank, move_between_tanks, tip_out_tank
from sugarbush.parts.reasons import Refused
from sugarbush.sap.ages import oldest_in
from sugarbush.sap.ledger import Move, balance_ml, chain, hands_of, post
from sugarbush.sap.models import Act, ActKind, Cause, Movement, Vessel
from tests import make

pytestmark = pytest.mark.django_db


def at(person) -> Client:
    client = Client()
    client.force_login(person)
    return client


@pytest.fixture
def keeper():
    return at(make.dora())


def fill(tank, litres=40, days_ago=1.0):
    hands, when, ml = hands_of(make.bob(), make.season()), timezone.now() - make.days(1) * days_ago, litres * 1000
    for kind, move in (
        (ActKind.COLLECT, Move(volume_ml=ml, cause=Cause.OUT_OF_TREE, target=hands, sugar_brix=Decimal("2.0"))),
        (ActKind.DELIVER, Move(volume_ml=ml, cause=Cause.MOVED, source=hands, target=tank, sugar_brix=Decimal("2.0"))),
    ):
        post(kind=kind, season=make.season(), author=make.alice(), happened_at=when, moves=[move])
    return tank


def usual(tank, celsius="2.0"):
    tank.usual_temperature_c = Decimal(celsius)
    tank.save()
    return tank


def test_the_page_alarms_before_and_after_the_boil_by(keeper):
    fill(usual(make.tank("young")), days_ago=1)
    fill(usual(make.tank("soon")), days_ago=6)
    fill(usual(make.tank("late")), days_ago=8)
    page = keeper.get(reverse("tanks")).content.decode()
    assert "Mind: boil tank soon soon" in page
    assert "Stop: tank late is past its boil-by" in page
    assert "tank young" not in page.replace("boils/tank", "")
    late = keeper.get(reverse("tank", args=[make.tank("late").pk])).content.decode()
    assert "Stop: this sap is past its boil-by" in late
    assert "this one rules" in late
    assert "How this was worked out" in late


def test_a_city_of_tanks_is_paged_and_every_late_one_is_named_on_each_page(keeper):
    for n in range(40):
        tank = usual(make.tank(f"T{n:02d}"))
        if n >= 30:
            fill(tank, days_ago=8)
    first = keeper.get(reverse("tanks"))
    assert len(first.context["rows"]) == 30
    text = first.content.decode()
    assert text.count("is past its boil-by</b>") == 6
    assert "4 more tanks are past their boil-by" in text
    assert [row["tank"].code for row in first.context["late_more"]] == ["T36", "T37", "T38", "T39"]
    second = keeper.get(reverse("tanks"), {"page": 2})
    assert [row["tank"].code for row in second.context["rows"]] == [f"T{n}" for n in range(30, 40)]
    assert first.context["tally"].volume_ml == second.context["tally"].volume_ml == 400_000


def test_sap_long_gone_from_a_tank_has_no_say_in_how_its_sap_keeps(keeper):
    tank = fill(usual(make.tank("A")), 40, days_ago=60)
    tip_out_tank(tank=tank, by=make.dora(), reason="too old", volume_ml=40_000)
    fill(tank, 10, days_ago=2)
    found = keeping_of(tank)
    assert found.standing == "keeps"
    assert found.age.elapsed_h == pytest.approx(48, abs=0.1)
    assert found.oldest_at == oldest_in([tank])[tank.pk].at


def test_a_tank_says_how_full_it_is_in_numbers_and_in_a_drawing(keeper):
    fill(make.tank("A", capacity_ml=50_000), 40)
    page = keeper.get(reverse("tank", args=[make.tank().pk])).content.decode()
    assert "80 % full" in page
    assert 'width="80.0"' in page


def test_an_empty_depot_says_what_comes_first(keeper):
    make.season()
    assert "No tank is set up." in keeper.get(reverse("tanks")).content.decode()
    make.tank()
    assert "Rinse it before the next sap." in keeper.get(reverse("tanks")).content.decode()


def test_moving_on_takes_the_age_along_and_a_form_sent_twice_moves_once(keeper):
    fill(make.tank("A"), days_ago=3)
    before = oldest_in([make.tank("A")])[make.tank("A").pk].at
    sent = {"do": "move", "act": str(uuid.uuid4()), "volume": "15", "to": make.tank("B").pk, "shown_units": "metric"}
    address = reverse("tank", args=[make.tank("A").pk])
    assert [keeper.post(address, sent).status_code for _ in range(2)] == [302, 302]
    assert (balance_ml(make.tank("A")), balance_ml(make.tank("B"))) == (25_000, 15_000)
    assert oldest_in([make.tank("B")])[make.tank("B").pk].at == before


def test_a_tank_takes_no_more_than_it_holds_without_a_reason_and_nothing_typed_is_lost(keeper):
    fill(make.tank("A"))
    small = make.tank("B", capacity_ml=10_000)
    sent = {
        "do": "move",
        "act": str(uuid.uuid4()),
        "volume": "15",
        "to": small.pk,
        "reason": "tap drips",
        "shown_units": "metric",
    }
    address = reverse("tank", args=[make.tank("A").pk])
    answer = keeper.post(address, sent)
    assert answer.status_code == 409
    assert "tap drips" in answer.content.decode()
    assert keeper.post(address, sent | {"overfill_reason": "The rim is higher."}).status_code == 302
    act = Act.objects.get(kind=ActKind.TRANSFER)
    assert (act.reason, act.overfill_reason) == ("tap drips", "The rim is higher.")
    page = keeper.get(reverse("tank", args=[small.pk])).content.decode()
    assert "over its mark" in page


def test_tipping_out_needs_a_reason_keeps_its_time_and_counts_once(keeper):
    fill(make.tank("A"))
    address, when = reverse("tank", args=[make.tank("A").pk]), timezone.now() - dt.timedelta(hours=2)
    sent = {"do": "move", "act": str(uuid.uuid4()), "volume": "5", "shown_units": "metric"}
    assert keeper.post(address, sent).status_code == 422
    sent |= {"reason": "it went ropy", "when": when.strftime("%Y-%m-%dT%H:%M")}
    assert [keeper.post(address, sent).status_code for _ in range(2)] == [302, 302]
    move = Movement.objects.get(cause=Cause.DISCARDED)
    assert (move.volume_ml, move.act.reason) == (5_000, "it went ropy")
    assert abs(move.happened_at - when) < dt.timedelta(minutes=1)


def test_no_act_at_a_tank_lies_in_the_future():
    fill(make.tank("A"))
    later = timezone.now() + dt.timedelta(hours=1)
    with pytest.raises(Refused):
        tip_out_tank(tank=make.tank("A"), volume_ml=1, by=make.dora(), reason="spill", happened_at=later)
    with pytest.raises(Refused):
        move_between_tanks(source=make.tank("A"), target=make.tank("B"), volume_ml=1, by=make.dora(), happened_at=later)


@pytest.mark.parametrize(("stick", "after"), [(41_000, 41_000), (38_000, 38_000), (40_000, 40_000)])
def test_the_stick_rules_within_the_tolerance(stick, after):
    tank = fill(make.tank("A"))
    dip_tank(tank=tank, measured_ml=stick, by=make.dora())
    assert balance_ml(tank) == after
    assert chain(make.season()).closes


def test_a_stick_far_from_the_books_is_explained_and_a_large_one_approved():
    tank, act_id = fill(make.tank("A"), 90), uuid.uuid4()
    with pytest.raises(Refused) as refused:
        dip_tank(tank=tank, measured_ml=60_000, by=make.dora())
    assert refused.value.reasons[0].code == "differs"
    with pytest.raises(Refused) as refused:
        dip_tank(tank=tank, measured_ml=60_000, by=make.dora(), explanation="The valve dripped.")
    assert refused.value.reasons[0].code == "approve"
    told: dict[str, Any] = {"explanation": "The valve dripped.", "approved_by": make.alice(), "act_id": act_id}
    assert dip_tank(tank=tank, measured_ml=60_000, by=make.dora(), **told) == -30_000
    assert dip_tank(tank=tank, measured_ml=60_000, by=make.dora(), **told) == 0
    assert Act.objects.get(kind=ActKind.CORRECT).approver == make.alice()


def test_an_emptied_tank_by_the_stick_forgets_its_old_sap():
    tank = fill(make.tank("A"), 40, days_ago=6)
    tip_out_tank(tank=tank, volume_ml=39_700, by=make.dora(), reason="boiled elsewhere")
    dip_tank(tank=tank, measured_ml=0, by=make.dora())
    fill(tank, 10, days_ago=1)
    assert timezone.now() - oldest_in([tank])[tank.pk].at < make.days(2)


def test_setting_a_tank_up_twice_makes_one(keeper):
    make.season()
    sent = {
        "vessel": str(uuid.uuid4()),
        "code": "C",
        "depot": make.depot().pk,
        "capacity": "100",
        "shown_units": "metric",
    }
    assert [keeper.post(reverse("tank-new"), sent).status_code for _ in range(2)] == [302, 302]
    assert Vessel.objects.filter(code="C").count() == 1


# Temperatures -------------------------------------------------------------------------


def test_a_temperature_by_hand_is_written_in_the_keepers_degrees():
    pia = make.person("Pia", "depot_keeper", None, units="us")
    tank = fill(make.tank("A"))
    sent = {"do": "one", "act": str(uuid.uuid4()), "temperature": "38", "shown_units": "us"}
    address = reverse("tank-temperatures", args=[tank.pk])
    assert [at(pia).post(address, sent).status_code for _ in range(2)] == [302, 302]
    assert TankTemperature.objects.get().temperature_c == Decimal("3.3")  # (38 - 32) / 1.8
    assert "38.0" in at(pia).get(address).content.decode()


def test_a_series_sent_as_a_file_is_drawn_and_listed_and_what_was_not_taken_says_why(keeper):
    tank = fill(make.tank("A"))
    start = timezone.now().replace(minute=0, second=0, microsecond=0) - dt.timedelta(hours=30)
    lines = [f"{(start + dt.timedelta(hours=n)):%Y-%m-%d %H:%M};{3 + n % 3}" for n in range(20)]
    sent = SimpleUploadedFile("log.csv", "\n".join(["time;°C", *lines, "yesterday;warm"]).encode("utf-16"))
    address = reverse("tank-temperatures", args=[tank.pk])
    page = keeper.post(address, {"do": "series", "file": sent, "shown_units": "metric"}).content.decode()
    assert "20 lines are written down." in page
    assert "1 line was not taken" in page
    assert "yesterday;warm" in page
    assert "<polyline" in page
    assert "</table>" in page
    again = keeper.post(address, {"do": "series", "lines": "\n".join(lines), "shown_units": "metric"}).content.decode()
    assert "20 stood there already." in again
    assert TankTemperature.objects.count() == 20


def test_an_empty_series_gets_a_sentence(keeper):
    address = reverse("tank-temperatures", args=[make.tank().pk])
    answer = keeper.post(address, {"do": "series", "lines": "  "})
    assert answer.status_code == 422
    assert "Paste some lines" in answer.content.decode()


def test_volunteers_look_and_change_nothing():
    tank = fill(make.tank("A"))
    bob = at(make.bob())
    for name in ("tank", "tank-temperatures", "tank-label"):
        assert bob.get(reverse(name, args=[tank.pk])).status_code == 200
    for name in ("tank", "tank-temperatures"):
        assert bob.post(reverse(name, args=[tank.pk]), {"do": "one"}).status_code == 403
    assert at(make.charlie()).get(reverse("tank", args=[tank.pk])).status_code == 403


# Labels --------------------------------------------------------------------------------


@pytest.mark.parametrize("file", [{}, {"as": "csv"}])
def test_whose_hands_brought_the_sap_is_read_by_depot_people_and_by_themselves(keeper, file):
    address = reverse("tank", args=[fill(make.tank()).pk])
    for client, reads in ((keeper, True), (at(make.bob()), True), (at(make.mira()), False)):
        page = client.get(address, file)
        said = (b"".join(page) if page.streaming else page.content).decode()
        assert "hands of" in said
        assert ("hands of Bob" in said) is reads
        assert not file or ("Alice" in said) is (client is keeper)  # who wrote it


def test_a_label_says_what_hangs_on_the_tank(keeper):
    tank = fill(usual(make.tank("B-2")))
    fill(usual(make.tank("C-3")), days_ago=9)
    page = keeper.get(reverse("tank-label", args=[tank.pk])).content.decode()
    for words in ("B-2", "Boil by", "Oldest sap", "40.00", "2.0"):
        assert words in page
    everything = keeper.get(reverse("tank-labels")).content.decode()
    assert everything.count('class="label"') == 2
    assert "STOP: not into the pan" in everything


# Long histories --------------------------------------------------------------------------


def queries(client, address) -> int:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    client.get(address)
    with CaptureQueriesContext(connection) as seen:
        assert client.get(address).status_code == 200
    return len(seen)


@pytest.mark.parametrize("page", ["tanks", "tank"])
def test_a_long_history_asks_no_more_than_a_short_one(keeper, page):
    tank = fill(make.tank("A", capacity_ml=None), 20)
    address = reverse(page, args=[tank.pk] if page == "tank" else [])
    for _ in range(9):
        fill(tank, 1)
    short = queries(keeper, address)
    act = Act.objects.filter(kind=ActKind.DELIVER).last()
    hands = hands_of(make.bob(), make.season())
    fill(make.tank("other", capacity_ml=None), 1)
    Movement.objects.bulk_create(
        Movement(
            act=act,
            season=make.season(),
            happened_at=act.happened_at,
            volume_ml=1,
            cause=Cause.MOVED,
            from_vessel=hands if n % 2 else tank,
            to_vessel=tank if n % 2 else hands,
        )
        for n in range(2_000)
    )
    assert queries(keeper, address) <= short
