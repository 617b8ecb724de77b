"""Every address of the app, knocked at by people who have no business there.

The list is made from the URLconf itself, so a new page is knocked at from the day it is added.
"""

from __future__ import annotations

import uuid

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver
from django.urls.converters import IntConverter, UUIDConverter
from django.utils import timezone

from sugarbush.owners.models import OwnerContact
from sugarbush.trees import shown
from tests import make

pytestmark = pytest.mark.django_db

# Pages anybody may open: who we are, what can hurt, whether the server is well, and the way in.
OPEN_DOORS = {
    "about",
    # What the programme chooses to show to anybody; 404 until it does. tests/desk/test_public_page.py looks inside.
    "public",
    "public-file",
    "privacy",
    "cautions",
    "handbook",
    "healthz",
    "readyz",
    "sign-in",
    "sign-in-link",
    "sign-in-demo",
    # Codes by mail and passkeys; tests/volunteers/test_codes.py and test_passkeys.py hold whom they let in.
    "sign-in-ask",
    "sign-in-code",
    "sign-in-passkey",
    "sign-in-passkey-begin",
    "access-table",
    # The way in by a printed card: whoever holds one types its code or scans it.
    "join",
    "join-card",
    "join-you",
    # "Close my page on this device": it takes away an owner's pass and says so. The owner's pages themselves stay shut.
    "my-tree-leave",
    # What a scanned tag says to strangers; tests/desk/test_scanned_tag.py holds what it must not say.
    "tag",
    # What the square on a slip says to strangers: the same for every number.
    "paper-slip",
    # "No more messages", from the foot of a mail; tests/notices holds that only a signed address changes anything.
    "no-messages",
    # What the phone keeps of every page of the round: the same for everybody, with nobody's data in it.
    "service-worker",
    "manifest",
    "round-look",
    "round-shell",
    "round-no-signal",
    # What programs read first: which addresses there are. Nothing of the programme; the rest asks for a token.
    "api",
    "api-conformance",
    "api-openapi",
}
# Any signed-in person: their own page, the first page, the way out.
OWN_DOORS = OPEN_DOORS | {"today", "me", "my-data", "my-calendar", "my-messages", "sign-out"}
OWN_DOORS |= {"passkey-begin", "passkey-add", "passkey-later", "devices-end-others"}


def all_patterns(resolver: URLResolver | None = None, before: str = "") -> list[tuple[str, URLPattern]]:
    found: list[tuple[str, URLPattern]] = []
    for one in (resolver or get_resolver()).url_patterns:
        if isinstance(one, URLResolver):
            found += all_patterns(one, before + str(one.pattern))
        else:
            found.append((before + str(one.pattern), one))
    return found


def address(route: str, pattern: URLPattern, tag: str) -> str:
    """The route with a likely value in each gap."""
    path = route
    for name, converter in pattern.pattern.converters.items():
        kind = type(converter).__name__
        value = tag
        if isinstance(converter, UUIDConverter):
            value = str(uuid.UUID(int=1))
        elif isinstance(converter, IntConverter):
            value = "1"
        elif "Tag" not in kind:
            value = "by-tree" if name in {"what", "kind"} else "P2026-001"
        label = next(part for part in path.split("<")[1:] if part.split(">")[0].endswith(name)).split(">")[0]
        path = path.replace(f"<{label}>", value, 1)
    return "/" + path


DOORS = [(route, pattern) for route, pattern in all_patterns() if pattern.name]
NAMES = sorted(str(pattern.name) for _route, pattern in DOORS)


def test_every_address_has_a_name_of_its_own():
    assert len(NAMES) == len(set(NAMES))
    assert all(pattern.name for _route, pattern in all_patterns())


@pytest.mark.parametrize("method", ["get", "post"])
def test_signed_out_people_find_only_the_open_doors(method):
    tree = make.tapped_tree()
    let_in = set()
    for route, pattern in DOORS:
        answer = getattr(Client(), method)(address(route, pattern, tree.code))
        asked = answer.status_code == 302 and answer["Location"].startswith("/sign-in/")
        if not asked and answer.status_code not in {401, 403, 404, 405}:
            let_in.add(pattern.name)
    assert let_in <= OPEN_DOORS


@pytest.mark.parametrize("method", ["get", "post"])
def test_a_stranger_without_a_role_sees_nothing_of_the_programme(method):
    tree = make.tapped_tree()
    stranger = Client()
    stranger.force_login(make.charlie())
    let_in = set()
    for route, pattern in DOORS:
        answer = getattr(stranger, method)(address(route, pattern, tree.code))
        if answer.status_code not in {401, 403, 404, 405}:
            let_in.add(pattern.name)
        if pattern.name == "sign-out":
            stranger.force_login(make.charlie())
    assert let_in <= OWN_DOORS


def test_another_groups_tree_is_behind_no_door():
    tree = make.tapped_tree()
    make.owns(tree, make.owner("Fern Abernathy-Sole", "person"))
    mira = Client()
    mira.force_login(make.mira())
    for route, pattern in DOORS:
        if "<tag:" not in route or pattern.name == "tag":
            continue
        answer = mira.get(address(route, pattern, tree.code))
        assert answer.status_code in {404, 405}, (route, answer.status_code)


def test_every_write_asks_for_the_forms_own_secret():
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(make.alice())
    tree = make.tapped_tree()
    for route, pattern in DOORS:
        answer = strict.post(address(route, pattern, tree.code))
        # Mail programs post there without any cookie: the signed address is the secret, and this one is not signed.
        wanted = {404} if pattern.name == "no-messages" else {403, 405}
        assert answer.status_code in wanted, route


def test_an_owners_name_and_number_reach_no_volunteer_on_any_page():
    tree = make.given_tree(land="private")
    tree.permission_lines.all().delete()
    fern = make.owner("Fern Abernathy-Sole", "person")
    OwnerContact.objects.create(owner=fern, phone="555-0142", email="fern@quillhaven.example")
    make.owns(tree, fern)
    make.permission(tree, owner=fern, capacity="owner", signed_by="Fern Abernathy-Sole")
    make.treatment(tree, said_by="Fern Abernathy-Sole", date=make.today())
    make.tap(tree)
    tree.permissions.update(state="revoked", end_reason="asked us to stop", ended_at=timezone.now())
    shown.refresh([tree.pk])
    bob = Client()
    bob.force_login(make.bob())
    opened = 0
    for route, pattern in DOORS:
        answer = bob.get(address(route, pattern, tree.code))
        if answer.status_code == 200:
            opened += 1
            page = b"".join(answer) if answer.streaming else answer.content
            for secret in ("Abernathy", "555-0142", "fern@"):
                assert secret not in page.decode(errors="replace"), (route, secret)
    assert opened > 20
