"""The permission form: one page, filled in, its words kept, printed again with the same numbers, found again."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.exceptions import PermissionDenied
from django.core.files.base import ContentFile
from django.http import Http404
from django.test import Client
from django.urls import reverse

from sugarbush.owners import consent
from sugarbush.owners.models import OwnerLink, PermissionState
from sugarbush.papers.models import Document
from sugarbush.trees.models import TreeObservation
from tests import make
from tests.papers import reading

pytestmark = pytest.mark.django_db


def slip(*trees, **fields):
    return make.permission(*(trees or [make.tree(address="19 Larkspur Street")]), state=PermissionState.ASKED, **fields)


def photo():
    from io import BytesIO

    from PIL import Image

    out = BytesIO()
    Image.new("RGB", (640, 480), (90, 120, 80)).save(out, "JPEG")
    return ContentFile(out.getvalue(), name="look.jpg")


def test_ten_forms_come_on_ten_pages_on_either_paper_with_all_they_have_to_say(printed, readers, tmp_path):
    make.season()
    pictured = make.tree(address="7 Heron Row")
    TreeObservation.objects.create(tree=pictured, date=make.today(), by=make.bob(), photo=photo())
    slips = [slip(pictured, conditions="Keep the gate shut. " * 20, most_taps=1)]
    slips += [slip(*(make.tree() for _ in range(n))) for n in (1, 1, 2, 3, 4, 5, 6, 7, 8)]
    for paper in ("a4", "us-letter"):
        pdf = printed("permission", paper, numbers=[one.number for one in slips])
        said = reading.pages(pdf, tmp_path)
        assert len(said) == 10
        assert reading.outside(pdf, tmp_path, paper) == []
        for one, page in zip(slips, said, strict=True):
            wording = consent.wording_of(one, programme="Quillhaven sugarbush", units="metric")
            for words in (*wording.sentences, *wording.limits, one.number, one.owner.name, "page 1 of 1", "555-0140"):
                assert reading.flat(words) in reading.flat(page)
            assert all(line.tree.code in page for line in one.lines.select_related("tree"))
            assert "insecticide" in page
            assert "For you to keep" in page
            assert f"version {consent.VERSION}" in page
    assert b"/Image" in pdf


def test_a_slip_of_many_trees_keeps_its_page_and_gets_a_list_behind_it(printed, readers, tmp_path):
    make.season()
    many = slip(*(make.tree() for _ in range(30)))
    pages = reading.pages(printed("permission", numbers=[many.number]), tmp_path)
    assert len(pages) == 2
    assert "page 2 of 2" in pages[1]
    assert "For you to keep" in pages[0]
    assert all(line.tree.code in pages[1] for line in many.lines.select_related("tree"))


def test_conditions_longer_than_a_page_go_behind_it_whole(printed, readers, tmp_path):
    make.season()
    long = slip(conditions=" ".join(f"Condition {n} of the forester holds." for n in range(300)))
    for paper in ("a4", "us-letter"):
        pages = reading.pages(printed("permission", paper, numbers=[long.number]), tmp_path)
        assert "on the page behind this one" in pages[0]
        assert "For you to keep" in pages[0]
        assert "Condition 0 of" in pages[1]
        assert "Condition 299 of the forester holds." in " ".join(pages[1:])


def test_a_lost_slip_prints_again_with_its_numbers_and_other_words_make_another_edition(printed, readers, tmp_path):
    make.season()
    one = slip()
    first = printed("permission", numbers=[one.number])
    again = printed("permission", numbers=[one.number], person=make.lena())
    document = Document.objects.get()
    for pdf in (first, again):
        said = reading.words(pdf, tmp_path)
        assert one.number in said
        assert document.number in said
    assert [edition.nth for edition in document.editions.all()] == [1]
    assert document.made_by == make.alice()
    one.most_taps = 1
    one.save()
    changed = reading.words(printed("permission", numbers=[one.number]), tmp_path)
    assert f"{document.number}, print 2" in changed
    kept = document.editions.get(nth=2)
    assert kept.wording_version == consent.VERSION
    assert "At most 1 spout a tree." in kept.wording
    assert "At most 1 spout a tree." not in document.editions.get(nth=1).wording


def test_without_days_the_form_leaves_a_line_to_write_them_on(printed, readers, tmp_path):
    make.programme()
    said = reading.words(printed("permission", numbers=[slip(date_from=None, date_to=None).number]), tmp_path)
    assert "from ______________ until ______________" in said


def test_the_square_explains_the_slip_and_makes_a_link_only_when_asked(printed, readers, tmp_path):
    make.season()
    one = slip()
    plain = printed("permission", numbers=[one.number])
    for dpi in (160, 80):
        assert reading.squares(plain, tmp_path, dpi) == {f"https://sap.example.org/slip/{one.number}/"}
    assert not OwnerLink.objects.exists()
    private = printed("permission", numbers=[one.number], links=True)
    (address,) = reading.squares(private, tmp_path, 160)
    path = address.removeprefix("https://sap.example.org")
    assert path.startswith("/o/")
    assert OwnerLink.objects.count() == 1
    assert Client().get(path, follow=True).status_code == 200


def test_no_link_is_made_where_the_print_stops_for_the_fonts(asked, printed):
    from sugarbush.papers.press import CannotShow

    make.season()
    one = slip(owner=make.owner("糖 Sweet", "person"))
    with pytest.raises(CannotShow):
        printed("permission", numbers=[one.number], links=True)
    assert not OwnerLink.objects.exists()
    assert not Document.objects.exists()


def test_only_who_sees_every_tree_of_a_slip_prints_it(printed):
    make.season()
    shared = slip(make.tree(), make.tree(group=make.group("Mill Race")))
    other = slip(make.tree(group=make.group("Mill Race")))
    with pytest.raises(PermissionDenied):
        printed("permission", numbers=[shared.number], person=make.lena())
    for stranger in (make.lena(), make.bob()):
        with pytest.raises(Http404):
            printed("permission", numbers=[other.number], person=stranger)
    with pytest.raises(PermissionDenied):
        printed("permission", numbers=[slip().number], person=make.rhea(), links=True)


def test_a_number_from_paper_lands_on_the_record_and_a_slip_of_the_pen_is_told(printed, client):
    make.season()
    one = slip()
    printed("permission", numbers=[one.number])
    document = Document.objects.get()
    find = reverse("paper-find")
    client.force_login(make.alice())
    for typed in (one.number, one.number.lower(), document.number, document.number.replace("D-", "").replace("-", " ")):
        answer = client.get(find, {"number": typed})
        assert (answer.status_code, answer.headers.get("Location")) == (302, f"/permissions/{one.number}/"), typed
    wrong = document.number[:-1] + str((int(document.number[-1]) + 1) % 10)
    for typed in (wrong, "P9999-999", "nothing", "\x00"):
        answer = client.get(find, {"number": typed})
        assert answer.status_code == 404
        assert "Please look" in answer.content.decode()
    client.force_login(make.mira())
    for typed in (one.number, document.number):
        assert client.get(find, {"number": typed}).status_code == 404


def test_the_square_of_a_slip_opens_its_record_for_us_and_tells_strangers_nothing(client):
    make.programme()
    one = slip()
    numbers = (one.number, "P0000-000")
    stranger = [client.get(reverse("paper-slip", args=[number])) for number in numbers]
    assert [answer.status_code for answer in stranger] == [200, 200]
    pages = [answer.content.decode().replace(number, "") for answer, number in zip(stranger, numbers, strict=True)]
    assert pages[0] == pages[1]
    assert "Larkspur" not in pages[0]
    client.force_login(make.lena())
    assert client.get(reverse("paper-slip", args=[one.number])).headers["Location"] == f"/permissions/{one.number}/"


def test_the_page_prints_what_was_typed_and_keeps_it_when_it_cannot(client):
    make.season()
    one = slip()
    client.force_login(make.alice())
    page = reverse("paper-print", args=["permission"])
    asked = client.get(page, {"numbers": one.number})
    assert one.number in asked.content.decode()
    answer = client.post(page, {"numbers": one.number, "paper": "us-letter"})
    assert answer.status_code == 200
    assert answer["Content-Type"] == "application/pdf"
    assert "no-store" in answer["Cache-Control"]
    assert "Content-Security-Policy" not in answer.headers
    assert client.post(page, {"numbers": "", "paper": "a4"}).status_code == 422
    assert client.post(page, {"numbers": "P1-nobody", "paper": "a4"}).status_code == 404
    odd = slip(owner=make.owner("糖 Sweet", "person"))
    stopped = client.post(page, {"numbers": odd.number, "paper": "a4"})
    assert stopped.status_code == 409
    said = stopped.content.decode()
    assert "糖" in said
    assert "SUGARBUSH_FONTS" in said
    boxes = client.post(page, {"numbers": odd.number, "paper": "a4", "anyway": "yes"})
    assert boxes["Content-Type"] == "application/pdf"


def test_days_of_the_form_are_those_of_the_slip(printed, readers, tmp_path):
    make.season()
    one = slip(date_from=dt.date(2027, 2, 1), date_to=dt.date(2027, 4, 9))
    said = reading.words(printed("permission", numbers=[one.number]), tmp_path)
    assert "from 1 February 2027 until 9 April 2027" in said
