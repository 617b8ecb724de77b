"""The demo made through the app's own acts: what the books then show is what the plan says, to the millilitre.

The sums beside the app's are added here from the plan's plain records; nothing of the app adds them.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
from collections import Counter
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from django.core.management import CommandError, call_command
from django.db.models import QuerySet
from django.test import TestCase
from django.utils import timezone

from sugarbush.audit.models import AuditEvent
from sugarbush.boils.models import BoilDay, BoilState, Delivery
from sugarbush.demo import town
from sugarbush.demo.management.commands.make_demo import Command as MakeDemo
from sugarbush.demo.replay import Made, replay
from sugarbush.gathering.board import board
from sugarbush.gathering.models import Collection, CollectionState
from sugarbush.gathering.run_state import Standing as Stage
from sugarbush.gathering.way import off_every_round
from sugarbush.lots.models import JarCount, LotState
from sugarbush.lots.packing import to_pack
from sugarbush.review import recount
from sugarbush.sap.ledger import below_zero, chain, held_by_kind, totals_by_cause
from sugarbush.sap.models import Cause, Movement, Standing
from sugarbush.seasons.models import Programme, Season, SeasonState
from sugarbush.shares.models import RunState, ShareQuery, ShareRule, ShareRun, Taken
from sugarbush.taps.models import Tap, TapState
from sugarbush.trees.duplicates import pairs_to_look_at
from sugarbush.trees.files import ImportRun
from sugarbush.trees.models import Life, Shown, SpeciesSure, StreetLine, Tree
from sugarbush.trees.records import Evidence
from sugarbush.volunteers.models import Person, Role
from sugarbush.weather.models import WeatherDay
from tests import make

ZONE = ZoneInfo(town.TIME_ZONE)
SHOWN = {
    "considered": Shown.CONSIDERED, "asked": Shown.ASKED, "allowed": Shown.ALLOWED, "ready": Shown.READY,
    "tapped": Shown.TAPPED, "to_pull": Shown.PULL, "resting": Shown.RESTING, "not_for_tapping": Shown.NOT,
    "felled": Shown.FELLED,
}  # fmt: skip


@pytest.mark.heavy
class TestTheDemo(TestCase):
    """The demo is made once for all of these, and taken back after them."""

    made: Made

    @classmethod
    def setUpTestData(cls) -> None:
        cls.made = replay()

    def setUp(self) -> None:
        self.enterContext(timezone.override(ZONE))

    @property
    def season(self) -> Season:
        """This year's."""
        return Season.objects.get(year=self.made.today.year)

    @property
    def todays(self) -> QuerySet[Collection]:
        """What the rounds of today have brought already; the plan ends yesterday."""
        midnight = dt.datetime.combine(self.made.today, dt.time(0), ZONE)
        return Collection.objects.filter(happened_at__gte=midnight)

    @property
    def past(self) -> town.DemoSeason:
        """What has happened of the planned season by the end of yesterday."""
        return self.made.plan.season.until(self.made.today - dt.timedelta(days=1))

    def test_the_programme_is_a_demo_of_today(self) -> None:
        made, season = self.made, self.season
        programme = Programme.objects.get()
        assert (programme.is_demo, programme.time_zone, programme.default_units) == (True, town.TIME_ZONE, "us")
        assert programme.box == town.box_deg()
        assert made.today == timezone.localdate(timezone=ZONE)
        assert season.state == SeasonState.RUNNING
        assert season.frozen_at is not None
        assert season.tapping_from == made.today - dt.timedelta(days=40)
        assert season.tapping_to == season.tapping_from + dt.timedelta(days=58)
        assert Season.current() == season
        assert set(Season.objects.exclude(pk=season.pk).values_list("state", flat=True)) == {SeasonState.CLOSED}

    def test_the_dozen_holds_the_roles_and_credentials_of_the_plan(self) -> None:
        made = self.made
        for told in town.people():
            person = Person.objects.get(display_name=told.display_name)
            held = {(m.role, m.group.name if m.group else None) for m in person.memberships.live(made.today)}
            assert held == set(told.roles)
            assert set(person.credentials.live(made.today).values_list("kind", flat=True)) == set(told.credentials)
            assert (person.email, person.units) == (told.email, told.units)
        # The dozen, and one who came by a card the evening before.
        newcomer = Person.objects.exclude(display_name__in=[told.display_name for told in town.people()]).get()
        assert (newcomer.email, newcomer.joined_by.card.sheet.group.name) == (None, "North Bank")

    def test_the_town_s_list_comes_in_with_its_mess_left_out(self) -> None:
        run = ImportRun.objects.get(kind=ImportRun.Kind.TREES)
        assert (run.state, run.rows_read) == (ImportRun.State.DONE, town.TOTAL_ROWS)
        assert (run.taken, run.refused) == (town.TAKEN_ROWS, town.NOT_TAKEN_ROWS)
        assert StreetLine.objects.count() == len(town.streets_geojson()["features"])
        # One tree more than the town lists: the one a scout entered by hand beside one that was there.
        assert Tree.objects.count() == town.TAKEN_ROWS + 1

    def test_every_tree_shows_the_state_the_plan_says(self) -> None:
        made = self.made
        trees = {tree.inventory_number: tree for tree in Tree.objects.exclude(life=Life.LISTED)}
        shown = {told.tree_no: trees[told.tree_no].shown for told in made.plan.trees}
        assert shown == {told.tree_no: SHOWN[told.state] for told in made.plan.trees}
        for told in made.plan.trees:
            tree = trees[told.tree_no]
            assert (tree.group.name, tree.land, tree.life) == (told.group, told.land, told.life)
            assert tree.species_sure == told.species_sure
        # Besides the plan's 61: the double entered by hand, and the red maple that is a Norway maple.
        assert Counter(tree.shown for tree in trees.values()) == {
            Shown.TAPPED: 25, Shown.READY: 6, Shown.ALLOWED: 6, Shown.ASKED: 6, Shown.CONSIDERED: 8, Shown.NOT: 4,
            Shown.PULL: 3, Shown.RESTING: 3, Shown.FELLED: 2,
        }  # fmt: skip

    def test_a_sure_species_was_proved_by_two_people(self) -> None:
        made = self.made
        sure = Tree.objects.filter(species_sure=SpeciesSure.CONFIRMED)
        assert sure.count() == sum(told.species_sure == "confirmed" for told in made.plan.trees)
        for tree in sure:
            looks = tree.observations.filter(species=tree.species, evidence__in=Evidence.proof())
            assert len(set(looks.values_list("by", flat=True))) >= 2

    def test_what_the_field_found_stands_beside_what_the_town_says(self) -> None:
        made = self.made
        differing = [tree for tree in Tree.objects.exclude(life=Life.LISTED) if tree.species_in_conflict]
        assert [(t.inventory_species.botanical, t.species.botanical) for t in differing] == [
            ("Acer rubrum", "Acer platanoides")
        ]
        pairs, more = pairs_to_look_at(made.cast.coordinator)
        assert not more
        assert [round(pair.metres, 1) for pair in pairs] == [2.1]
        assert "" in {pairs[0].first.inventory_number, pairs[0].second.inventory_number}

    def test_the_sap_is_the_plan_s_to_the_millilitre(self) -> None:
        season, past = self.season, self.past
        counted = totals_by_cause(season, standing=Standing.COUNTED)
        kept = [visit for visit in past.visits if not visit.after_stop]
        today_ml = sum(self.todays.values_list("volume_ml", flat=True))
        assert counted[Cause.OUT_OF_TREE] == sum(visit.volume_ml for visit in kept) + today_ml
        assert today_ml > 0
        assert counted[Cause.DISCARDED] == sum(visit.discarded_ml for visit in kept)
        reasons: Counter[str] = Counter()
        for visit in kept:
            reasons[visit.discard_reason] += visit.discarded_ml
        told: Counter[str] = Counter()
        for movement in Movement.objects.filter(season=season, cause=Cause.DISCARDED, act__standing=Standing.COUNTED):
            told[movement.detail] += movement.volume_ml
        assert told == +reasons
        everything = totals_by_cause(season)
        cans = [can for delivery in past.deliveries for can in delivery.cans]
        assert everything[Cause.REJECTED] == sum(can.volume_ml for can in cans if can.tank is None)
        differences = [sum(can.volume_ml for can in d.cans) - d.held_ml for d in past.deliveries]
        assert everything[Cause.MEASURED_OVER] == sum(ml for ml in differences if ml > 0)
        assert everything[Cause.MEASURED_UNDER] == -sum(ml for ml in differences if ml < 0)
        syrup_ml = sum(boil.syrup_ml for boil in past.boils)
        sap_ml = sum(boil.sap_ml for boil in past.boils)
        assert everything[Cause.EVAPORATED] == sap_ml - syrup_ml
        held = held_by_kind(season)
        # What packing took out of the lots: the tasted heels and the broken jars. Nothing of this year went out yet.
        lost_ml = everything[Cause.LOST]
        assert 0 < lost_ml < 250 * 2 * len(past.boils)
        assert held == {
            "hands": today_ml, "ahead": 0, "pan": 0, "lot": syrup_ml - lost_ml,
            "tank": sum(can.volume_ml for can in cans if can.tank) - sap_ml,
        }  # fmt: skip
        assert held["tank"] > 0

    def test_every_season_closes_to_the_millilitre_and_no_vessel_was_ever_below_zero(self) -> None:
        made = self.made
        for season in Season.objects.all():
            assert chain(season).closes
            assert below_zero(season) == []
            assert list(recount.findings(season)) == []
        last = Season.objects.get(year=made.today.year - 1)
        out_ml = sum(visit.volume_ml for visit in made.plan.last_season.visits)
        assert totals_by_cause(last)[Cause.OUT_OF_TREE] == out_ml > 0
        assert last.frozen_totals is not None

    def test_last_year_went_to_the_last_jar_and_this_year_has_a_lot_in_every_state(self) -> None:
        last, season = Season.objects.get(year=self.made.today.year - 1), self.season
        run = ShareRun.objects.get(season=last, state=RunState.FINAL)
        shares = list(run.shares.all())
        counts = JarCount.objects.filter(lot__season=last)
        jars_ml = sum(row.size_ml * (row.filled - row.broken) for row in counts)
        issued_ml = totals_by_cause(last)[Cause.ISSUED]
        assert sum(share.given_ml for share in shares) == issued_ml == run.pool_ml > 0
        assert jars_ml == issued_ml
        assert held_by_kind(last)["lot"] == 0
        assert {share.taken for share in shares if share.given_ml} == {Taken.COLLECTED}
        assert ShareQuery.objects.get(share__run=run).answer
        states = Counter(season.lots.values_list("state", flat=True))
        assert states == {LotState.RELEASED: 2, LotState.HELD: 1}
        assert [lot.held_because for lot in season.lots.filter(state=LotState.HELD)] == [["thin"]]
        assert len(to_pack(season)) == 1
        assert ShareRule.objects.filter(published_at__isnull=False).count() == 2

    def test_only_the_visit_after_the_owner_took_the_yes_back_waits_for_review(self) -> None:
        made, past = self.made, self.past
        late = [visit.uuid for visit in past.visits if visit.after_stop]
        assert len(late) == 1
        entries = Collection.objects.filter(season__year=made.today.year)
        entries = entries.exclude(pk__in=self.todays.values("pk"))
        assert entries.count() == len(past.visits)
        assert list(entries.exclude(state=CollectionState.COUNTED).values_list("pk", flat=True)) == late
        assert entries.get(pk=late[0]).state == CollectionState.REVIEW

    def test_taps_deliveries_and_boiling_days_are_the_plan_s(self) -> None:
        made, season, past = self.made, self.season, self.past
        taps = Tap.objects.filter(season=season)
        assert {tap.pk: (tap.tree.inventory_number, tap.position, tap.placed_at) for tap in taps} == {
            told.uuid: (told.tree_no, told.position, told.placed_at) for told in past.taps
        }
        assert set(taps.values_list("state", flat=True)) == {TapState.IN}
        earlier = Tap.objects.exclude(season=season)
        assert set(earlier.values_list("state", flat=True)) == {TapState.PULLED}
        assert len(set(earlier.values_list("season__year", flat=True))) == 4
        assert Delivery.objects.filter(season=season).count() == len(past.deliveries)
        days = Counter(BoilDay.objects.filter(season=season).values_list("state", flat=True))
        assert days == {BoilState.OUT: len(past.boils), BoilState.PLANNED: 1}
        assert BoilDay.objects.get(state=BoilState.PLANNED).day == made.today + dt.timedelta(days=2)

    def test_the_weather_is_measured_to_yesterday_and_forecast_for_three_days(self) -> None:
        made = self.made
        days: dict[str, list[dt.date]] = {source: [] for source in WeatherDay.Source.values}
        first = made.plan.first_day
        for row in WeatherDay.objects.filter(day__gte=first):
            days[row.source].append(row.day)
        assert WeatherDay.objects.filter(day__lt=first).count() == len(made.plan.last_season.weather) > 40
        assert sorted(days["measured"]) == [first + dt.timedelta(days=n) for n in range(40)]
        assert sorted(days["forecast"]) == [made.today + dt.timedelta(days=n) for n in range(3)]

    def test_the_board_of_today_shows_a_round_at_each_stage(self) -> None:
        found = board(self.made.cast.coordinator, self.season)
        shown = {line.standing for line in found.lines}
        # Which of the others are late and which soon will be depends on the time at which the demo is made.
        rest = {Stage.DONE, Stage.PART, Stage.ENDED, Stage.OFF, Stage.UNPLANNED}
        assert shown >= rest
        assert shown <= rest | {Stage.LATE, Stage.SOON, Stage.AHEAD}
        assert found.volume_ml == sum(self.todays.values_list("volume_ml", flat=True))
        assert off_every_round(self.season).filter(spout_in=True).count() == 1

    def test_everything_carries_the_moment_it_was_done(self) -> None:
        made, season = self.made, self.season
        midnight = dt.datetime.combine(made.today, dt.time(0), ZONE)
        acts = set(AuditEvent.objects.filter(at__gte=midnight).values_list("act", flat=True))
        assert acts <= {"finish run", "log no_access"}
        moved = Movement.objects.filter(recorded_at__gte=midnight).values_list("act__origin_uuid", flat=True)
        assert set(moved) <= set(self.todays.values_list("pk", flat=True))
        assert AuditEvent.objects.filter(at__lt=midnight - dt.timedelta(days=400)).exists()
        for entry in Collection.objects.filter(season=season)[:50]:
            assert entry.recorded_at == entry.happened_at == entry.history.get().history_date
        for tap in Tap.objects.filter(season=season):
            assert tap.recorded_at == tap.placed_at
        assert not Tree.objects.filter(added_at__gte=midnight).exists()

    def test_the_clock_of_the_story_is_put_back(self) -> None:
        real = dt.datetime.now(dt.UTC)
        assert abs(timezone.now() - real) < dt.timedelta(minutes=1)
        assert abs(AuditEvent(act="look").at - real) < dt.timedelta(minutes=1)

    def test_the_command_refuses_books_that_are_not_empty(self) -> None:
        before = Tree.objects.count()
        with pytest.raises(CommandError, match="in these books already"):
            call_command("make_demo")
        assert Tree.objects.count() == before

    def test_the_command_says_where_to_come_in_and_who_is_who(self) -> None:
        out = io.StringIO()
        MakeDemo(stdout=out).tell_people()
        said = out.getvalue()
        assert "/sign-in/" in said
        assert all(told.display_name in said for told in town.people())
        assert str(Role.BOIL_LEAD.label) in said


