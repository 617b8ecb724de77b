"""Who may see and change owners and slips: the coordinator, two leads, a volunteer, a reviewer, a stranger."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from sugarbush.audit.models import AuditEvent
from sugarbush.owners.models import Owner, OwnerContact, Permission
from sugarbush.volunteers.models import Person, Role
from tests import make

pytestmark = pytest.mark.django_db
PHONE = "906 555 0142"
EMAIL = "osric@example.org"
PLACE = "4 Tern Lane"


def mo() -> Person:
    return make.person("Mo", Role.LEAD, "Mill Race")


CAST = {
    "coordinator": make.alice,
    "lead": make.lena,
    "other lead": mo,
    "volunteer": make.bob,
    "reviewer": make.rhea,
    "stranger": make.charlie,
}


@pytest.fixture
def slip() -> Permission:
    """A private owner's yes for one tree of North Bank, with how to reach him, and a scan."""
    make.season()
    tree = make.tree(land="private")
    make.treatment(tree)
    owner = Owner.objects.create(name="Osric Pell", group=make.group())
    OwnerContact.objects.create(owner=owner, phone=PHONE, email=EMAIL, address=PLACE, note="evenings only")
    make.owns(tree, owner)
    made = make.permission(tree, owner=owner, capacity="owner", signed_by="Osric Pell", group=make.group())
    made.evidence = "permissions/none.pdf"
    made.save()
    return made


def pages(slip: Permission) -> dict[str, str]:
    return {
        "owners": "/owners/",
        "owner-new": "/owners/new/",
        "owner": f"/owners/{slip.owner_id}/",
        "owner-edit": f"/owners/{slip.owner_id}/edit/",
        "reach": f"/owners/{slip.owner_id}/reach/",
        "permissions": "/permissions/",
        "csv": "/permissions/permissions.csv",
        "new": "/permissions/new/",
        "permission": f"/permissions/{slip.number}/",
        "act": f"/permissions/{slip.number}/act/",
        "change": f"/permissions/{slip.number}/change/",
        "trees": f"/permissions/{slip.number}/trees/",
        "scan": f"/permissions/{slip.number}/scan/",
    }


READ = {
    "owners": (200, 200, 200, 403, 200, 403),
    "owner-new": (200, 200, 200, 403, 403, 403),
    "owner": (200, 200, 404, 404, 200, 404),
    "owner-edit": (200, 200, 404, 404, 403, 404),
    "permissions": (200, 200, 200, 403, 200, 403),
    "csv": (200, 200, 200, 403, 200, 403),
    "new": (200, 200, 200, 200, 403, 403),
    "permission": (200, 200, 404, 404, 200, 404),
    "change": (200, 200, 404, 404, 403, 404),
    "scan": (404, 404, 404, 404, 403, 404),  # the file of this slip is not on the disk: whoever may, finds nothing
}
WRITE = {
    "reach": (200, 200, 404, 404, 403, 404),
    "act": (422, 422, 404, 404, 403, 404),
    "trees": (422, 422, 404, 404, 403, 404),
    "owner-edit": (422, 422, 404, 404, 403, 404),
    "change": (422, 422, 404, 404, 403, 404),
    "scan": (422, 422, 404, 404, 403, 404),
}


@pytest.mark.parametrize("who", list(CAST))
def test_each_page_is_open_to_those_it_is_for(client: Client, slip: Permission, who: str) -> None:
    client.force_login(CAST[who]())
    place = list(CAST).index(who)
    got = {name: client.get(pages(slip)[name]).status_code for name in READ}
    assert got == {name: codes[place] for name, codes in READ.items()}


@pytest.mark.parametrize("who", list(CAST))
def test_each_act_is_open_to_those_it_is_for(client: Client, slip: Permission, who: str) -> None:
    client.force_login(CAST[who]())
    place = list(CAST).index(who)
    got = {name: client.post(pages(slip)[name], {}).status_code for name in WRITE}
    assert got == {name: codes[place] for name, codes in WRITE.items()}
    slip.refresh_from_db()
    assert slip.state == "granted"


def test_whoever_is_signed_out_is_asked_to_sign_in(client: Client, slip: Permission) -> None:
    for name, url in pages(slip).items():
        answer = client.get(url) if name not in {"reach", "act", "trees"} else client.post(url)
        assert answer.status_code == 302, name
        assert answer["Location"].startswith("/sign-in/"), name


def test_a_lead_does_not_decide_a_slip_that_names_another_groups_trees(client: Client, slip: Permission) -> None:
    far = make.tree(land="private", group=make.group("Mill Race"))
    slip.lines.create(tree=far)
    for lead in (make.lena(), mo()):
        client.force_login(lead)
        page = client.get(f"/permissions/{slip.number}/")
        assert page.status_code == 200
        assert "This slip also names trees of other groups. Ask a coordinator." in page.content.decode()
        assert "1 more tree is in the care of other groups." in page.content.decode()
        answer = client.post(
            f"/permissions/{slip.number}/act/", {"state": "revoked", "revoked-reason": "Mine to say, I think."}
        )
        assert answer.status_code == 403
    client.force_login(make.alice())
    answer = client.post(f"/permissions/{slip.number}/act/", {"state": "revoked", "revoked-reason": "The owner asked."})
    assert answer.status_code == 302


def test_a_lead_sees_an_owner_of_another_group_who_owns_a_tree_in_theirs(client: Client, slip: Permission) -> None:
    client.force_login(mo())
    assert client.get(f"/owners/{slip.owner_id}/").status_code == 404
    make.owns(make.tree(land="private", group=make.group("Mill Race")), slip.owner)
    page = client.get(f"/owners/{slip.owner_id}/")
    assert page.status_code == 200
    tree = slip.trees.get()
    assert tree.code not in page.content.decode()
    assert "1 more tree is in the care of other groups." in page.content.decode()
    assert slip.number not in page.content.decode()


