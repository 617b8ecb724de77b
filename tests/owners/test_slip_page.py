"""One slip: its next acts, its limits changed while it counts, trees added, its history and its scan."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image

from sugarbush.audit.models import AuditEvent
from sugarbush.owners.models import Owner, Permission, TreeOwner
from sugarbush.taps.gate import gate
from sugarbush.trees.models import Shown, Tree
from tests import make

pytestmark = pytest.mark.django_db
PDF = b"%PDF-1.4\n<<>>\n%%EOF\n"


def private_slip(*trees: Tree, state: str = "granted", **fields: Any) -> Permission:
    owner = Owner.objects.get_or_create(name="Osric Pell", group=make.group())[0]
    for tree in trees:
        make.owns(tree, owner)
        make.treatment(tree)
    defaults: dict[str, Any] = {"capacity": "owner", "signed_by": "Osric Pell", "group": make.group()}
    return make.permission(*trees, owner=owner, state=state, **{**defaults, **fields})


def page_of(slip: Permission) -> str:
    return reverse("permission", args=[slip.number])


def act(client: Client, slip: Permission, state: str, **typed: Any) -> Any:
    answer = client.post(page_of(slip) + "act/", {"state": state, **typed})
    slip.refresh_from_db()
    return answer


def terms(client: Client, slip: Permission, **typed: Any) -> dict[str, Any]:
    """The change form as the page shows it, with what somebody types over it."""
    form = client.get(page_of(slip) + "change/").context["form"]
    held = {bound.html_name: bound.value() for bound in form}
    return {key: value for key, value in {**held, **typed}.items() if value is not None}


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("draft", {"asked", "granted", "refused"}),
        ("asked", {"no_answer", "granted", "refused"}),
        ("no_answer", {"asked", "granted", "refused"}),
        ("granted", {"suspended", "revoked"}),
        ("suspended", {"granted", "revoked"}),
        ("refused", set()),
        ("revoked", set()),
    ],
)
def test_a_slip_offers_the_acts_that_follow_and_takes_no_other(client: Client, before: str, after: set[str]) -> None:
    make.season()
    client.force_login(make.lena())
    for state in ("asked", "no_answer", "granted", "refused", "suspended", "revoked"):
        slip = private_slip(make.tree(land="private"), state=before)
        offered = f'value="{state}"' in client.get(page_of(slip)).content.decode()
        done = act(client, slip, state, **{f"{state}-reason": "He asked us to."})
        assert offered == (state in after)
        assert done.status_code == (302 if state in after else 422)
        assert slip.state == (state if state in after else before)


def test_a_step_that_does_not_follow_says_why_and_what_to_do(client: Client) -> None:
    slip = private_slip(make.tree(land="private"), state="refused")
    client.force_login(make.lena())
    page = act(client, slip, "granted").content.decode()
    assert "that step does not follow" in page
    assert "Write a new permission for a new yes" in page


@pytest.mark.parametrize("state", ["suspended", "revoked"])
def test_stopping_needs_a_reason(client: Client, state: str) -> None:
    slip = private_slip(make.tree(land="private"))
    client.force_login(make.lena())
    answer = act(client, slip, state, **{f"{state}-reason": "  "})
    assert answer.status_code == 422
    assert "This answer is needed." in answer.content.decode()
    assert slip.state == "granted"


def test_a_yes_that_lacks_something_names_all_of_it_on_the_page(client: Client) -> None:
    tree = make.tree(land="private")
    slip = private_slip(tree, state="asked", signed_by="", evidence_note="", date_to=None)
    tree.treatments.all().delete()
    client.force_login(make.lena())
    page = act(client, slip, "granted").content.decode()
    for words in ("first and last day", "name of the person", "Add the scan", f"is not answered for {tree.code}"):
        assert words in page
    assert f'href="{page_of(slip)}change/"' in page
    assert slip.state == "asked"


def test_a_suspension_is_lifted(client: Client) -> None:
    make.season()
    tree = make.tree(land="private")
    slip = private_slip(tree)
    client.force_login(make.lena())
    act(client, slip, "suspended", **{"suspended-reason": "Roof work until May."})
    assert [r for r in gate(tree, "tap") if r.code == "permission"]
    act(client, slip, "granted")
    assert (slip.state, slip.ended_at, slip.end_reason) == ("granted", None, "")
    assert not [r for r in gate(tree, "tap") if r.code == "permission"]


def test_a_yes_is_not_given_to_words_that_changed_meanwhile(client: Client) -> None:
    slip = private_slip(make.tree(land="private"), state="asked")
    client.force_login(make.lena())
    seen = slip.edition
    client.post(page_of(slip) + "change/", terms(client, slip, most_taps="2", reason="He agreed to two."))
    answer = act(client, slip, "granted", edition=seen)
    assert answer.status_code == 409
    assert "somebody changed this meanwhile" in answer.content.decode()
    assert slip.state == "asked"
    assert act(client, slip, "granted", edition=slip.edition).status_code == 302


def test_a_permits_number_is_a_limit_the_gate_keeps_and_names(client: Client) -> None:
    # job.md C15: "Permit max 1 tap: second tap on a 60 cm tree refused quoting permit number".
    tree = make.ready_tree(diameter_um=600_000)
    make.assignment(tree)
    slip = tree.permissions.get()
    client.force_login(make.alice())
    answer = client.post(
        page_of(slip) + "change/",
        terms(client, slip, most_taps="1", public_number="QPS-2026-7", reason="The office wrote on Monday."),
    )
    assert answer.status_code == 302
    make.tap(tree)
    reasons = " ".join(str(reason) for reason in gate(tree, "tap", by=make.bob()))
    assert "QPS-2026-7" in reasons


def test_changing_a_slip_that_counts_needs_a_reason_and_keeps_the_old_words(client: Client) -> None:
    tree = make.tree(land="private")
    slip = private_slip(tree, most_taps=2, most_height_mm=1200)
    client.force_login(make.lena())
    answer = client.post(page_of(slip) + "change/", terms(client, slip, most_taps="1"))
    assert answer.status_code == 422
    slip.refresh_from_db()
    assert slip.most_taps == 2
    typed = terms(client, slip, most_taps="1", most_height_mm="100", reason="She wants one only.")
    answer = client.post(page_of(slip) + "change/", typed)
    assert answer.status_code == 302
    slip.refresh_from_db()
    assert (slip.most_taps, slip.most_height_mm, slip.state) == (1, 1000, "granted")
    page = client.get(page_of(slip)).content.decode()
    assert "She wants one only." in page
    assert "Most taps a tree: 2 → 1" in page
    assert "Hole no higher than: 120.0\u00a0cm → 100.0\u00a0cm" in page
    assert "Lena" in page
    event = AuditEvent.objects.get(act="change permission")
    assert (event.by, event.old["most_taps"], event.new["most_taps"]) == (make.lena(), 2, 1)


def test_a_shorter_yes_shows_on_the_trees_at_once(client: Client) -> None:
    tree = make.tapped_tree()
    slip = tree.permissions.get()
    assert tree.shown == Shown.TAPPED
    client.force_login(make.alice())
    yesterday = make.today() - make.days(1)
    typed = terms(client, slip, date_to=str(yesterday), reason="The street is dug up.")
    answer = client.post(page_of(slip) + "change/", typed)
    assert "The last day has passed already." in answer.content.decode()
    answer = client.post(page_of(slip) + "change/", {**typed, "stands": f"ended:{yesterday}"})
    assert answer.status_code == 302
    assert Tree.objects.get().shown == Shown.PULL


def test_a_yes_cannot_be_changed_into_none(client: Client) -> None:
    slip = private_slip(make.tree(land="private"))
    client.force_login(make.lena())
    answer = client.post(page_of(slip) + "change/", terms(client, slip, signed_by="", reason="A slip of the pen."))
    assert answer.status_code == 422
    assert "Write the name of the person who said yes." in answer.content.decode()
    slip.refresh_from_db()
    assert slip.signed_by == "Osric Pell"


def test_two_people_change_one_slip_and_the_second_sees_both(client: Client) -> None:
    slip = private_slip(make.tree(land="private"), most_taps=2)
    client.force_login(make.lena())
    mine = terms(client, slip, fee_text="10 dollars", reason="Agreed by telephone.")
    theirs = Client()
    theirs.force_login(make.alice())
    theirs.post(page_of(slip) + "change/", terms(theirs, slip, most_taps="1", reason="He wants one."))
    answer = client.post(page_of(slip) + "change/", mine)
    page = answer.content.decode()
    assert answer.status_code == 409
    assert "<dt>Most taps a tree</dt><dd>1</dd>" in page
    assert "10 dollars" in page
    assert "Agreed by telephone." in page
    slip.refresh_from_db()
    assert (slip.most_taps, slip.fee_text) == (1, "")
    again = {name: answer.context["form"][name].value() for name in mine if name in answer.context["form"].fields}
    again |= {"most_taps": "1"}
    assert client.post(page_of(slip) + "change/", again).status_code == 302
    slip.refresh_from_db()
    assert (slip.most_taps, slip.fee_text) == (1, "10 dollars")


@pytest.mark.parametrize("state", ["refused", "revoked"])
def test_a_slip_that_is_over_is_not_rewritten(client: Client, state: str) -> None:
    slip = private_slip(make.tree(land="private"), state=state)
    client.force_login(make.alice())
    assert client.get(page_of(slip) + "change/").status_code == 403
    assert client.post(page_of(slip) + "change/", {"signed_by": "X"}).status_code == 403


def test_a_tree_is_added_to_a_yes_with_its_answer_and_its_owner(client: Client) -> None:
    make.season()
    first, second = make.tree(land="private"), make.tree(land="private")
    slip = private_slip(first)
    client.force_login(make.lena())
    typed = {"tags": f"{second.code.lower()}, QH-999999", "evidence": "the same deed", "reason": "She named it too."}
    answer = client.post(page_of(slip) + "trees/", typed)
    assert answer.status_code == 422
    assert f"The insecticide question is not answered for {second.code}." in answer.content.decode()
    assert slip.lines.count() == 1
    answer = client.post(page_of(slip) + "trees/", {**typed, "treated": "no"}, follow=True)
    page = answer.content.decode()
    assert "Not taken: QH-999999." in page
    assert "She named it too." in page
    assert {line.tree_id for line in slip.lines.all()} == {first.pk, second.pk}
    assert TreeOwner.objects.get(tree=second).evidence == "the same deed"
    assert not [r for r in gate(second, "assign") if r.code in {"permission", "owner", "treatment"}]


def test_no_tree_is_added_to_a_slip_that_was_taken_back(client: Client) -> None:
    slip = private_slip(make.tree(land="private"), state="revoked")
    client.force_login(make.lena())
    answer = client.post(page_of(slip) + "trees/", {"tags": make.tree(land="private").code, "treated": "no"})
    assert answer.status_code == 422
    assert slip.lines.count() == 1


def test_what_to_mind_stands_on_the_page(client: Client) -> None:
    make.season()
    tree = make.tree(land="public")
    slip = private_slip(tree, state="draft", capacity="occupant")
    town = make.permission(tree)
    client.force_login(make.lena())
    page = client.get(page_of(slip)).content.decode()
    assert "a resident’s yes is not enough" in page
    assert "does not own the tree cannot say yes" in page
    assert town.number in page


# The scan -----------------------------------------------------------------------


def test_the_scan_is_handed_out_as_something_to_save_and_opening_it_is_written_down(client: Client) -> None:
    slip = private_slip(make.tree(land="private"))
    client.force_login(make.lena())
    scan = SimpleUploadedFile("x.pdf", PDF + b"<script>alert(1)</script>%%EOF", content_type="text/html")
    assert client.post(page_of(slip) + "scan/", {"scan": scan}).status_code == 302
    answer = client.get(page_of(slip) + "scan/")
    assert answer.status_code == 200
    assert answer["Content-Type"] == "application/pdf"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Disposition"] == f'attachment; filename="{slip.number}.pdf"'
    assert "no-store" in answer["Cache-Control"]
    assert AuditEvent.objects.filter(act="see scan", by=make.lena(), subject_id=slip.pk).count() == 1


def test_a_photo_of_the_slip_is_drawn_anew_and_saved_not_shown(client: Client) -> None:
    picture = BytesIO()
    Image.new("RGB", (40, 30), "white").save(picture, "PNG")
    slip = private_slip(make.tree(land="private"), state="draft")
    client.force_login(make.lena())
    client.post(page_of(slip) + "scan/", {"scan": SimpleUploadedFile("slip.svg", picture.getvalue())})
    answer = client.get(page_of(slip) + "scan/")
    assert answer["Content-Type"] == "image/jpeg"
    assert answer["Content-Disposition"].startswith("attachment")


@pytest.mark.parametrize("content", [b"<html><script>alert(1)</script>", b"", b"%PDF-1.4 half of it", b"PK\x03\x04"])
def test_what_is_no_scan_is_refused_with_a_sentence(client: Client, content: bytes) -> None:
    slip = private_slip(make.tree(land="private"), state="draft")
    client.force_login(make.lena())
    answer = client.post(page_of(slip) + "scan/", {"scan": SimpleUploadedFile("slip.pdf", content)})
    assert answer.status_code == 422
    assert "Please look:" in answer.content.decode()
    slip.refresh_from_db()
    assert not slip.evidence


def test_a_slip_without_a_scan_has_none_to_open(client: Client) -> None:
    slip = private_slip(make.tree(land="private"))
    client.force_login(make.lena())
    assert client.get(page_of(slip) + "scan/").status_code == 404