@pytest.mark.django_db
def test_the_demo_is_not_made_where_somebody_has_joined() -> None:
    make.person("Alice")
    Programme.objects.all().delete()
    with pytest.raises(CommandError, match="joined already"):
        call_command("make_demo")
    assert not Programme.objects.exists()


@pytest.mark.pure
def test_the_town_s_files_are_written_for_a_walk(tmp_path: Path) -> None:
    out = io.StringIO()
    call_command("write_town", str(tmp_path / "new" / "town"), stdout=out)
    folder = tmp_path / "new" / "town"
    with (folder / "quillhaven-trees.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if any(row.values())]
    assert len(rows) == town.TOTAL_ROWS
    trees = json.loads((folder / "quillhaven-trees.geojson").read_text(encoding="utf-8"))
    assert len(trees["features"]) == town.TOTAL_ROWS
    streets = json.loads((folder / "quillhaven-streets.geojson").read_text(encoding="utf-8"))
    assert {feature["geometry"]["type"] for feature in streets["features"]} == {"LineString"}
    assert str(town.TOTAL_ROWS) in out.getvalue()


@pytest.mark.pure
def test_a_folder_that_cannot_be_written_to_is_named(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file", encoding="utf-8")
    with pytest.raises(CommandError, match="taken"):
        call_command("write_town", str(tmp_path / "taken"))
