"""Tags, labels for lots and jars: on any sheet of labels, readable, none cut off, as many as are needed."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from sugarbush.audit.models import AuditEvent
from sugarbush.owners.models import PermissionState
from sugarbush.papers.documents.tags import trees_without_tag
from sugarbush.papers.labels import USUAL
from sugarbush.papers.models import Document, LabelSheet, PaperSettings
from sugarbush.parts.reasons import Refused
from sugarbush.seasons.models import Season
from tests import make
from tests.lots.syrup import released, syrup
from tests.papers import reading

pytestmark = pytest.mark.django_db
READ_AT_2_M_MM = 8.0
"""Letters of a two-hundred-and-fiftieth of the distance are read with ease."""
CAPITALS = 0.729
"""How much of its size a capital of the stamp is tall."""
# The smallest of each paper, one without an edge, and the usual one.
SIZES = {"a4-8", "a4-21", "a4-24", "us-30"}


def tallest_mm(pdf: bytes, folder, code: str) -> float:
    """How tall the box of this code is set, in millimetres."""
    (folder / "tall.pdf").write_bytes(pdf)
    seen = reading.run("pdftotext", "-bbox", str(folder / "tall.pdf"), "-")
    found = re.search(rf'yMin="([\d.]+)" xMax="[\d.]+" yMax="([\d.]+)">{code}<', seen)
    assert found is not None
    return (float(found[2]) - float(found[1])) / 72 * 25.4


def test_missing_tags_are_printed_once_and_say_what_a_passer_by_should_know(printed, readers, tmp_path):
    trees = [make.given_tree() for _ in range(9)]
    said = reading.pages(printed("tags", layout="a4-8", which="missing"), tmp_path, by_label=True)
    assert len(said) == 2
    for tree in trees:
        assert tree.code in " ".join(said)
    start, end = make.today() - make.days(30), make.today() + make.days(60)
    assert reading.flat(f"permission from {start:%-d %B %Y} to {end:%-d %B %Y}") in reading.flat(said[0])
    assert said[0].count("Not drinking water.") == 8
    assert "555-0140" in said[0]
    assert "page 2 of 2" in said[1]
    assert Document.objects.get().number in said[1]
    assert not trees_without_tag(make.alice(), Season.current(), make.today()).exists()
    with pytest.raises(Refused):
        printed("tags", layout="a4-8", which="missing")
    again = reading.words(printed("tags", layout="a4-8", which="all"), tmp_path)
    assert Document.objects.get().number in again


@pytest.mark.parametrize("layout", [one for one in USUAL if one.key in SIZES], ids=lambda one: one.key)
def test_a_tag_stays_inside_its_sheet_and_its_square_is_read_at_print_size_and_at_half(
    printed, readers, tmp_path, layout
):
    tree = make.given_tree(code="QH-12345")
    pdf = printed("tags", layout.paper, layout=layout.key, which="these", codes=[tree.code])
    assert reading.outside(pdf, tmp_path, layout.paper, edge=0) == []
    corner = (layout.left_mm + layout.width_mm, layout.top_mm + layout.height_mm)
    for dpi in (360, 180):
        assert reading.squares(pdf, tmp_path, dpi, corner) == {f"https://sap.example.org/t/{tree.code}/"}
    if layout.height_mm >= 38:
        assert tallest_mm(pdf, tmp_path, tree.code) * CAPITALS >= READ_AT_2_M_MM


def test_a_tag_says_yes_only_where_somebody_did(printed):
    make.season()
    unsaid = make.tree()
    make.permission(unsaid, state=PermissionState.ASKED)
    with pytest.raises(Refused, match=unsaid.code):
        printed("tags", layout="a4-8", which="these", codes=[unsaid.code])
    other = make.given_tree(group=make.group("Mill Race"))
    with pytest.raises(Refused, match="No tree of yours"):
        printed("tags", layout="a4-8", which="these", codes=[other.code], person=make.lena())
    assert not Document.objects.exists()


def test_a_bottle_gets_its_label_with_the_words_of_the_place(printed, readers, tmp_path):
    lot = released(syrup(4_500), (250, 14), (500, 2))
    settings = PaperSettings.objects.create(
        product_name="Street maple syrup", required_words="Made by volunteers in a yard that is not inspected. " * 3
    )
    for layout in ("a4-21", "us-30", "us-10"):
        paper = "a4" if layout.startswith("a4") else "us-letter"
        pdf = printed("bottle-labels", paper, layout=layout, lot=lot.code)
        said = " ".join(reading.pages(pdf, tmp_path, by_label=True))
        assert said.count(f"Lot {lot.code}") == 16
        assert said.count("250 mL (8.5 fl oz)") == 14
        assert said.count("500 mL (16.9 fl oz)") == 2
        assert said.count("Street maple syrup") == 16
        assert reading.flat(said).count("inayardthatisnotinspected.") == 48
        assert said.count("Given, not for sale.") == said.count("No known allergen.") == 16
        assert reading.outside(pdf, tmp_path, paper, edge=0) == []
    five = reading.words(
        printed("bottle-labels", layout="a4-21", lot=lot.code, size="250", count=5, first=20), tmp_path
    )
    assert five.count(lot.code) == 5
    assert "page 2 of 2" in five
    settings.required_words = "Ask the inspector about everything. " * 6
    settings.made_by = "W" * 160
    settings.save()
    with pytest.raises(Refused, match="do not fit"):
        printed("bottle-labels", "us-letter", layout="us-30", lot=lot.code)


def test_a_lot_label_is_read_at_arms_length_and_scanned(printed, readers, tmp_path):
    lot = released()
    pdf = printed("lot-labels", layout="a4-8", lot=lot.code, count=3)
    assert reading.words(pdf, tmp_path).count(lot.code) == 3
    assert tallest_mm(pdf, tmp_path, lot.code) > 10
    for dpi in (200, 100):
        seen = reading.squares(pdf, tmp_path, dpi, (103.7, 80.7))
        assert seen == {f"https://sap.example.org{reverse('lot-scan', args=[lot.pk])}"}


def test_a_sheet_of_labels_is_written_down_once_and_checked_against_its_paper(client, printed, readers, tmp_path):
    tree = make.given_tree()
    client.force_login(make.lena())
    assert client.get(reverse("paper-settings")).status_code == 403
    client.force_login(make.alice())
    sizes = {
        "top_mm": "10",
        "left_mm": "5",
        "width_mm": "100",
        "height_mm": "60",
        "gap_across_mm": "0",
        "gap_down_mm": "2",
    }
    asked = {"name": "Green tags", "use": "tag", "paper": "a4", "columns": "2", "rows": "4", **sizes}
    too_wide = client.post(reverse("label-sheet-new"), {**asked, "columns": "3"})
    assert too_wide.status_code == 422
    assert "305 mm from the edge" in too_wide.content.decode()
    assert client.post(reverse("label-sheet-new"), asked).status_code == 302
    sheet = LabelSheet.objects.get()
    assert "Green tags" in client.get(reverse("paper-print", args=["tags"])).content.decode()
    pdf = printed("tags", layout=f"own-{sheet.pk}", which="these", codes=[tree.code])
    assert tree.code in reading.words(pdf, tmp_path)
    words = {"paper": "us-letter", "product_name": "Our syrup"}
    page = reverse("paper-settings")
    assert client.post(page, words).status_code == 302
    assert PaperSettings.current().paper == "us-letter"
    assert 'value="us-letter"' in client.get(reverse("paper-print", args=["permission"])).content.decode()
    assert client.post(page, {**words, "product_name": "Theirs", "edition": "stale"}).status_code == 409
    assert client.post(reverse("label-sheet", args=[sheet.pk]), {"act": "away"}).status_code == 302
    acts = set(AuditEvent.objects.values_list("act", flat=True))
    assert {"add label sheet", "change papers", "take away label sheet"} <= acts
