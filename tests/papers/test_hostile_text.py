"""Names and notes of anybody come out as they were written, on every paper, inside the page, on either paper size."""

from __future__ import annotations

import pytest

from sugarbush.gathering.models_rounds import Round, RoundRun, RoundStop, RunPerson
from sugarbush.owners.models import OwnerContact
from sugarbush.papers.kinds import kinds
from sugarbush.papers.models import PaperSettings
from sugarbush.trees.models import Shown, StreetLine
from tests import make
from tests.boils.cast import boil_day
from tests.lots.syrup import released
from tests.papers import reading

pytestmark = pytest.mark.django_db

MARKUP = '#read("/etc/passwd") *b* _i_ $x^2$ @a <b> \\ // /* ~ -- ``` [c] {d} = “e” <script> &'
LONG = "Donaudampfschifffahrtselektrizitätenhauptbetriebswerkbauunterbeamtengesellschaft שלום"
NAMES = {"markup": MARKUP, "long, and from the right": LONG}


@pytest.fixture
def everything(db):
    """One of each thing there is a paper about; whatever has a name has the one asked for."""

    def named(name: str):
        short = name[:60]
        make.programme(name=name[:80], place=short, phone=f"555 {name[:20]}")
        season = make.season()
        PaperSettings.objects.create(product_name=short, required_words=name, given_words=short)
        group = make.group(short)
        tree = make.tapped_tree(address=name, group=group, access_note=name)
        StreetLine.objects.create(
            name=name,
            points=[[tree.longitude - 0.001, tree.latitude], [tree.longitude + 0.001, tree.latitude]],
            west=tree.longitude - 0.001,
            south=tree.latitude,
            east=tree.longitude + 0.001,
            north=tree.latitude,
            digest="d" * 64,
        )
        make.tree(address=name, group=group, shown_state=Shown.CONSIDERED)
        slip = make.permission(tree, owner=make.owner(name, "person"), conditions=f"{name}\n{name}", most_taps=1)
        OwnerContact.objects.create(owner=slip.owner, address=name)
        found = Round.objects.create(season=season, group=group, name=short)
        RoundStop.objects.create(round=found, season=season, tree=tree, position=0)
        run = RoundRun.objects.create(round=found, date=make.today())
        RunPerson.objects.create(run=run, person=make.person(short, "volunteer", group))
        day = boil_day(site=name, wind=name, fire_permit=name)
        lot = released()
        return {
            "permission": {"numbers": [slip.number]},
            "permit-card": {"numbers": [slip.number]},
            "permit-return": {"numbers": [slip.number], "year": str(season.year)},
            "thanks": {"owners": [str(slip.owner_id)], "address": True},
            "season-report": {},
            "season-public": {},
            "binder": {},
            "tags": {"which": "these", "codes": [tree.code]},
            "round-sheet": {"runs": [str(run.pk)]},
            "scout-sheet": {"street": tree.address[:100], "tappable": False},
            "boil-day": {"day": str(day.pk)},
            "notice": {"day": str(day.pk), "open_day": True},
            "bottle-labels": {"lot": lot.code},
            "lot-labels": {"lot": lot.code, "count": 2},
        }

    return named


LABELS = {"tags", "bottle-labels", "lot-labels"}
SHORT = {"tags", "lot-labels", "bottle-labels", "season-report", "season-public"}
"""Papers on which only short names stand."""


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES.keys())
def test_hostile_names_are_printed_as_text_and_stay_on_the_page(everything, printed, readers, tmp_path, name):
    asked = everything(name)
    # The shares need a whole season worked out; their names are read back where that is made.
    assert set(asked) | {"share-statements", "hand-out-list"} == {kind.key for kind in kinds()}
    for kind, choices in asked.items():
        for paper in ("a4", "us-letter") if name == LONG else ("a4",):
            on = {"layout": "a4-4" if paper == "a4" else "us-6"} if kind in LABELS else {}
            words, beyond = reading.placed(printed(kind, paper, **choices, **on), tmp_path, paper)
            assert beyond == [], (kind, paper)
            said = reading.flat("".join(words))
            assert reading.flat(name[:18]) in said, kind
            assert "root:" not in said, kind
            if name == LONG and kind not in SHORT:
                assert "שלום" in said or "םולש" in said, kind
