"""The return for a permit and the thanks to an owner: exceptions first, litres to the millilitre, contacts by right."""

from __future__ import annotations

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.utils import timezone

from sugarbush.audit.models import AuditEvent
from sugarbush.owners.models import OwnerContact, Permission
from tests import make
from tests.papers import reading

pytestmark = pytest.mark.django_db


def test_the_return_tells_what_was_not_kept_first_and_every_tree_after(printed, readers, tmp_path):
    good, high = make.tapped_tree(), make.tapped_tree()
    spare = make.tree()
    slip = make.permission(good, high, spare, most_height_mm=1_300, most_taps=1, public_number="QPS-7")
    high.taps.update(height_mm=1_500, out_at=timezone.now(), state="pulled")
    make.collection(good, litres="6.5")
    make.collection(high, litres="0.255", happened_at=timezone.now() - make.days(1))
    said = reading.words(printed("permit-return", numbers=[slip.number]), tmp_path)
    wrong, kept, trees = (said.index(words) for words in ("What was not kept", "What was kept", "Tree by tree"))
    assert wrong < said.index(f"{high.code}: 150.0 cm") < kept < said.index("At most 1 spout a tree.") < trees
    assert kept < said.index("Still to come") < said.index("Every spout out by") < trees
    assert f"{good.code}:" not in said
    assert "3 trees allowed, 2 tapped, 2 taps" in said
    assert "Sap taken 6.755 L" in said
    assert "not tapped" in said[said.index(spare.code) :]
    Permission.objects.filter(pk=slip.pk).update(date_to=make.today() - make.days(1))
    late = reading.words(printed("permit-return", numbers=[slip.number]), tmp_path)
    assert f"{good.code}: still in" in late[: late.index("Tree by tree")]


def test_a_return_needs_every_tree_of_the_permit(printed):
    slip = make.permission(make.tapped_tree(), make.tree(group=make.group("Mill Race")))
    with pytest.raises(PermissionDenied):
        printed("permit-return", numbers=[slip.number], person=make.lena())
    with pytest.raises(Http404):
        printed("permit-return", numbers=[slip.number], person=make.bob())


def test_thanks_name_what_the_trees_gave_and_an_address_on_paper_is_a_look(printed, readers, tmp_path):
    tree = make.tapped_tree()
    owner = make.owner("Fern Abernathy-Sole", "person")
    make.owns(tree, owner)
    make.permission(tree, owner=owner)
    OwnerContact.objects.create(owner=owner, address="9 Quill Lane, Quillhaven", phone="555-0199")
    make.collection(tree, litres="6.5")
    plain = reading.words(printed("thanks", owners=[str(owner.pk)]), tmp_path)
    assert "your tree gave 6.50 L" in plain
    assert "Quill Lane" not in plain
    assert not AuditEvent.objects.filter(act="see contact").exists()
    for _twice in range(2):
        sent = reading.words(printed("thanks", owners=[str(owner.pk)], address=True), tmp_path)
        assert "9 Quill Lane" in sent
        assert "555-0199" not in sent
    assert AuditEvent.objects.filter(act="see contact", by=make.alice()).count() == 1
    with pytest.raises(PermissionDenied):
        printed("thanks", owners=[str(owner.pk)], address=True, person=make.rhea())
    with pytest.raises(Http404):
        printed("thanks", owners=[str(owner.pk)], person=make.mira())
