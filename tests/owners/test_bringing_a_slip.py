"""A slip is brought: for whose trees, by whom, with which answers. job.md C10, C11, C15 and b2."""

from __future__ import annotations

import re
import uuid
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from sugarbush.audit.models import AuditEvent
from sugarbush.owners.models import Owner, OwnerContact, Permission, TreeOwner
from sugarbush.taps.gate import gate
from sugarbush.trees.models import Shown, Treatment, Tree
from sugarbush.volunteers.models import Person
from tests import make

pytestmark = pytest.mark.django_db
NEW = "/permissions/new/"
PDF = b"%PDF-1.4\n1 0 obj\n<<>>\nendobj\ntrailer\n<<>>\n%%EOF\n"


def slip_of(*trees: Tree, **fields: Any) -> dict[str, Any]:
    """A whole slip as a lead types it; the season's days stand in the form already."""
    typed: dict[str, Any] = {
        "tree": [tree.code for tree in trees],
        "uuid": str(uuid.uuid4()),
        "new_name": "Ingrid Halloway",
        "new_kind": "person",
        "belongs_because": "the deed she showed",
        "capacity": "owner",
        "signed_by": "Ingrid Halloway",
        "date_from": str(make.today() - make.days(10)),
        "date_to": str(make.today() + make.days(40)),
        "share_wish": "jar",
        "treated": "no",
        "evidence_note": "on paper at the door, to Lena",
        "do": "granted",
    }
    return {**typed, **fields}


def bring(client: Client, person: Person, *trees: Tree, **fields: Any) -> HttpResponse:
    client.force_login(person)
    return client.post(NEW, slip_of(*trees, **fields))  # type: ignore[return-value]  # the test client's own kind


def yard_tree(**fields: Any) -> Tree:
    make.season()
    return make.tree(land="private", **fields)


def test_a_yes_names_each_tree_and_the_third_at_the_address_has_none(client: Client) -> None:
    # job.md C10: "Record for two trees at one address; third tree there still says 'no permission'".
    first, second, third = (yard_tree(address="31 Larkspur Street", nth=n) for n in (1, 2, 3))
    assert bring(client, make.lena(), first, second).status_code == 302
    slip = Permission.objects.get()
    assert slip.state == "granted"
    assert {line.tree_id for line in slip.lines.all()} == {first.pk, second.pk}
    assert not [r for r in gate(first, "assign") if r.code in {"permission", "owner"}]
    assert [r.code for r in gate(third, "assign") if r.code in {"permission", "owner"}] == ["owner"]


def test_what_was_typed_is_what_is_kept(client: Client) -> None:
    tree = yard_tree()
    bring(
        client,
        make.lena(),
        tree,
        most_taps="1",
        least_diameter_um="45.7",
        most_height_mm="120",
        largest_bit_um="8",
        most_depth_mm="4",
        public_number="QPS 7",
        conditions="Ring first.",
        insurance_to=str(make.today() + make.days(90)),
    )
    slip = Permission.objects.get()
    # 1 cm is 10 mm and 10,000 micrometres: the SI's prefixes.
    assert (slip.most_taps, slip.least_diameter_um, slip.most_height_mm) == (1, 457_000, 1200)
    assert (slip.largest_bit_um, slip.most_depth_mm) == (8000, 40)
    assert (slip.public_number, slip.conditions, slip.share_wish) == ("QPS 7", "Ring first.", "jar")
    assert slip.number.startswith(f"P{make.today().year}-")


def test_limits_are_typed_in_the_persons_own_units(client: Client) -> None:
    tree = yard_tree()
    lena = make.lena()
    lena.units = "us"
    lena.save()
    bring(client, lena, tree, most_height_mm="48", largest_bit_um="5/16", least_diameter_um="18")
    slip = Permission.objects.get()
    # 1 in = 25.4 mm exactly: NIST Handbook 44, appendix C.
    assert (slip.most_height_mm, slip.largest_bit_um, slip.least_diameter_um) == (1219, 7938, 457_200)


def test_the_tapping_window_of_the_season_stands_in_the_form(client: Client) -> None:
    tree = yard_tree()
    client.force_login(make.lena())
    page = client.get(NEW, {"tree": tree.code}).content.decode()
    season = make.season()
    assert f'value="{season.tapping_from:%Y-%m-%d}"' in page
    assert f'value="{season.tapping_to:%Y-%m-%d}"' in page
    assert tree.code in page
    assert tree.address in page


