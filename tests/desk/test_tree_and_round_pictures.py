"""The bars on a tree's page and the line on a round's: the rows beside them, nothing inline, no more queries."""

from __future__ import annotations

import itertools
import re

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from sugarbush.gathering.models_rounds import Round, RoundStop
from tests import make

pytestmark = pytest.mark.django_db


def picture(page: str, title: str) -> str:
    """The drawing whose title has this id."""
    found = [
        svg for svg in re.findall(r"<svg.*?</svg>\s*(?=</figure>|</div>)", page, flags=re.S) if f'id="{title}"' in svg
    ]
    assert len(found) == 1
    assert f'aria-labelledby="{title} {title}-more"' in found[0]
    assert "style=" not in found[0]
    return found[0].replace("\xa0", " ")


def test_a_tree_shows_each_season_also_one_without_a_hole():
    client = Client()
    client.force_login(make.lena())
    tree = make.tapped_tree()
    make.tap(tree, season=make.season(year=2001, state="closed"), state="pulled", out_at=timezone.now())
    before = client.get(reverse("tree", args=[tree.code])).content.decode()
    assert "season-bars" not in before
    make.collection(tree, litres="6.5")
    make.collection(tree, litres="1.5")
    drawn = picture(client.get(reverse("tree", args=[tree.code])).content.decode(), "season-bars")
    assert re.findall(r'<rect class="sap" x="0" y="\d+" width="([\d.]+)%"', drawn) == ["100.0", "0.0"]
    assert re.findall(r"halo[^>]*>([^<]+)<", drawn) == [str(make.season().year), "8.00 L", "2001", "none"]
    assert "8.00 L in all." in drawn


def test_a_round_is_drawn_in_the_order_of_its_list_and_for_its_own_group_only():
    trees = [make.tapped_tree(longitude=-85.6 + n / 1000, latitude=42.9) for n in range(4)]
    found = Round.objects.create(season=make.season(), group=make.group("North Bank"), name="River side")
    for n, tree in enumerate(trees[:2]):
        RoundStop.objects.create(round=found, season=found.season, tree=tree, position=n)
    client = Client()
    client.force_login(make.lena())
    address = reverse("round-plan", args=[found.pk])
    with CaptureQueriesContext(connection) as few:
        client.get(address)
    for n, tree in enumerate(trees[2:], start=2):
        RoundStop.objects.create(round=found, season=found.season, tree=tree, position=n)
    with CaptureQueriesContext(connection) as more:
        page = client.get(address).content.decode()
    assert len(more) == len(few)
    for form in ("way-wide", "way-narrow"):
        drawn = picture(page, form)
        numbers = re.findall(r'class="way-number"[^>]*>(\d+)<', drawn)
        across = [float(x) for x in re.findall(r'class="way-number" x="([\d.]+)"', drawn)]
        assert numbers == ["1", "2", "3", "4"]
        assert across == sorted(across)
        # Three steps of a thousandth of a degree at 42.9 degrees north: 81.5 m each, all drawn equally long.
        steps = [later - earlier for earlier, later in itertools.pairwise(across)]
        assert max(steps) - min(steps) < 0.3
        assert "4 trees" in drawn
    client.force_login(make.mira())
    assert client.get(address).status_code == 404
