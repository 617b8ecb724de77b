"""A season goes draft, open, tapping, running, ending, closed; reopened only to its ending, with a reason."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from sugarbush.audit.models import AuditEvent
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.seasons import actions, closing
from sugarbush.seasons.models import Season, SeasonState
from tests import make

pytestmark = pytest.mark.django_db
WAY = ["draft", "open", "tapping", "running", "ending", "closed"]


@pytest.fixture
def alice_in() -> Client:
    client = Client()
    client.force_login(make.alice())
    return client


@pytest.fixture
def nothing_against(monkeypatch: pytest.MonkeyPatch) -> dict[str, closing.Check]:
    """Only the closing checks a test puts in."""
    checks: dict[str, closing.Check] = {}
    monkeypatch.setattr(closing, "_CHECKS", checks)
    monkeypatch.setattr(closing, "_TOTALS", [])
    return checks


def test_the_whole_way_by_the_buttons_of_the_page(alice_in: Client, nothing_against: object) -> None:
    make.species()
    season = make.season(state=SeasonState.DRAFT)
    url = reverse("season-step", args=[season.year])
    for to in WAY[1:]:
        assert alice_in.post(url, {"to": to}).status_code == 302
        assert alice_in.post(url, {"to": to}).status_code in {302, 422}  # pressed twice: the same step is one
        season.refresh_from_db()
        assert season.state == to
    assert season.closed_by == make.alice()
    assert season.closed_at is not None
    assert AuditEvent.objects.filter(act="season step").count() == 5


@pytest.mark.parametrize("here", WAY)
@pytest.mark.parametrize("to", [*WAY, "archived", ""])
def test_no_step_is_skipped_and_none_goes_back(nothing_against: object, here: str, to: str) -> None:
    make.species()
    season = make.season(state=here)
    allowed = (WAY.index(to) - WAY.index(here) == 1 or (here, to) == ("closed", "ending")) if to in WAY else False
    if allowed or here == to:
        assert actions.step(by=make.alice(), season=season, to=to, reason="because").state == to
    else:
        with pytest.raises(Refused, match="one step at a time"):
            actions.step(by=make.alice(), season=season, to=to, reason="because")
        season.refresh_from_db()
        assert season.state == here


def test_opening_freezes_the_kinds_marked_for_tapping(alice_in: Client) -> None:
    make.species("Acer saccharum", "sugar maple")
    make.species("Fraxinus americana", "white ash", tappable=False)
    season = make.season(state=SeasonState.DRAFT)
    season = actions.step(by=make.alice(), season=season, to=SeasonState.OPEN)
    assert season.frozen_at is not None
    assert "Acer saccharum" in season.species_keys
    assert "Fraxinus americana" not in season.species_keys
    before = list(season.species_keys)
    make.species("Acer nigrum", "black maple")
    season.refresh_from_db()
    assert season.species_keys == before


def test_a_season_does_not_open_while_no_kind_may_be_tapped() -> None:
    from sugarbush.trees.models import Species

    Species.objects.update(tappable=False)
    season = make.season(state=SeasonState.DRAFT)
    with pytest.raises(Refused, match="No kind of tree may be tapped yet"):
        actions.step(by=make.alice(), season=season, to=SeasonState.OPEN)
    season.refresh_from_db()
    assert (season.state, season.frozen_at) == ("draft", None)


def test_closing_is_refused_with_every_reason_and_its_next_step(
    alice_in: Client, nothing_against: dict[str, closing.Check]
) -> None:
    season = make.season(state=SeasonState.ENDING)
    nothing_against["spouts"] = lambda season: [
        Reason(code="spouts", fact="2 spouts are still in.", next_text="Pull them", next_url="/taps/in/")
    ]
    nothing_against["review"] = lambda season: [
        Reason(code="review", fact="1 entry waits.", next_text="Look at it", next_url="/look-at/")
    ]
    answer = alice_in.post(reverse("season-step", args=[season.year]), {"to": "closed"})
    page = answer.content.decode()
    assert answer.status_code == 409
    for words in ("2 spouts are still in.", '<a href="/taps/in/">Pull them</a>', "1 entry waits.", "Look at it"):
        assert words in page
    season.refresh_from_db()
    assert (season.state, season.closed_at) == ("ending", None)


def test_a_season_does_not_close_with_a_spout_in_a_tree() -> None:
    make.tapped_tree()
    season = make.season()
    season = actions.step(by=make.alice(), season=season, to=SeasonState.ENDING)
    with pytest.raises(Refused):
        actions.step(by=make.alice(), season=season, to=SeasonState.CLOSED)


def test_a_closed_season_keeps_its_totals_until_it_is_reopened_with_a_reason(
    alice_in: Client, nothing_against: object
) -> None:
    closing.register_totals(lambda season: {"sap_ml": 12_345})
    season = make.season(state=SeasonState.ENDING)
    season = actions.step(by=make.alice(), season=season, to=SeasonState.CLOSED)
    assert season.frozen_totals == {"sap_ml": 12_345}
    assert Season.current() is None
    url = reverse("season-step", args=[season.year])
    refused = alice_in.post(url, {"to": "ending", "reason": " "})
    assert refused.status_code == 422
    with pytest.raises(Refused, match="only with a reason"):
        actions.step(by=make.alice(), season=season, to=SeasonState.ENDING)
    assert alice_in.post(url, {"to": "ending", "reason": "a pail was found"}).status_code == 302
    season.refresh_from_db()
    assert (season.state, season.closed_at, season.frozen_totals) == ("ending", None, None)
    event = AuditEvent.objects.filter(act="season step").first()
    assert event is not None
    assert event.reason == "a pail was found"


def test_people_work_in_one_season_at_a_time(alice_in: Client, nothing_against: object) -> None:
    season = make.season(state=SeasonState.ENDING, check_good_days=45)
    nxt = season.year + 1
    answers = {
        "year": str(nxt),
        "tapping_from": f"{nxt}-02-15",
        "tapping_to": f"{nxt}-04-15",
        "guideline": "one",
        "check_good_days": "45",
    }
    refused = alice_in.post(reverse("season-new"), answers)
    assert refused.status_code == 409
    assert f"Season {season.year} is not closed yet." in refused.content.decode()
    actions.step(by=make.alice(), season=season, to=SeasonState.CLOSED)
    Season.objects.update(keep_side_mm=120)
    assert alice_in.post(reverse("season-new"), answers).status_code == 302
    made = Season.objects.get(year=nxt)
    # What is not asked follows the season before; its frozen marks do not.
    assert (made.state, made.thresholds_um, made.keep_side_mm, made.frozen_at) == ("draft", (304_800,), 120, None)
    again = alice_in.post(reverse("season-new"), answers)
    assert again.status_code == 409
    assert Season.current() == made