def test_the_insecticide_answer_is_a_dated_record_of_its_own_by_the_signer(client: Client) -> None:
    first, second = yard_tree(), yard_tree()
    day = make.today() - make.days(3)
    bring(client, make.lena(), first, second, said_on=str(day), **{f"treated_{second.pk}": "unknown"})
    answers = {row.tree_id: row for row in Treatment.objects.all()}
    assert (answers[first.pk].answer, answers[second.pk].answer) == ("no", "unknown")
    assert {(row.said_by, row.date) for row in answers.values()} == {("Ingrid Halloway", day)}
    # Shared with the health check: the gate reads the same record.
    assert not [r for r in gate(first, "assign") if r.code == "treatment"]
    assert [r for r in gate(second, "assign") if r.code == "treatment"]


def test_a_treated_tree_is_stopped_by_the_slip_that_says_so(client: Client) -> None:
    tree = yard_tree()
    bring(client, make.lena(), tree, treated="yes")
    tree.refresh_from_db()
    assert tree.shown == Shown.NOT
    assert [r for r in gate(tree, "assign") if r.code == "treated"]


def test_each_tree_is_written_down_as_the_owners_with_how_we_know(client: Client) -> None:
    tree = yard_tree()
    bring(client, make.lena(), tree)
    row = TreeOwner.objects.get()
    assert (row.tree_id, row.owner.name, row.evidence) == (tree.pk, "Ingrid Halloway", "the deed she showed")
    assert row.owner.group == tree.group


def test_a_yes_that_lacks_something_says_all_of_it_at_once_and_keeps_what_was_typed(client: Client) -> None:
    tree = yard_tree()
    answer = bring(
        client, make.lena(), tree, signed_by="", date_to="", evidence_note="", treated="", conditions="Mind the dog <b>"
    )
    page = answer.content.decode()
    assert answer.status_code == 422
    for words in (
        "A yes needs its first and last day.",
        "Write the name of the person who said yes.",
        "Add the scan of the slip",
        f"The insecticide question is not answered for {tree.code}.",
    ):
        assert words in page
    assert "Mind the dog &lt;b&gt;" in page
    assert "Ingrid Halloway" in page
    assert not Permission.objects.exists()
    assert not Owner.objects.exists()
    assert not AuditEvent.objects.exists()


def test_a_slip_that_lacks_something_can_be_kept_as_a_draft(client: Client) -> None:
    tree = yard_tree()
    assert bring(client, make.lena(), tree, signed_by="", treated="", do="draft").status_code == 302
    assert Permission.objects.get().state == "draft"
    assert [r for r in gate(tree, "assign") if r.code == "permission"]


def test_asking_shows_on_the_tree(client: Client) -> None:
    tree = yard_tree(life="listed")
    bring(client, make.lena(), tree, do="asked", signed_by="")
    slip, kept = Permission.objects.get(), Tree.objects.get()
    assert (slip.state, slip.asked_on) == ("asked", make.today())
    assert (kept.shown, kept.life) == (Shown.ASKED, "candidate")


def test_a_resident_signs_for_a_city_tree_and_is_told_that_it_is_not_enough(client: Client) -> None:
    # job.md C11: "Boulevard tree + neighbour's signed slip: assign refused 'city tree: needs permit'".
    make.season()
    tree = make.tree(land="public")
    answer = bring(client, make.lena(), tree)
    assert answer.status_code == 422
    sentence = f"City tree: {tree.code} needs the public body’s permit; a resident’s yes is not enough."
    assert sentence in answer.content.decode()
    assert not Permission.objects.exists()
    # Kept all the same when the person says so; the gate still refuses, in the same words as the map.
    assert bring(client, make.lena(), tree, stands="city-tree:").status_code == 302
    (reason,) = [r for r in gate(tree, "assign") if r.code == "permission"]
    assert reason.fact.startswith("City tree: it needs")
    assert reason.detail == "A resident’s yes is not enough."


def test_the_public_body_says_yes_for_city_trees_without_a_question(client: Client) -> None:
    make.season()
    tree, town = make.tree(land="public"), make.owner()
    bring(client, make.lena(), tree, owner=town.pk, new_name="", capacity="agency")
    assert Permission.objects.get().owner == town
    assert not [r for r in gate(tree, "assign") if r.code in {"permission", "owner", "treatment"}]


def test_an_occupants_slip_is_questioned_and_never_becomes_a_yes(client: Client) -> None:
    tree = yard_tree()
    answer = bring(client, make.lena(), tree, capacity="occupant")
    assert "does not own the tree cannot say yes" in answer.content.decode()
    answer = bring(client, make.lena(), tree, capacity="occupant", stands="occupant:")
    assert answer.status_code == 422
    assert not Permission.objects.exists()
    assert bring(client, make.lena(), tree, capacity="occupant", stands="occupant:", do="draft").status_code == 302