def test_each_look_at_how_to_reach_an_owner_is_written_down(client: Client, slip: Permission) -> None:
    client.force_login(make.lena())
    url = pages(slip)["reach"]
    assert client.get(url).status_code == 405
    assert not AuditEvent.objects.exists()
    coordinator = Client()
    coordinator.force_login(make.alice())
    assert "Nobody yet." in coordinator.get(f"/owners/{slip.owner_id}/").content.decode()
    for _opened_again in range(2):
        page = client.post(url, {"act": "see"})
        assert PHONE in page.content.decode()
        assert "no-store" in page["Cache-Control"]
        assert AuditEvent.objects.filter(act="see contact", by=make.lena()).count() == 1
    assert not any(text in str(list(AuditEvent.objects.values())) for text in (PHONE, EMAIL, PLACE))
    look = {"by": make.alice(), "act": "see contact", "subject_kind": "owners.owner", "subject_id": slip.owner_id}
    AuditEvent.objects.create(at=timezone.now() - dt.timedelta(days=1), **look)
    coordinator.post(url, {"act": "see"})
    assert AuditEvent.objects.filter(act="see contact", by=make.alice()).count() == 2
    seen = coordinator.get(f"/owners/{slip.owner_id}/").content.decode()
    assert seen.count("<li>Alice") == 2
    assert seen.count("<li>Lena") == 1
    assert "Who looked" not in client.get(f"/owners/{slip.owner_id}/").content.decode()


def test_a_changed_contact_keeps_its_values_out_of_the_history_of_acts(client: Client, slip: Permission) -> None:
    client.force_login(make.lena())
    form = client.post(pages(slip)["reach"], {"act": "see"}).context["form"]
    typed = {name: form[name].value() for name in form.fields} | {"act": "save", "phone": "906 555 0199"}
    assert client.post(pages(slip)["reach"], typed).status_code == 302
    assert OwnerContact.objects.get().phone == "906 555 0199"
    assert AuditEvent.objects.get(act="change contact").new == {"changed": ["phone"]}
    # The second person is told, and sees both.
    answer = client.post(pages(slip)["reach"], {**typed, "phone": "906 555 0100"})
    assert answer.status_code == 409
    assert "906 555 0199" in answer.content.decode()
    assert "906 555 0100" in answer.content.decode()
    assert "555 01" not in str(list(AuditEvent.objects.values()))


@pytest.mark.parametrize("who", ["coordinator", "lead", "reviewer"])
def test_how_to_reach_an_owner_leaks_nowhere_else(client: Client, slip: Permission, who: str) -> None:
    client.force_login(CAST[who]())
    urls = [pages(slip)[name] for name in ("owners", "owner", "permissions", "permission", "csv")]
    urls += [f"/owners/?q={term}" for term in (PHONE, EMAIL, "Tern", "Pell")]
    urls += [f"/permissions/?q={term}" for term in (PHONE, EMAIL, "Tern", "Pell")]
    if who != "reviewer":
        urls += [pages(slip)["change"], pages(slip)["owner-edit"], f"/permissions/new/?tree={slip.trees.get().code}"]
    for url in urls:
        answer = client.get(url)
        text = (answer.getvalue() if answer.streaming else answer.content).decode()
        shown = text.replace(f'value="{PHONE}"', "").replace(f'value="{EMAIL}"', "")  # the question itself, repeated
        assert not any(private in shown for private in (PHONE, EMAIL, PLACE, "evenings only")), url


def test_a_search_for_a_telephone_number_finds_nobody(client: Client, slip: Permission) -> None:
    client.force_login(make.alice())
    for term in (PHONE, EMAIL, PLACE, "evenings"):
        assert not client.get("/owners/", {"q": term}).context["page"].object_list
        assert not client.get("/permissions/", {"q": term}).context["page"].object_list
    assert client.get("/owners/", {"q": "pell"}).context["page"].object_list


@pytest.mark.parametrize("who", ["coordinator", "lead", "other lead"])
def test_a_lead_writes_owners_down_for_their_own_group_only(client: Client, who: str) -> None:
    group = make.group()
    person = CAST[who]()
    client.force_login(person)
    typed: dict[str, Any] = {"name": "Halloway Trust", "kind": "institution", "group": group.pk, "phone": PHONE}
    answer = client.post("/owners/new/", typed)
    assert answer.status_code == (422 if who == "other lead" else 302)
    assert Owner.objects.count() == (0 if who == "other lead" else 1)
    nobody = client.post("/owners/new/", {**typed, "name": "Somebody Else", "group": ""})
    assert nobody.status_code == (302 if who == "coordinator" else 422)


def test_two_people_change_one_owner_and_the_second_sees_both(client: Client, slip: Permission) -> None:
    url = pages(slip)["owner-edit"]
    client.force_login(make.lena())
    form = client.get(url).context["form"]
    typed = {name: form[name].value() for name in form.fields} | {"note": "Ring twice."}
    Owner.objects.filter(pk=slip.owner_id).update(note="Has a dog.")
    answer = client.post(url, typed)
    assert answer.status_code == 409
    assert "Has a dog." in answer.content.decode()
    assert "Ring twice." in answer.content.decode()
    again = {**typed, "edition": answer.context["form"]["edition"].value()}
    assert client.post(url, again).status_code == 302
    assert Owner.objects.get().note == "Ring twice."
