"""Closing keeps the totals; what is found wrong later is written beside them, with its day and its reason."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone

from sugarbush.audit.models import AuditEvent
from sugarbush.boils.actions import tip_out_tank
from sugarbush.gathering.actions import settle
from sugarbush.gathering.models import Collection
from sugarbush.parts.reasons import Refused
from sugarbush.review import totals
from sugarbush.review.actions import correct_after_closing
from sugarbush.review.recount import findings
from sugarbush.sap.ledger import Move, hands_of, post
from sugarbush.sap.ledger import chain as ledger_chain
from sugarbush.sap.models import ActKind, Cause
from sugarbush.seasons import actions
from sugarbush.taps.models import Tap
from sugarbush.trees.models import Species
from tests import make
from tests.review.small_season import SmallSeason
from tests.review.test_small_season import in_as, page, table


def ready(small: SmallSeason) -> SmallSeason:
    """The season with its open ends tied: the last entry settled, hands and tank empty, taps out."""
    settle(entry=small.seen["0018", 9], by=small.alice, verdict="never", note="Another tree was meant.")
    for person, ml in ((small.lena, 2_250), (small.otto, 8_350), (small.bob, 5_200)):
        # Nobody brought it to the depot: it is written off where it is.
        post(
            kind=ActKind.TIP_OUT,
            season=small.season,
            author=small.alice,
            happened_at=timezone.now(),
            moves=[Move(volume_ml=ml, cause=Cause.LOST, source=hands_of(person, small.season))],
            reason="Never brought in.",
        )
    tip_out_tank(tank=small.tank, volume_ml=3_000, by=small.dora, reason="Too little to boil.")
    post(
        kind=ActKind.BOTTLE,
        season=small.season,
        author=small.alice,
        happened_at=timezone.now(),
        moves=[Move(volume_ml=1_050, cause=Cause.DESTROYED, source=small.batch.lot, detail="destroyed")],
        reason="It tasted of smoke.",
    )
    Tap.objects.filter(season=small.season).update(state="pulled", out_at=timezone.now(), out_by=small.bob)
    small.season.state = "ending"
    small.season.save()
    return small


@pytest.fixture
def closed(small: SmallSeason) -> SmallSeason:
    ready(small)
    small.season = actions.step(by=small.alice, season=small.season, to="closed")
    return small


def test_the_page_names_what_keeps_the_season_from_closing(small):
    small.season.state = "ending"
    small.season.save()
    text = page(small.alice)
    assert "What keeps the season from closing" in text
    assert "1 entry is to review." in text
    assert "is still in people’s hands" in text
    assert "What keeps the season from closing" not in page(small.lena)


def test_closing_too_early_is_refused_with_the_reasons_and_changes_nothing(small):
    small.season.state = "ending"
    small.season.save()
    answer = in_as(small.alice).post(reverse("season-close"), {"year": 2025})
    assert answer.status_code == 409
    assert "It was not closed" in answer.content.decode()
    small.season.refresh_from_db()
    assert small.season.state == "ending"
    assert small.season.frozen_totals is None


def test_only_a_coordinator_closes(small):
    for person in (small.lena, small.bob, small.rhea):
        assert in_as(person).post(reverse("season-close"), {"year": 2025}).status_code == 403
    assert in_as(small.alice).get(reverse("season-close")).status_code == 405


def test_the_button_closes_and_the_totals_are_kept(small):
    ready(small)
    assert "Nothing stands in the way." in page(small.alice)
    answer = in_as(small.alice).post(reverse("season-close"), {"year": 2025})
    assert answer.status_code == 302
    small.season.refresh_from_db()
    assert small.season.state == "closed"
    kept = totals.Totals.from_kept(small.season.frozen_totals)
    # 72,000 as on paper; the entry to review never happened, so its 3,000 are gone and Mira's delivery is 4,500 over.
    assert (kept.sums.out_ml, kept.sums.review_ml, kept.sums.not_ours_ml) == (72_000, 0, 900)
    assert kept.ml(Cause.MEASURED_OVER) == 4_500
    assert kept == totals.count(small.season).totals
    call_command("check_ledger")


def test_a_recount_that_disagrees_keeps_the_season_open(small):
    ready(small)
    Collection.objects.filter(pk=small.seen["0001", 7].pk).update(volume_ml=9_001)
    with pytest.raises(Refused, match="QH-0001"):
        actions.step(by=small.alice, season=small.season, to="closed")
    small.season.refresh_from_db()
    assert small.season.state == "ending"


def test_a_closed_seasons_figures_do_not_move(closed):
    before = {what: table(closed.alice, what) for what in ("by-tree", "by-group", "by-species", "by-day", "by-person")}
    # A kind renamed and the weather written anew afterwards are not the season's business any more.
    Species.objects.filter(common="boxelder").update(common="Manitoba maple")
    correct_after_closing(entry=closed.seen["0005", 8], by=closed.alice, volume_ml=11_500, reason="Misread.")
    assert before["by-tree"][0]["species"] == "sugar maple"
    for what in ("by-tree", "by-group", "by-species", "by-day", "by-person"):
        columns = ("volume_ml", "rain_ml", "tipped_out_ml")
        found = table(closed.alice, what)
        assert [[row[name] for name in columns] for row in found] == [
            [row[name] for name in columns] for row in before[what]
        ], what
    assert "boxelder" in page(closed.alice)
    assert "72.0 litres of sap became" in page(closed.alice)


@pytest.mark.parametrize(("ml", "change"), [(11_500, "500 mL"), (10_000, "−1,000 mL"), (0, "−11,000 mL")])
def test_a_late_correction_stands_in_the_report_with_its_day_and_its_reason(closed, ml, change):
    entry = closed.seen["0005", 8]
    client = in_as(closed.alice)
    found = client.get(reverse("season-late"), {"year": "2025", "tree": "qh-0005"})
    assert reverse("season-late-entry", args=[entry.pk]) in found.content.decode()
    answer = client.post(
        reverse("season-late-entry", args=[entry.pk]),
        {"volume": str(ml / 1000), "reason": "The sheet says otherwise.", "shown_units": "metric"},
    )
    assert answer.status_code == 302
    text = page(closed.alice)
    today = timezone.localdate()
    assert f"{today.day} {today:%B %Y} QH-0005 8 March Alice The sheet says otherwise. {change}" in text
    assert f"All corrections; the totals above are without them {change}" in text
    entry.refresh_from_db()
    assert entry.volume_ml == 11_000
    assert ledger_chain(closed.season).closes
    assert ledger_chain(closed.season).sources[Cause.OUT_OF_TREE] == 72_000 + 900 + ml - 11_000
    call_command("check_ledger")
    assert AuditEvent.objects.filter(act="correct after closing", reason="The sheet says otherwise.").count() == 1


def test_a_late_correction_can_be_corrected_again(closed):
    entry = closed.seen["0005", 8]
    correct_after_closing(entry=entry, by=closed.alice, volume_ml=12_000, reason="Misread.")
    correct_after_closing(entry=entry, by=closed.alice, volume_ml=11_000, reason="It was right after all.")
    assert ledger_chain(closed.season).sources[Cause.OUT_OF_TREE] == 72_900
    assert "without them 0 mL" in page(closed.alice)
    call_command("check_ledger")


def test_a_late_correction_asks_for_a_reason_and_for_something_new(closed):
    url = reverse("season-late-entry", args=[closed.seen["0005", 8].pk])
    client = in_as(closed.alice)
    assert client.post(url, {"volume": "12", "reason": "", "shown_units": "metric"}).status_code == 422
    same = client.post(url, {"volume": "11", "reason": "Looked again.", "shown_units": "metric"})
    assert same.status_code == 409
    assert "That is what the ledger says already." in same.content.decode()
    assert in_as(closed.lena).get(url).status_code == 403


def test_an_open_seasons_entries_are_changed_themselves(small):
    assert in_as(small.alice).get(reverse("season-late"), {"year": 2025}).status_code == 404
    assert in_as(small.alice).get(reverse("season-late-entry", args=[small.seen["0005", 8].pk])).status_code == 404
    with pytest.raises(Refused):
        correct_after_closing(entry=small.seen["0005", 8], by=small.alice, volume_ml=1, reason="Because.")


def test_kept_totals_that_were_touched_are_named(closed):
    frozen = closed.season.frozen_totals
    frozen["groups"][0]["sums"]["out_ml"] += 1
    type(closed.season).objects.filter(pk=closed.season.pk).update(frozen_totals=frozen)
    closed.season.refresh_from_db()
    assert [found.sentence for found in findings(closed.season)] == [
        "Season 2025 closed with 72,001 mL out of trees in the groups; counted again it is 72,000 mL."
    ]


def test_the_next_season_shows_the_one_before_beside_its_own(closed):
    make.season(year=2026, state="running", tapping_from=dt.date(2026, 2, 20), tapping_to=dt.date(2026, 4, 10))
    tree = make.tree()
    Tap.objects.create(
        tree=tree, season=make.season(year=2026), position=1, placed_at=timezone.now(), by=closed.bob,
        height_mm=900, aspect_deg=10, bit_um=7_938, depth_mm=45, shavings="white",
    )  # fmt: skip
    text = page(closed.alice)
    assert "2025: 3.00 L" in text
    assert "Season 2025" in text