def test_another_live_permission_is_pointed_out(client: Client) -> None:
    tree = yard_tree()
    town = make.owner("Halloway Trust", "institution")
    make.owns(tree, town)
    slip = make.permission(tree, owner=town)
    page = bring(client, make.lena(), tree, owner=town.pk, new_name="").content.decode()
    assert f"{slip.number} of Halloway Trust covers {tree.code} until" in page


def test_a_name_that_is_known_already_is_not_written_twice_unasked(client: Client) -> None:
    tree = yard_tree()
    known = Owner.objects.create(name="Ingrid Halloway", group=make.group())
    answer = bring(client, make.lena(), tree, new_name="ingrid halloway")
    assert answer.status_code == 422
    assert "is written down already" in answer.content.decode()
    assert bring(client, make.lena(), tree, new_name="ingrid halloway", instead=f"owner={known.pk}").status_code == 302
    assert Permission.objects.get().owner == known
    assert Owner.objects.count() == 1


def test_whose_land_is_set_together_with_the_slip(client: Client) -> None:
    make.season()
    tree = make.tree(land="unknown")
    answer = bring(client, make.lena(), tree, land="private")
    assert answer.status_code == 422
    assert "Say who told you whose land it is." in answer.content.decode()
    assert bring(client, make.lena(), tree, land="private", land_said_by="the town’s parcel map").status_code == 302
    tree.refresh_from_db()
    assert tree.land == "private"
    assert not [r for r in gate(tree, "assign") if r.code in {"permission", "owner", "land"}]
    event = AuditEvent.objects.get(act="set land")
    assert (event.reason, event.old, event.new) == ("the town’s parcel map", {"land": "unknown"}, {"land": "private"})


def test_any_member_brings_a_slip_and_the_lead_decides(client: Client) -> None:
    tree = yard_tree()
    answer = bring(client, make.bob(), tree, do="draft", new_phone="906 555 0188")
    slip = Permission.objects.get()
    assert (slip.state, slip.written_by) == ("draft", make.bob())
    assert answer["Location"] == reverse("permission", args=[slip.number])
    assert not TreeOwner.objects.exists()  # a lead stands behind that
    assert client.get(answer["Location"]).status_code == 200
    client.force_login(make.lena())
    client.post(reverse("permission-act", args=[slip.number]), {"state": "granted"})
    slip.refresh_from_db()
    assert slip.state == "granted"
    assert TreeOwner.objects.get().evidence == "the deed she showed"
    # From then on it is no longer the bringer's to see.
    client.force_login(make.bob())
    assert client.get(reverse("permission", args=[slip.number])).status_code == 404


@pytest.mark.parametrize("do", ["asked", "granted"])
def test_a_volunteer_cannot_ask_or_grant_by_a_posted_word(client: Client, do: str) -> None:
    tree = yard_tree()
    assert bring(client, make.bob(), tree, do=do).status_code == 403
    assert not Permission.objects.exists()


def test_a_volunteer_is_offered_no_owners_name(client: Client) -> None:
    tree = yard_tree()
    make.owns(tree, Owner.objects.create(name="Osric Pell", group=make.group()))
    client.force_login(make.bob())
    page = client.get(NEW, {"tree": tree.code}).content.decode()
    assert "Osric Pell" not in page
    answer = bring(client, make.bob(), tree, do="draft", new_name="osric pell")
    assert answer.status_code == 302  # not even by "there is one of that name"


def test_a_slip_sent_twice_is_kept_once(client: Client) -> None:
    tree = yard_tree()
    typed = slip_of(tree)
    client.force_login(make.lena())
    first, second = client.post(NEW, typed), client.post(NEW, {**typed})
    assert (first.status_code, second.status_code) == (302, 302)
    assert first["Location"] == second["Location"]
    assert Permission.objects.count() == Owner.objects.count() == Treatment.objects.count() == 1


def test_trees_out_of_reach_are_listed_as_not_taken_and_not_touched(client: Client) -> None:
    near, far = yard_tree(), yard_tree(group=make.group("Mill Race"))
    answer = bring(client, make.lena(), near, far)
    assert answer.status_code == 302
    page = client.get(answer["Location"]).content.decode()
    assert f"Not taken: {far.code}." in page
    assert far.address not in page
    assert set(Permission.objects.get().lines.values_list("tree", flat=True)) == {near.pk}
    assert not Treatment.objects.filter(tree=far).exists()


