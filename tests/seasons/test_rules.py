"""The rules of a season: the conservative guideline or a stricter one, frozen when it opens."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from sugarbush.audit.models import AuditEvent
from sugarbush.core.errors import TooLoose
from sugarbush.parts.reasons import Refused
from sugarbush.seasons import actions, changed, guidelines
from sugarbush.seasons.models import Season, SeasonState
from sugarbush.volunteers.changing import edition_of
from tests import make

pytestmark = pytest.mark.django_db
INCH_UM = 25_400  # exact: NIST Handbook 44, appendix C


@pytest.fixture
def alice_in() -> Client:
    client = Client()
    client.force_login(make.alice())
    return client


def typed(client: Client, season: Season, **changes: Any) -> dict[str, Any]:
    """The rules page as it stands, with some answers changed."""
    form = client.get(reverse("season-rules", args=[season.year])).context["form"]
    given = {name: form[name].value() for name in form.fields}
    given |= {name: str(value) for name, value in given.items() if name.startswith("tapping")}
    given["shown_units"] = form.units
    return {name: value for name, value in (given | changes).items() if value is not None}


def test_a_second_tap_from_50_cm_keeps_a_tree_of_47_cm_at_one(alice_in: Client) -> None:
    """A coordinator asks for more: change the 2nd-tap size 45 -> 50 cm; a 47 cm tree now shows one allowed."""
    season = make.season(state=SeasonState.DRAFT)
    from sugarbush.core.trunk import allowed_taps

    assert allowed_taps(470_000, guidelines.guideline_of(season)) == 2
    url = reverse("season-rules", args=[season.year])
    answer = alice_in.post(url, typed(alice_in, season, guideline="own", second_tap_um="50"))
    assert answer.status_code == 302
    season.refresh_from_db()
    assert season.thresholds_um == (304_800, 500_000)
    assert allowed_taps(470_000, guidelines.guideline_of(season)) == 1
    page = alice_in.get(reverse("season", args=[season.year])).content.decode()
    assert "30.5\u00a0cm or more across carries one tap, one of 50.0\u00a0cm or more carries two" in page


@pytest.mark.parametrize(("first", "second"), [("30.4", "45.72"), ("30.48", "45.6"), ("12 in", "17.9 in"), ("0", "50")])
def test_no_size_is_looser_than_the_conservative_one(alice_in: Client, first: str, second: str) -> None:
    season = make.season(state=SeasonState.DRAFT)
    url = reverse("season-rules", args=[season.year])
    answer = alice_in.post(url, typed(alice_in, season, guideline="own", first_tap_um=first, second_tap_um=second))
    assert answer.status_code == 422
    assert "it is at least" in answer.content.decode()
    assert f'value="{second}"' in answer.content.decode()
    season.refresh_from_db()
    assert season.thresholds_um == (12 * INCH_UM, 18 * INCH_UM)


@pytest.mark.parametrize(("first", "second"), [("30.48", "45.7"), ("30.4799", "50"), ("30.48", "45.7199")])
def test_a_size_that_reads_like_the_limit_is_the_limit_never_below(alice_in: Client, first: str, second: str) -> None:
    season = make.season(state=SeasonState.DRAFT)
    url = reverse("season-rules", args=[season.year])
    given = typed(alice_in, season, guideline="own", first_tap_um=first, second_tap_um=second)
    assert alice_in.post(url, given).status_code == 302
    season.refresh_from_db()
    assert season.first_tap_um == 12 * INCH_UM
    assert season.second_tap_um == (500_000 if second == "50" else 18 * INCH_UM)


def test_at_the_limit_itself_a_size_is_taken(alice_in: Client) -> None:
    season = make.season(state=SeasonState.DRAFT)
    url = reverse("season-rules", args=[season.year])
    given = typed(alice_in, season, guideline="own", first_tap_um="12 in", second_tap_um="18 in")
    assert alice_in.post(url, given).status_code == 302
    season.refresh_from_db()
    assert season.thresholds_um == (12 * INCH_UM, 18 * INCH_UM)


def test_the_action_and_the_database_refuse_a_looser_size_too() -> None:
    season = make.season(state=SeasonState.DRAFT)
    names = ["first_tap_um"]
    with pytest.raises(TooLoose):
        actions.change_season(
            by=make.alice(), season=season, values={"first_tap_um": 304_799}, seen=edition_of(season, names)
        )
    with pytest.raises(IntegrityError), transaction.atomic():
        Season.objects.update(first_tap_um=304_799)
    with pytest.raises(IntegrityError), transaction.atomic():
        Season.objects.update(second_tap_um=457_199)


def test_a_second_tap_never_comes_at_a_smaller_size_than_the_first(alice_in: Client) -> None:
    season = make.season(state=SeasonState.DRAFT)
    url = reverse("season-rules", args=[season.year])
    answer = alice_in.post(url, typed(alice_in, season, guideline="own", first_tap_um="60", second_tap_um="50"))
    assert answer.status_code == 422
    assert "not come at a smaller size than the first" in answer.content.decode()


@pytest.mark.parametrize(
    ("choice", "sizes"), [("conservative", (304_800, 457_200)), ("one", (304_800,)), ("own", (400_000,))]
)
def test_the_three_guidelines(alice_in: Client, choice: str, sizes: tuple[int, ...]) -> None:
    season = make.season(state=SeasonState.DRAFT)
    url = reverse("season-rules", args=[season.year])
    # What stands in the size fields does not count unless "own" is chosen.
    given = typed(alice_in, season, guideline=choice, first_tap_um="40", second_tap_um="")
    assert alice_in.post(url, given).status_code == 302
    season.refresh_from_db()
    assert season.thresholds_um == sizes
    assert guidelines.choice_of(season.first_tap_um, season.second_tap_um) == choice


def test_sizes_are_shown_in_the_readers_units(alice_in: Client) -> None:
    season = make.season()
    make.person("Ulla", units="us")
    client = Client()
    client.force_login(make.person("Ulla"))
    url = reverse("season", args=[season.year])
    assert "12.0\u00a0in or more across" in client.get(url).content.decode()
    assert "30.5\u00a0cm or more across" in alice_in.get(url).content.decode()


def test_a_draft_changes_freely_an_open_season_asks_why_a_closed_one_not_at_all(alice_in: Client) -> None:
    alice, season = make.alice(), make.season(state=SeasonState.DRAFT)
    make.species()
    url = reverse("season-rules", args=[season.year])
    assert alice_in.post(url, typed(alice_in, season, check_good_days="50")).status_code == 302
    season = actions.step(by=alice, season=season, to=SeasonState.OPEN)
    assert alice_in.post(url, typed(alice_in, season, check_good_days="40", reason=" ")).status_code == 422
    season.refresh_from_db()
    assert season.check_good_days == 50
    assert alice_in.post(url, typed(alice_in, season, check_good_days="40", reason="wet spring")).status_code == 302
    event = AuditEvent.objects.filter(act="change season").first()
    assert event is not None
    assert (event.reason, event.old, event.new) == ("wet spring", {"check_good_days": 50}, {"check_good_days": 40})
    assert season.history.filter(check_good_days=50).exists()
    given = typed(alice_in, season, check_good_days="30", reason="late")
    Season.objects.update(state=SeasonState.CLOSED)
    assert alice_in.get(url).headers["Location"] == reverse("season", args=[season.year])
    answer = alice_in.post(url, given)
    assert answer.status_code == 409
    assert "Reopen it first" in answer.content.decode()


def test_the_action_refuses_a_frozen_rule_without_a_reason() -> None:
    make.species()
    season = actions.step(by=make.alice(), season=make.season(state=SeasonState.DRAFT), to=SeasonState.OPEN)
    with pytest.raises(Refused, match="frozen"):
        actions.change_season(
            by=make.alice(),
            season=season,
            values={"check_good_days": 40},
            seen=edition_of(season, ["check_good_days"]),
        )


def test_the_second_of_two_editors_sees_what_is_there_now(alice_in: Client) -> None:
    season = make.season(state=SeasonState.DRAFT)
    url = reverse("season-rules", args=[season.year])
    mine = typed(alice_in, season, tolerance_ml="0.75")
    assert alice_in.post(url, typed(alice_in, season, tolerance_ml="0.6")).status_code == 302
    answer = alice_in.post(url, mine)
    page = answer.content.decode()
    assert answer.status_code == 409
    assert "0.6\u00a0L" in page
    assert 'value="0.75"' in page


def test_those_who_work_by_the_rules_are_told_of_a_change(alice_in: Client) -> None:
    season = make.season(state=SeasonState.DRAFT)
    heard: list[int] = []
    listener = lambda season: heard.append(season.check_good_days)  # noqa: E731
    changed.register(listener)
    try:
        alice_in.post(reverse("season-rules", args=[season.year]), typed(alice_in, season, check_good_days="45"))
    finally:
        changed._LISTENERS.remove(listener)
    assert heard == [45]


def test_a_stricter_size_shows_on_the_trees_at_once(alice_in: Client) -> None:
    """A ready tree of 16 in falls back when the first tap asks for 17 in."""
    tree = make.ready_tree(diameter_um=16 * INCH_UM)
    assert tree.get_shown_state_display() == "Ready"
    season = make.season()
    url = reverse("season-rules", args=[season.year])
    given = typed(alice_in, season, guideline="own", first_tap_um="17 in", second_tap_um="", reason="dry year")
    assert alice_in.post(url, given).status_code == 302
    tree.refresh_from_db()
    assert tree.get_shown_state_display() != "Ready"


def test_only_coordinators_change_rules_every_member_reads_them() -> None:
    season = make.season()
    for person, reading in ((make.bob(), 200), (make.rhea(), 200), (make.charlie(), 403)):
        client = Client()
        client.force_login(person)
        assert client.get(reverse("season", args=[season.year])).status_code == reading
        assert client.post(reverse("season-rules", args=[season.year]), {}).status_code == 403
        assert client.post(reverse("season-step", args=[season.year]), {"to": "ending"}).status_code == 403
    season.refresh_from_db()
    assert season.state == SeasonState.RUNNING


def test_a_year_without_a_season_is_not_found(alice_in: Client) -> None:
    make.season()
    assert alice_in.get(reverse("season", args=[1999])).status_code == 404
    assert alice_in.get(f"/seasons/{'9' * 30}/").status_code == 404


STRICTER = {
    "keep_limit_h": "96",
    "keep_soon_h": "72",
    "keep_warm_h": "12",
    "syrup_least_brix": "66.5",
    "syrup_most_brix": "68.0",
    "syrup_brix": "66.9",
    "fill_least_c": "85",
}


def test_a_programme_may_keep_sap_and_syrup_more_strictly(alice_in: Client) -> None:
    season = make.season(state=SeasonState.DRAFT)
    url = reverse("season-rules", args=[season.year])
    assert alice_in.post(url, typed(alice_in, season, **STRICTER)).status_code == 302
    season.refresh_from_db()
    assert (season.keep_limit_h, season.keep_soon_h, season.keep_warm_h) == (96, 72, 12)
    assert [str(season.syrup_least_brix), str(season.syrup_most_brix)] == ["66.5", "68.0"]
    assert str(season.fill_least_c) == "85.0"
    page = alice_in.get(reverse("season", args=[season.year])).content.decode()
    assert "96 h from the tree" in page


@pytest.mark.parametrize(
    ("name", "typed_in", "said"),
    [
        ("keep_limit_h", "169", "Looser than 168"),
        ("keep_limit_h", "23", "Give 24 or more"),
        ("keep_soon_h", "121", "Looser than 120"),
        ("keep_warm_h", "25", "Looser than 24"),
        ("syrup_least_brix", "65.9", "Give 66.0 or more"),
        ("syrup_most_brix", "69.0", "Looser than 68.9"),
        ("syrup_brix", "69.5", "held back"),
        ("fill_least_c", "82.1", "82.2"),
        ("fill_least_c", "90.1", "90.0"),
    ],
)
def test_no_keeping_rule_is_looser_than_the_trades_own(alice_in: Client, name: str, typed_in: str, said: str) -> None:
    season = make.season(state=SeasonState.DRAFT)
    url = reverse("season-rules", args=[season.year])
    answer = alice_in.post(url, typed(alice_in, season, **{name: typed_in}))
    assert answer.status_code == 422
    assert said in str(answer.context["form"].errors[name])


def test_the_warning_comes_before_the_limit(alice_in: Client) -> None:
    season = make.season(state=SeasonState.DRAFT)
    url = reverse("season-rules", args=[season.year])
    answer = alice_in.post(url, typed(alice_in, season, keep_limit_h="72"))
    assert answer.status_code == 422
    assert "before the limit of 72" in str(answer.context["form"].errors["keep_soon_h"])


def test_the_fill_temperature_is_typed_in_the_persons_degrees() -> None:
    # 185 °F is 85.0 °C, exactly: (F - 32) / 1.8.
    season = make.season(state=SeasonState.DRAFT)
    pia = make.person("Pia", "coordinator", None, units="us")
    client = Client()
    client.force_login(pia)
    given = typed(client, season, fill_least_c="185")
    assert client.post(reverse("season-rules", args=[season.year]), given).status_code == 302
    season.refresh_from_db()
    assert str(season.fill_least_c) == "85.0"
