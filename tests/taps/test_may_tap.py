"""The command that asks the gate, and its way of ending."""

from __future__ import annotations

import io

import pytest
from django.core.management import CommandError, call_command

from tests import make

pytestmark = pytest.mark.django_db


def ask(*args, **options):
    out = io.StringIO()
    call_command("may_tap", *args, stdout=out, **options)
    return out.getvalue()


def test_yes_says_how_many_taps():
    assert "May be tapped today: 1 tap" in ask(make.given_tree().code.lower())


def test_no_says_every_reason_with_its_number_and_ends_with_one(capsys):
    make.season()
    tree = make.tree(life="resting", diameter_um=200_000)
    out = io.StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command("may_tap", tree.code, stdout=out)
    assert ended.value.code == 1
    assert out.getvalue().startswith(f"{tree.code} can’t be tapped yet: 6 things.")
    assert "1 This tree is resting." in out.getvalue()
    assert "\n6 It is not given to anybody this season." in out.getvalue()


@pytest.mark.parametrize("args", [("QH-99999",), ("QH-1", "--by=Nobody")])
def test_an_unknown_tag_or_person_ends_with_two(args):
    make.tree(code="QH-1")
    with pytest.raises(CommandError) as ended:
        ask(*args)
    assert ended.value.returncode == 2


def test_it_asks_for_giving_out_too():
    assert "May be given out" in ask(make.ready_tree().code, act="assign")


def test_it_names_what_the_person_lacks():
    tree = make.given_tree()
    make.person("Nell")
    out = io.StringIO()
    with pytest.raises(SystemExit):
        call_command("may_tap", tree.code, by="nell", stdout=out)
    assert "Nell may not place this tap." in out.getvalue()


def test_a_second_entry_answers_for_the_kept_tree():
    kept = make.given_tree()
    make.tree(code="QH-7777", merged_into=kept, life="felled")
    assert kept.code in ask("QH-7777")
