"""A stranger walks the README from an empty programme and the town's own files to a closed season.

The server is the one that deploy/start runs, with its worker, on a fresh data folder; several people sit at screens of
their own. On each page: a silent console, nothing sticking out sideways, nothing serious for axe (WCAG 2.2 AA).
The tests follow each other, as the season does.
"""

from __future__ import annotations

import csv
import datetime as dt
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from sugarbush.demo import town
from tests.browser.walk import files, people, phone, sap, trees
from tests.browser.walk.somebody import DESK, PHONE, Somebody
from tests.setup.serving import ROOT, Server, environment, serving

if TYPE_CHECKING:
    from playwright.sync_api import Browser

SUGAR = "sugar maple (Acer saccharum)"
FIRST, SECOND, THIRD = "QH-0001", "QH-0004", "QH-0002"
"""18 in across: two taps. 14 in: one. 17.9 in: nobody has asked for it (tests/data/small_town.md)."""


@dataclass
class Walk:
    server: Server
    data: Path
    folder: Path
    browser: Browser
    zone: str
    today: dt.date
    here: dict[str, Somebody] = field(default_factory=dict)

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.server.port}"

    def sit(self, name: str, size: tuple[int, int] = DESK) -> Somebody:
        self.here[name] = Somebody(self.browser, self.address, name, size)
        return self.here[name]

    def command(self, *words: str) -> subprocess.CompletedProcess[str]:
        """What manage.py answers on this programme's data."""
        return subprocess.run(
            [sys.executable, "manage.py", *words],
            cwd=ROOT, env=environment(self.data, {}), capture_output=True, text=True, timeout=60, check=False,
        )  # fmt: skip


@pytest.fixture(scope="module")
def walk(browser: Browser, database_template: Path | None, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Walk]:
    data, folder = tmp_path_factory.mktemp("data"), tmp_path_factory.mktemp("town")
    if database_template is not None and database_template.exists():
        shutil.copyfile(database_template, data / "sugarbush.sqlite3")  # empty, and migrated already
    town.write_streets_geojson(folder / "streets.geojson")
    shutil.copy(ROOT / "tests" / "data" / "small_town.csv", folder / "trees.csv")
    with serving(data, "--empty") as server:
        walk = Walk(server, data, folder, browser, *people.daylight())
        yield walk
        for who in walk.here.values():
            who.close()
        # What the server wrote meanwhile stands beside a failure; of a good walk there is nothing to tell.
        assert walk.server.process.stdout is not None
        written = walk.server.process.stdout.read() or ""
        sys.stdout.write(written)
        assert "Traceback" not in written


@pytest.fixture(autouse=True)
def after_the_step_before(request: pytest.FixtureRequest, walk: Walk) -> Iterator[None]:
    """A step that stands on one that failed would only fail in a stranger way."""
    failed = getattr(request.module, "FAILED_BEFORE", None)
    if failed is None:
        request.module.FAILED_BEFORE = failed = request.session.testsfailed
    if request.session.testsfailed > failed:
        pytest.skip("A step before this one failed.")
    yield
    assert [line for who in walk.here.values() for line in who.said] == []


def test_1_the_first_coordinator_opens_the_programme_by_a_link_that_works_once(walk: Walk) -> None:
    link = re.search(r"http://\S+/sign-in/\S+", walk.server.printed)
    assert link is not None
    alice = walk.sit("Alice Thorne")
    alice.go(link[0]).press("Come in as Coordinator")
    alice.says("Open the programme")
    people.open_the_programme(alice, walk.zone, walk.today)
    alice.says("Quillhaven sugarbush is open.")
    alice.press("Coordinator", within="header")
    alice.fill(display_name="Alice Thorne")
    alice.press("Save")
    stranger = walk.sit("Charlie")
    with stranger.refused(410):
        stranger.go(link[0])
    stranger.says("It has been used already; each link works once.")


def test_1_groups_and_people_come_in_each_by_a_link(walk: Walk) -> None:
    alice = walk.here["Alice Thorne"]
    people.add_group(alice, "North Bank")
    alice.go("/").press("People", within="header").press("Add a person")
    for name, role, group, shown, size in (
        ("Lena Ortmann", "group lead", "North Bank", ("knows the species", "trained to check trees"), DESK),
        ("Bob Quist", "volunteer", "North Bank", ("trained to tap",), PHONE),
        ("Dora Fenn", "depot keeper", "whole programme", (), DESK),
        ("Kai Lund", "boil lead", "whole programme", ("fire and pan", "food handling"), DESK),
        ("Ida Moor", "boil lead", "whole programme", ("food handling",), DESK),
    ):
        people.add_person(alice, name, role=role, group=group, shown=shown)
        walk.here[name] = people.comes_in(alice, walk.browser, name, size)
        walk.here[name].says("being prepared")