def test_another_groups_tag_and_one_never_given_out_are_answered_alike(client: Client) -> None:
    far = yard_tree(group=make.group("Mill Race"))
    client.force_login(make.lena())

    def words(code: str) -> str:
        page = client.get(NEW, {"tree": code}).content.decode().replace(code, "X")
        return re.sub(r'name="csrfmiddlewaretoken" value="\w+"', "", page)

    assert "No tree with this tag is in your reach." in words(far.code)
    assert words(far.code) == words("QH-999999")


@pytest.mark.heavy
def test_500_trees_are_taken_at_once_and_501_are_refused_with_a_sentence(client: Client) -> None:
    make.season()
    trees = [make.tree(land="private") for _n in range(500)]
    client.force_login(make.lena())
    codes = [tree.code for tree in trees]
    assert client.post(NEW, {"codes": codes}).status_code == 200
    answer = client.post(NEW, {"codes": [*codes, "QH-999999"]})
    assert answer.status_code == 422
    assert "One slip takes 500 trees at once; 501 were chosen." in answer.content.decode()
    assert bring(client, make.lena(), *trees).status_code == 302
    assert Permission.objects.get().lines.count() == 500
    assert Treatment.objects.count() == 500


def test_many_trees_cost_no_more_questions_to_the_database_than_few(
    client: Client, django_assert_max_num_queries: Any
) -> None:
    make.season()
    client.force_login(make.lena())
    codes = [make.tree(land="private").code for _n in range(120)]
    for few in (codes[:2], codes):
        with django_assert_max_num_queries(25):
            assert client.post(NEW, {"codes": few}).status_code == 200


def test_a_merged_tag_stands_for_the_tree_that_was_kept(client: Client) -> None:
    kept = yard_tree()
    gone = yard_tree(merged_into=kept)
    bring(client, make.lena(), gone, kept)
    assert list(Permission.objects.get().lines.values_list("tree", flat=True)) == [kept.pk]


@pytest.mark.parametrize(
    ("name", "typed", "words"),
    [
        ("date_to", "2001-01-01", "It would end before it starts."),
        ("date_from", "0026-03-01", "The year 26 can’t be right."),
        ("most_height_mm", "-5", "Less than nothing can’t be."),
        ("most_height_mm", "80 m", "too much"),
        ("most_taps", "3", "Select a valid choice"),
        ("new_email", "not an address", "valid email"),
        ("new_name", "", "Say whose trees they are"),
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence(client: Client, name: str, typed: str, words: str) -> None:
    tree = yard_tree()
    answer = bring(client, make.lena(), tree, **{name: typed})
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not Permission.objects.exists()


def test_the_scan_is_not_asked_for_twice(client: Client) -> None:
    tree = yard_tree()
    scan = SimpleUploadedFile("../../slip.html", PDF, content_type="text/html")
    answer = bring(client, make.lena(), tree, signed_by="", scan=scan)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "The scan is here already." in page
    token = page.split('name="scan_kept" value="')[1].split('"')[0]
    assert bring(client, make.lena(), tree, scan_kept=token, evidence_note="").status_code == 302
    slip = Permission.objects.get()
    assert slip.evidence.read() == PDF
    assert slip.evidence.name.endswith(".pdf")
    assert "slip" not in slip.evidence.name.removeprefix("permissions/")


def test_a_refused_slip_leaves_no_scan_behind(client: Client) -> None:
    tree = yard_tree()
    storage = Permission._meta.get_field("evidence").storage

    def scans() -> set[str]:
        return set(storage.listdir("permissions")[1]) if storage.exists("permissions") else set()

    before = scans()
    assert bring(client, make.lena(), tree, treated="", scan=SimpleUploadedFile("slip.pdf", PDF)).status_code == 422
    assert not Permission.objects.exists()
    assert scans() == before
    assert bring(client, make.lena(), tree, scan=SimpleUploadedFile("slip.pdf", PDF)).status_code == 302
    assert len(scans() - before) == 1


def test_how_to_reach_a_new_owner_is_kept_apart(client: Client) -> None:
    tree = yard_tree()
    bring(client, make.lena(), tree, new_phone="906 555 0188", new_email="ingrid@example.org")
    contact = OwnerContact.objects.get()
    assert (contact.phone, contact.email, contact.owner.name) == (
        "906 555 0188",
        "ingrid@example.org",
        "Ingrid Halloway",
    )
    assert "555 0188" not in str(list(AuditEvent.objects.values()))
