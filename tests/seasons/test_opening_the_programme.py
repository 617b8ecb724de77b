"""From an empty install to the first season's draft (capability C01: with no code)."""

from __future__ import annotations

from zoneinfo import available_timezones

import pytest
from django.test import Client
from django.urls import reverse

from sugarbush.audit.models import AuditEvent
from sugarbush.parts.reasons import Refused
from sugarbush.seasons import actions, zones
from sugarbush.seasons.models import Programme, Season
from sugarbush.volunteers.changing import edition_of
from sugarbush.volunteers.models import Person
from tests import make

pytestmark = pytest.mark.django_db

ANSWERS = {
    "name": "Quillhaven sugarbush",
    "place": "Quillhaven",
    "time_zone": "America/Chicago",
    "default_units": "us",
    "tag_prefix": "qh",
    "phone": "555 0100",
    "local_rules": "",
    "season-year": "2027",
    "season-tapping_from": "2027-02-15",
    "season-tapping_to": "2027-04-15",
    "season-guideline": "conservative",
    "season-check_good_days": "60",
}


@pytest.fixture
def alice_in() -> Client:
    client = Client()
    client.force_login(make.alice())
    return client


def test_one_page_opens_the_programme_with_its_first_season(alice_in: Client) -> None:
    assert alice_in.get(reverse("programme")).headers["Location"] == reverse("programme-new")
    assert alice_in.get(reverse("programme-new")).status_code == 200
    assert alice_in.post(reverse("programme-new"), ANSWERS).status_code == 302
    programme, season = Programme.objects.get(), Season.objects.get()
    assert (programme.name, programme.tag_prefix, programme.box) == ("Quillhaven sugarbush", "QH", None)
    assert (season.year, season.state, season.frozen_at) == (2027, "draft", None)
    # 12 in and 18 in of unrounded diameter, 25.4 mm each inch (NIST Handbook 44, appendix C).
    assert season.thresholds_um == (304_800, 457_200)
    assert Person.objects.get(display_name="Alice").units == "us"
    assert AuditEvent.objects.filter(act__in=["open programme", "prepare season"]).count() == 2


def test_only_a_coordinator_opens_it() -> None:
    for person in (make.lena(), make.bob(), make.charlie()):
        client = Client()
        client.force_login(person)
        assert client.get(reverse("programme-new")).status_code == 403
        assert client.post(reverse("programme-new"), ANSWERS).status_code == 403
    assert not Programme.objects.exists()


def test_it_opens_once(alice_in: Client) -> None:
    alice_in.post(reverse("programme-new"), ANSWERS)
    assert alice_in.post(reverse("programme-new"), {**ANSWERS, "name": "Other"}).headers["Location"] == "/programme/"
    with pytest.raises(Refused):
        actions.open_programme(
            by=make.alice(),
            name="Other",
            place="x",
            time_zone="UTC",
            default_units="us",
            year=2028,
            tapping_from=make.today(),
            tapping_to=make.today(),
        )
    assert Programme.objects.get().name == "Quillhaven sugarbush"


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"name": ""}, "This answer is needed"),
        ({"default_units": ""}, "This answer is needed"),
        ({"time_zone": "Quillhaven/Square"}, "Select a valid choice"),
        ({"tag_prefix": "Q-1"}, "Use 1 to 4 letters"),
        ({"season-year": "26"}, "four digits"),
        ({"season-tapping_to": "2027-02-01"}, "Taps come out after they go in"),
        ({"season-tapping_to": "2028-04-15"}, "is at most 200 days"),
        ({"season-year": "2028"}, "Is the year right?"),
        ({"west": "-87,4"}, "Give all four edges, or none"),
        ({"west": "-87.2", "south": "47", "east": "-87.4", "north": "47.1"}, "Were they swapped?"),
        ({"west": "-87.4", "south": "47.1", "east": "-87.2", "north": "47"}, "Were they swapped?"),
        ({"west": "-870", "south": "47", "east": "-87.2", "north": "47.1"}, "greater than or equal to -180"),
        ({"season-check_good_days": "0"}, "greater than or equal to 1"),
        ({"season-guideline": "own"}, "Select a valid choice"),
    ],
)
def test_a_wrong_answer_is_named_and_the_others_are_kept(
    alice_in: Client, changes: dict[str, str], sentence: str
) -> None:
    answer = alice_in.post(reverse("programme-new"), {**ANSWERS, "phone": "555 0199", **changes})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert 'value="555 0199"' in page
    assert not Programme.objects.exists()
    assert not Season.objects.exists()


def test_a_box_of_four_edges_is_kept_comma_or_point(alice_in: Client) -> None:
    edges = {"west": "−87,4", "south": "47", "east": "-87.2°", "north": "47.1"}
    assert alice_in.post(reverse("programme-new"), {**ANSWERS, **edges}).status_code == 302
    assert Programme.objects.get().box == (-87.4, 47.0, -87.2, 47.1)


def test_every_zone_offered_is_one_of_the_tz_database_and_is_found_by_its_town() -> None:
    offered = dict(zones.choices())
    assert set(offered) <= available_timezones()
    assert len(offered) == len(zones.choices()) > 300
    assert offered["America/Toronto"] == "Toronto, America"
    assert offered["America/Indiana/Knox"] == "Knox, Indiana, America"


def test_coordinators_change_it_others_read_it() -> None:
    programme = make.programme(local_rules="No taps in street trees.")
    bob = Client()
    bob.force_login(make.bob())
    page = bob.get(reverse("programme"))
    assert "No taps in street trees." in page.content.decode()
    assert bob.post(reverse("programme"), ANSWERS).status_code == 403
    alice = Client()
    alice.force_login(make.alice())
    columns = alice.get(reverse("programme")).context["form"].columns
    seen = edition_of(programme, columns)
    assert alice.post(reverse("programme"), {**ANSWERS, "edition": seen}).status_code == 302
    stale = alice.post(reverse("programme"), {**ANSWERS, "name": "Mine", "edition": seen})
    assert stale.status_code == 409
    assert 'value="Mine"' in stale.content.decode()
    programme.refresh_from_db()
    assert programme.name == "Quillhaven sugarbush"
    event = AuditEvent.objects.get(act="change programme")
    assert event.old["time_zone"] == "UTC"
    assert event.new["time_zone"] == "America/Chicago"