def test_2_the_towns_streets_and_trees_are_brought_in(walk: Walk) -> None:
    alice = walk.here["Alice Thorne"]
    files.look_at_file(alice, "Bring in street lines", walk.folder / "streets.geojson")
    files.take(alice, "Take in these streets")
    files.look_at_file(alice, "Bring in a tree file", walk.folder / "trees.csv")
    alice.says("All 24 rows of this file:")
    assert [alice.figure(words) for words in ("can be taken", "not taken")] == ["20", "4"]
    files.take(alice, "Take in these trees")
    alice.says("Longitude and latitude look swapped")
    alice.says("This is a stump")
    with alice.page.expect_download() as coming:
        alice.page.get_by_text("Take as a file").click()
        alice.page.get_by_role("link", name="Plain table (CSV)").click()
    rows = list(csv.reader(coming.value.path().read_text(encoding="utf-8-sig").splitlines()))
    assert len([row for row in rows[1:] if "not taken" in row]) == 4
    files.look_at_file(alice, "Bring in a tree file", walk.folder / "trees.csv")
    files.take(alice, "Take in these trees")
    came = {words: alice.figure(words) for words in ("taken", "changed", "the same as before", "not taken")}
    assert came == {"taken": "0", "changed": "0", "the same as before": "20", "not taken": "4"}


def test_3_trees_are_chosen_on_the_map_and_put_into_a_group(walk: Walk) -> None:
    alice = walk.here["Alice Thorne"]
    alice.go("/").press("Season", within="header").press("Rules and next step").press("Open the season")
    alice.says("Now: open for permissions and checks")
    trees.draw_round_all(alice, 20)
    trees.put_into_group(alice, "North Bank")
    alice.says("20 trees are now in North Bank.")
    alice.says("Considered 20")


def test_4_the_town_says_yes_to_some(walk: Walk) -> None:
    alice = walk.here["Alice Thorne"]
    trees.choose(alice, FIRST, SECOND)
    trees.ask_for_permission(alice, walk.today)
    alice.says("is kept: the answer was yes.")
    alice.says("It counts today")


def test_4_the_species_is_sure_when_two_people_have_told_it(walk: Walk) -> None:
    bob, lena = walk.here["Bob Quist"], walk.here["Lena Ortmann"]
    for code in (FIRST, SECOND):
        trees.tell_species(bob, code, SUGAR, "leaf")
        bob.says("The species waits for a second look")
        trees.look_again(lena, code, SUGAR, "twig and buds")
        lena.says("The species is sure.")


def test_5_the_trees_are_checked_and_the_verdict_is_explained(walk: Walk) -> None:
    lena = walk.here["Lena Ortmann"]
    trees.check(lena, FIRST)
    lena.says("Nothing was seen that speaks against tapping.")
    trees.check(lena, SECOND, salt="some")
    lena.says("One tap at most")


def test_6_trees_are_given_and_each_that_cannot_be_names_every_reason(walk: Walk) -> None:
    lena = walk.here["Lena Ortmann"]
    trees.choose(lena, FIRST, SECOND, THIRD)
    trees.give(lena, "North Bank")
    lena.says("2 trees given to North Bank")
    lena.says("1 tree stays as it was")
    answer = walk.command("may_tap", THIRD)
    assert answer.returncode == 1
    said = [line.strip() for line in answer.stdout.splitlines()]
    for sentence in (
        "Nobody is sure yet that it is a sugar maple.",
        "City tree: it needs the public body’s permit.",
        "Nobody has said whether it was treated with insecticide.",
        "It has no health check.",
    ):
        lena.says(sentence)
        assert any(sentence in line for line in said), answer.stdout


def test_6_taps_are_placed_on_the_phone(walk: Walk) -> None:
    alice, bob = walk.here["Alice Thorne"], walk.here["Bob Quist"]
    alice.go("/").press("Start tapping").press("Start tapping")
    for code in (FIRST, SECOND):
        phone.record_tap(bob, code)
        bob.says(f"Saved: the tap in {code}.")
    # 18 in carries two taps; the other one keeps its distance. 14 in, watched, carries one and no more.
    phone.record_tap(bob, FIRST, side="0", height="30")
    bob.go(f"/trees/{SECOND}/tap/")
    bob.says("Please do not drill.")
    alice.press("Start collecting")


def test_7_sap_is_logged_on_the_phone_and_can_be_changed_the_same_day(walk: Walk) -> None:
    bob = walk.here["Bob Quist"]
    bob.go("/")
    bob.page.get_by_text("Tree 1 of 2").wait_for()  # the round that needs no signal; the pages with signal do the same
    bob.go("/log/")
    bob.says("0 of 2 visited")
    bob.press("Next:", exact=False)
    phone.log_sap(bob, "2 gal")
    bob.says("Saved: 2.00 gal, 339 Larkspur Street.")
    phone.log_sap(bob, "1½ gal", discarded="0.5", discard_reason="cloudy", sugar="2.4")
    bob.says("Every tree is visited today.")
    bob.press("339 Larkspur Street", exact=False).press("Frozen")
    bob.says("Saved: Frozen, 339 Larkspur Street.")
    # An amount no pail holds is asked about; nothing typed is lost.
    bob.go(f"/log/{SECOND}/").press("Log sap")
    bob.fill(volume="15")
    with bob.refused(422):
        bob.follow(bob.page.locator("#save"))
    bob.says("Mind: is this right?")
    assert bob.page.input_value("[name=volume]") == "15"
    bob.go("/log/").press("2.00", exact=False)
    bob.unfold("Change or take back")
    bob.fill(volume="1.8")
    bob.press("Save the change")
    bob.says("1.80")


