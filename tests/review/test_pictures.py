"""The pictures of the small season: the same millilitres as its tables, and only what the reader may open."""

from __future__ import annotations

import datetime as dt
import re
from html.parser import HTMLParser
from statistics import median

import pytest
from django.test import Client
from django.urls import reverse

from sugarbush.gathering.actions import Visit, log_visit
from sugarbush.review import boiled, chart, pictures, reach, running, streams, totals
from sugarbush.review.counting import zone_of
from tests.review.small_season import SmallSeason, at


@pytest.fixture
def counted(small: SmallSeason) -> totals.Counted:
    return totals.count(small.season)


def test_the_stream_is_the_account_place_by_place(counted):
    hands, depot, pans, lots = streams.stages(counted.totals)
    assert {branch.name: branch.volume_ml for branch in hands.joins} == {
        "Out of the trees": 75_900,  # 72,000, with 3,000 to review and 900 not ours
        "Rain kept with it": 1_700,
        "Measured over": 1_500,
    }
    assert {branch.name: branch.volume_ml for branch in hands.leaves} == {
        "Tipped out at the tree": 5_100,
        "Turned away": 3_000,
        "Measured under": 1_500,
        "Still in hands": 15_800,
    }
    assert (hands.goes_on_ml, depot.goes_on_ml, pans.goes_on_ml, lots.goes_on_ml) == (53_700, 50_000, 1_050, 0)
    assert {branch.name: branch.volume_ml for branch in depot.leaves} == {"Tipped out": 700, "Still in tanks": 3_000}
    assert {branch.name: branch.volume_ml for branch in pans.leaves} == {"Driven off as steam": 48_950}
    assert {branch.name: branch.volume_ml for branch in lots.leaves} == {"Still in lots": 1_050}
    drawn = streams.stream(counted.totals, "metric")
    assert drawn is not None
    assert [name for name, _form in drawn.forms] == ["wide", "narrow"]
    assert (drawn.came_ml, drawn.left_ml) == (79_100, 79_100)
    assert "50.000\u00a0L of it went into pans, and 1.050\u00a0L of syrup" in drawn.words


def test_days_lines_and_boil_days_add_up_to_the_season(small, counted):
    # An empty look on a day without sap: somebody went, so the day is no gap.
    log_visit(tree=small.trees["0001"], by=small.bob, visit=Visit(outcome="empty"), happened_at=at(12), confirmed=True)
    days = counted.totals.days
    visited = pictures.visited_days(small.season, zone_of())
    assert visited == {dt.date(2025, 3, day) for day in (7, 8, 9, 10, 12, 15)}
    for sheet in (chart.WIDE, chart.NARROW):
        drawn = chart.draw(days, "metric", sheet, visited)
        line = running.draw(days, visited, "metric", sheet)
        assert drawn is not None
        assert line is not None
        tallest = max(bar.height for bar in drawn.bars)
        assert [bar.height for bar in drawn.bars] == pytest.approx(
            [tallest * ml / 24_750 for ml in (24_750, 23_750, 13_000, 7_500, 3_000)], abs=0.1
        )
        assert drawn.dry == [sheet.middle(5, 9)]
        assert len(line.thaws) == 3
        # Nobody went on 11, 13 and 14 March: three dotted pieces, the other six unbroken.
        assert (line.waited.count("M"), line.gone.count("M")) == (3, 6)
        assert line.words == "72.000\u00a0L"
        room = [b.at - a.at for a, b in zip(drawn.dates, drawn.dates[1:], strict=False)]
        assert min(room) >= sheet.date_px - 1
    assert running.so_far(days)[-1] == 72_000
    (one,) = boiled.by_boil_day(small.season)
    assert (one.day, one.sap_ml, one.syrup_ml) == (dt.date(2025, 3, 12), 50_000, 1_050)
    assert (counted.totals.in_pans_ml, counted.totals.syrup_ml) == (one.sap_ml, one.syrup_ml)


def test_the_spread_holds_the_trees_the_reader_may_open(small, counted):
    for person, sap_ml, taps in ((small.alice, 72_000, 24), (small.lena, 50_250, 14), (small.mira, 21_750, 9)):
        rows = reach.tree_rows(counted.cells, counted.trees, reach.of(person))
        found = pictures.per_tap(rows, "metric")
        assert found is not None
        assert found.taps == sum(row.taps for row in rows) == taps
        assert found.sap_ml == sum(step.sap_ml for step in found.steps) + found.bare_ml == sap_ml
        assert [step.taps for step in found.steps] == [step.column.count for step in found.steps]
        shares = [row.sums.out_ml / row.taps for row in rows if row.taps for _tap in range(row.taps)]
        assert found.spread.median_ml == pytest.approx(median(shares), abs=1)


class Pictures(HTMLParser):
    """What the page's drawings say of themselves, and whatever a strict policy would refuse."""

    def __init__(self) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.told: list[str] = []
        self.refused: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        self.ids += [given["id"] or ""] if "id" in given else []
        if tag == "svg" and given.get("role") == "img":
            self.told.append(given.get("aria-labelledby") or given.get("aria-label") or "")
        if "style" in given or tag == "style" or any(name.startswith("on") for name in given):
            self.refused.append(tag)


def test_the_page_draws_them_with_words_and_without_anything_inline(small):
    client = Client()
    client.force_login(small.lena)
    page = client.get(reverse("season-review")).content.decode()
    found = Pictures()
    found.feed(page)
    assert found.refused == []
    assert len(found.ids) == len(set(found.ids))
    assert len(found.told) == 12  # two forms each of three pictures; lost, losses, boil days, groups, kinds, taps
    for told in found.told:
        if told.count("-") and " " in told and "per cent" not in told:
            assert set(told.split()) <= set(found.ids), told
    text = " ".join(re.sub(r"<[^>]+>", " ", page).replace("\xa0", " ").split())
    for sentence in (
        "All these trees 14 50.250 L",  # the lead's own group, as in the table of trees
        "Dotted: 4 days on which nobody went.",
        "All 79,100 mL 79,100 mL",
        "Wed 12 Mar 50.000 L 1.050 L 47.6",
        "14 Mar to 15 Mar 1 1 3.000 L 0.300 L 72.000 L",
    ):
        assert sentence in text, sentence