def test_8_the_depot_accepts_what_was_brought_and_turns_away_what_is_sour(walk: Walk) -> None:
    alice, dora = walk.here["Alice Thorne"], walk.here["Dora Fenn"]
    sap.set_up_depot(alice, "Mill Race yard")
    sap.set_up_tank(dora, "A", "Mill Race yard", "55")
    dora.says("Tank A is set up.")
    sap.record_container(alice, "P-01", "5")
    alice.says("P-01")
    good = {"container_text": "P-01", "volume": "2.5", "sugar": "2.2", "temperature": "38", "tank": "A"}
    sour = {"container_text": "small can", "volume": "0.3", "look": "Milky", "reject_reason": "milky or sour"}
    sap.accept(dora, "Bob Quist", "Mill Race yard", good, sour)
    dora.says("is accepted.")
    dora.says("turned away: milky or sour")
    dora.go("/tanks/")
    dora.says("2.50")


def test_8_a_batch_is_boiled_when_the_safety_lines_are_ticked(walk: Walk) -> None:
    kai = walk.here["Kai Lund"]
    sap.call_boiling_day(kai, "Mill Race yard")
    kai.says("The fire can’t be lit yet")
    assert kai.page.get_by_role("button", name="Light the fire").is_disabled()
    sap.make_safe(kai, "Kai Lund", "Alice Thorne")
    sap.boil(kai, "0.063", "66.5")
    kai.says("Fire out")


def test_8_the_jars_are_packed_by_one_and_released_by_another(walk: Walk) -> None:
    kai, ida = walk.here["Kai Lund"], walk.here["Ida Moor"]
    code = f"{walk.today.year % 100}-001"
    # 0.063 gal are 238 mL: one half pint of 237 mL, and a millilitre of measuring.
    sap.pack(kai, 237, "1", "66.5", "184")
    kai.says("A second person looks and releases it.")
    kai.says("You packed this lot.")
    sap.release(ida, code)
    ida.says("Released")
    ida.press("Whose sap is in it")
    ida.says(FIRST)
    sap.hand_out(ida, code, "Quill School kitchen")
    ida.says("Quill School kitchen")


def test_9_no_season_closes_over_a_spout_and_each_is_pulled(walk: Walk) -> None:
    alice, bob = walk.here["Alice Thorne"], walk.here["Bob Quist"]
    alice.go("/").press("Season", within="header").press("Rules and next step").press("End the season")
    alice.says("3 taps are still in.")
    with alice.refused(409):
        alice.press("Close the season")
    alice.says("This was not done")
    bob.go("/log/")
    bob.says("0 of 2 visited")
    bob.press("Next:", exact=False)
    bob.says("Stop: pull the spout")
    bob.press("Spout pulled")
    alice.go("/trees/").press("Taps still in").press("Choose all on this page").press("The chosen spouts are out")
    alice.says("All out.")


def test_9_the_season_closes_and_its_totals_are_the_sum_of_their_rows(walk: Walk) -> None:
    alice = walk.here["Alice Thorne"]
    alice.go("/").press("Season", within="header")
    alice.says("Closes to the millilitre.")
    # By hand, with the gallon of 3785.411784 mL (NIST SP 811): 1.8 gal and 1.5 gal, of that 0.5 gal tipped out.
    out_ml, tipped_ml = 6_814 + 5_678, 1_893
    shown = re.search(r"([\d,]+)\s*mL", alice.page.get_by_role("row", name="Came out of trees").inner_text())
    assert shown is not None
    assert shown[1] == f"{out_ml:,}"
    for words in ("By tree", "By group", "By kind of tree", "By person", "Day by day"):
        rows = table(alice, words)
        assert sum(int(row["volume_ml"]) for row in rows) == out_ml, words
        assert sum(int(row["tipped_out_ml"]) for row in rows) == tipped_ml, words
    alice.go(f"/seasons/{walk.today.year}/").press("Close the season")
    alice.says("Now: closed")
    alice.press("Totals")
    alice.says("The totals stand as they were when the season closed.")
    counted_again = walk.command("check_ledger")
    assert counted_again.returncode == 0, counted_again.stdout


def table(who: Somebody, words: str) -> list[dict[str, str]]:
    """The rows of a part of the page, taken as CSV."""
    part = who.page.get_by_role("region", name=words, exact=True)
    part.get_by_text("Take as a file", exact=True).click()
    with who.page.expect_download() as coming:
        part.get_by_role("link", name="Plain table (CSV)").first.click()
    return list(csv.DictReader(coming.value.path().read_text(encoding="utf-8-sig").splitlines()))
